"""Permitted top speed of a model by NEM 661 (2011)."""

from dataclasses import dataclass

from outshop.railway.scales import Scale, all_scales, model_speed_m_s
from outshop.railway.tables import rows


@dataclass(frozen=True, slots=True)
class SpeedBand:
    """Where the top speed should lie.

    Parameters
    ----------
    low_km_h, high_km_h : float
        Scale speed, km/h.
    low_m_s, high_m_s : float
        The same at the model, m/s.
    source : str
        The norm.
    """

    low_km_h: float
    high_km_h: float
    low_m_s: float
    high_m_s: float
    source: str


def speed_band(top_speed_km_h: float, of: Scale) -> SpeedBand | None:
    """Give the band for an engine whose full-size top speed is known.

    It holds for the light engine, on the level and straight, run in, at nominal voltage or
    the top digital step.

    Parameters
    ----------
    top_speed_km_h : float
        Full-size top speed, km/h.
    of : Scale
        A ratio that the norm does not list takes the band of the nearest listed ratio
        within five in a hundred (1:87.1 as 1:87, 1:43.5 as 1:45).

    Returns
    -------
    SpeedBand or None
        None where no listed ratio is near enough.
    """
    percent = {row["scale"]: float(row["above_percent"]) for row in rows("speed_bands")}
    listed = [s for s in all_scales() if s.system == "NEM" and s.name in percent]
    nearest = min(listed, key=lambda s: abs(s.ratio - of.ratio))
    if abs(nearest.ratio / of.ratio - 1) > 0.05:  # our own limit for "the same scale"
        return None
    high = top_speed_km_h * (1 + percent[nearest.name] / 100)
    return SpeedBand(
        top_speed_km_h,
        high,
        model_speed_m_s(top_speed_km_h, of),
        model_speed_m_s(high, of),
        f"NEM 661 (2011), size {nearest.name}",
    )
