"""What a wagon should weigh: NEM 302 (least mass) and NMRA RP-20.1 (aim)."""

from dataclasses import dataclass

from outshop.errors import InputError
from outshop.railway.tables import rows


@dataclass(frozen=True, slots=True)
class MassRule:
    """One rule applied to one length.

    Parameters
    ----------
    rule, scale : str
        ``NEM302`` or ``RP-20.1``, and the row used.
    mass_g : float
        Least mass (NEM 302) or recommended mass (RP-20.1), g.
    source : str
        Sheet and edition.
    """

    rule: str
    scale: str
    mass_g: float
    source: str


def wagon_masses(scale_name: str, length_mm: float) -> list[MassRule]:
    """Apply each rule that knows the scale; the two differ by nearly two to one.

    Parameters
    ----------
    scale_name : str
        ``H0``, ``HO``, ``N``, ``0`` ...; H0 and HO, 0 and O serve both rules.
    length_mm : float
        Length over buffers (NEM 302) or of the body (RP-20.1), mm.

    Raises
    ------
    InputError
        The length is not positive.
    """
    if not length_mm > 0:
        message = f"a length must be above 0 mm; got {length_mm:g}"
        raise InputError(message)
    wanted = scale_name.upper().replace("O", "0")
    return [
        MassRule(
            row["rule"],
            row["scale"],
            float(row["initial_g"]) + float(row["g_per_mm"]) * length_mm,
            " ".join(filter(None, (row["source"], row["edition"]))),
        )
        for row in rows("masses")
        if row["scale"].upper().replace("O", "0") == wanted
    ]
