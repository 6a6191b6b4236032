"""Train resistance, curves, adhesion and pull of full-size trains, by handbook.

Specific resistance in permille of the weight equals kg per metric ton, and
2 lb per short ton. Models do not obey these formulas: measure them instead.
"""

LB_PER_SHORT_TON_PER_PERMILLE = 2.0  # 2000 lb x 0.001
GRADE_LB_PER_TON_PER_PERCENT = 20.0  # US Army TR0603 par. 2.7
CURVE_LB_PER_TON_PER_DEGREE = 0.8  # AREA; US Army TR0603 par. 2.8
DEGREE_RADIUS_M = 1746.4  # radius of one degree on a 100 ft chord; Roell 1912, Lueger 1904
ROECKL_LIMIT_M = 300.0  # the formula changes form here (with a jump)
# k of curve resistance k / R in permille, R in m; encyclopaedia article on curve resistance
CURVE_CONSTANTS = {"USSR": 700, "Italy": 800, "England": 600, "China": 573, "USA": 446}


def davis_lb_per_ton(
    speed_mph: float,
    tons_per_axle: float,
    axles: int,
    area_sq_ft: float,
    *,
    flange: float = 0.045,
    air: float = 0.0005,
) -> float:
    """Davis 1926: R = 1.3 + 29/w + b V + C A V^2 / (w n), lb per short ton.

    Parameters
    ----------
    speed_mph, tons_per_axle, axles, area_sq_ft : float
        V (mph), w (short tons), n, A (square feet).
    flange, air : float
        b and C: 0.045 and 0.0005 for freight cars; from memory 0.03 and 0.0024 for
        locomotives, 0.03 and 0.00034 for passenger cars.
    """
    drag = air * area_sq_ft * speed_mph**2 / (tons_per_axle * axles)
    return 1.3 + 29 / tons_per_axle + flange * speed_mph + drag


def modified_davis_lb_per_ton(
    speed_mph: float, tons_per_axle: float, axles: int, *, air: float = 0.07
) -> float:
    """Give the modified Davis form (AREA committee 16): 0.6 + 20/w + 0.01 V + K V^2 / (w n).

    ``air`` is K: 0.07 conventional, from memory 0.0935 containers, 0.16 trailers on flat cars.
    """
    return (
        0.6 + 20 / tons_per_axle + 0.01 * speed_mph + air * speed_mph**2 / (tons_per_axle * axles)
    )


def harding_lb(speed_mph: float, long_tons: float, area_sq_ft: float) -> float:
    """Harding (1840s): R = T (6 + V/3) + 0.0025 V^2 A, lb; Molesworth's pocket-book p. 222."""
    return long_tons * (6 + 0.33 * speed_mph) + 0.0025 * speed_mph**2 * area_sq_ft


def launhardt_permille(speed_m_s: float) -> float:
    """Launhardt, whole train on the level: 2.73 + 0.0131 v^2 permille, v in m/s.

    Source: Die technische Trassierung II, p. 34.
    """
    return 2.73 + 0.0131 * speed_m_s**2


def strahl_wagons_permille(speed_km_h: float, divisor: float = 2000) -> float:
    """Strahl 1913 (from memory): 2.5 + V^2/k; k 4000 express, 3000 passenger, 2000 goods."""
    return 2.5 + speed_km_h**2 / divisor


def railcar_kg(speed_km_h: float, mass_t: float, area_m2: float, *, shape: float = 0.5) -> float:
    """Resistance of a streamlined railcar: W = 2 G + 0.5 shape (V/10)^2 F, kg.

    Source: Die technische Trassierung II, pp. 49-50; ``shape`` 0.5 is the streamlined form
    of the book's worked example (491 kg).
    """
    return 2 * mass_t + 0.5 * shape * (speed_km_h / 10) ** 2 * area_m2


def roeckl_permille(radius_m: float) -> float:
    """Roeckl 1880, standard gauge: 650/(R-55) above 300 m, 500/(R-30) up to it, permille.

    Raises
    ------
    ValueError
        The radius is below 100 m, where the tests behind the formula end.
    """
    if radius_m < 100:  # tests of 1880 went down to about this radius
        message = f"the curve formula holds from 100 m upwards; got {radius_m:g} m"
        raise ValueError(message)
    if radius_m > ROECKL_LIMIT_M:
        return 650 / (radius_m - 55)
    return 500 / (radius_m - 30)


def radius_of_degree_m(degree: float) -> float:
    """Turn degrees of curve on a 100 ft chord into radius (m)."""
    return DEGREE_RADIUS_M / degree


def adhesion_curtius_kniffler(speed_km_h: float) -> float:
    """Dry rail, 1943/44 (from memory): mu = 7.5/(V + 44) + 0.161."""
    return 7.5 / (speed_km_h + 44) + 0.161


def steam_effort(
    pressure: float, bore: float, stroke: float, wheel: float, factor: float = 0.85
) -> float:
    """Tractive effort of two cylinders: c p d^2 s / D, in the force unit of the pressure.

    Parameters
    ----------
    pressure : float
        Boiler pressure, force per square length (psi gives lbf, kgf/cm2 with cm gives kgf).
    bore, stroke, wheel : float
        Cylinder bore, stroke, driving-wheel diameter, all in that length.
    factor : float
        0.85 in British and American use, about 0.65 on the continent.
    """
    return factor * pressure * bore**2 * stroke / wheel


def trailing_short_tons(
    effort_lb: float, engine_tons: float, *, grade_percent: float, curve_degree: float = 0,
    rolling_lb_per_ton: float = 7, engine_lb_per_ton: float = 20, weather: float = 1,
) -> float:  # fmt: skip
    """Trailing load by the US Army's rule (TR0603 par. 2.11), short tons."""
    available = (effort_lb - engine_lb_per_ton * engine_tons) * weather
    grade = GRADE_LB_PER_TON_PER_PERCENT * grade_percent
    return available / (rolling_lb_per_ton + grade + CURVE_LB_PER_TON_PER_DEGREE * curve_degree)
