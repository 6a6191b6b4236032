"""Railway eras by country, after the NEM 800 series.

The limits are not sharp, and the sheets say so: neighbouring eras share their limit years,
and in one country they overlap by five years. A year may therefore match several.
"""

from dataclasses import dataclass
from functools import cache

from outshop.errors import NotationError
from outshop.railway.tables import rows

EVERYWHERE = ""  # the general sheet, for countries or years that no national sheet covers


@dataclass(frozen=True, slots=True)
class Era:
    """One era, or one lettered period of it.

    Parameters
    ----------
    country : str
        Vehicle-registration letters (``D``, ``CH``), empty for the general sheet.
    name, letter : str
        ``III`` and ``b``; the letter is empty for the era as a whole.
    first, last : int or None
        Years, both included; no last year where the era still runs.
    default : bool
        The sheet takes this period when no letter is given.
    norm, edition, source, note : str
        Where it is published, and what is doubtful about it.
    """

    country: str
    name: str
    letter: str
    first: int
    last: int | None
    default: bool
    norm: str
    edition: str
    source: str
    note: str

    @property
    def code(self) -> str:
        """Name and letter together: ``IIIb``."""
        return self.name + self.letter

    def holds(self, year: int) -> bool:
        """Whether the year lies inside, limits included."""
        return self.first <= year and (self.last is None or year <= self.last)


@cache
def all_eras() -> tuple[Era, ...]:
    """Give every row of the table."""
    return tuple(
        Era(
            row["country"],
            row["era"],
            row["letter"],
            int(row["year_from"]),
            int(row["year_to"]) if row["year_to"] else None,
            bool(row["default"]),
            row["norm"],
            row["edition"],
            row["source"],
            row["note"],
        )
        for row in rows("eras")
    )


def countries() -> tuple[str, ...]:
    """Give the countries that have rows of their own."""
    return tuple(sorted({e.country for e in all_eras()} - {EVERYWHERE}))


def era_of(country: str, year: int) -> list[Era]:
    """Give the eras and periods of a year, whole eras before their periods.

    Parameters
    ----------
    country : str
        ``D``, ``A``, ``CH``, ``F``, ``I``, ``NL``, ``E``, ``GB``, ``US``; empty for the general
        sheet, which also answers where a national sheet is silent.
    year : int
        Calendar year.

    Returns
    -------
    list of Era
        Several near a limit; empty before the first railways.
    """
    wanted = country.strip().upper()
    return _matches(wanted, year) or _matches(EVERYWHERE, year)


def years_of(country: str, code: str) -> Era:
    """Find an era by its code, such as ``IIIb``.

    Raises
    ------
    NotationError
        The country's sheet, and the general one, know no such era.
    """
    for place in (country.strip().upper(), EVERYWHERE):
        for era in all_eras():
            if era.country == place and era.code.casefold() == code.strip().casefold():
                return era
    message = f"{code!r} is no era of {country or 'the general sheet'}: write it like III or IIIb"
    raise NotationError(message)


def _matches(country: str, year: int) -> list[Era]:
    found = [e for e in all_eras() if e.country == country and e.holds(year)]
    return sorted(found, key=lambda e: bool(e.letter))
