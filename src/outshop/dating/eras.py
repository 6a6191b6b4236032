"""Eras of the dated years, by country. Limits are not sharp: a year may lie in two eras."""

from collections.abc import Sequence
from typing import Any

from outshop.dating.answer import Answer
from outshop.errors import TableError
from outshop.railway.eras import EVERYWHERE, all_eras, countries

LEAST_SHARE = 0.05  # eras that hold less of the probability are not worth a line
CAUTION = "the limits of eras are not sharp; neighbouring eras overlap"


def eras_of(found: Answer, wanted: Sequence[str] = ()) -> list[dict[str, Any]]:
    """List the eras that hold a fair share of the probability, likeliest first in each country.

    Parameters
    ----------
    found : Answer
        Dated years.
    wanted : sequence of str
        Country letters as in the table; none means the general sheet alone.

    Raises
    ------
    TableError
        A country has no sheet.
    """
    places = [place.strip().upper() for place in wanted] or [EVERYWHERE]
    for place in places:
        if place not in (EVERYWHERE, *countries()):
            message = f"no era table for country {place!r}; there are {', '.join(countries())}"
            raise TableError(message)
    rows = []
    for place in places:
        for era in all_eras():
            if era.country != place:
                continue
            share = found.chance(era.first, era.last or found.years.stop)
            if share >= LEAST_SHARE:
                rows.append((places.index(place), bool(era.letter), -share, era))
    return [
        {
            "country": era.country,
            "era": era.code,
            "from": era.first,
            "to": era.last,
            "share": -negative,
            "norm": era.norm,
            "edition": era.edition,
            "note": era.note or CAUTION,
        }
        for *_, negative, era in sorted(rows, key=lambda r: r[:3])
    ]
