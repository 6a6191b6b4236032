"""The reviewed list of cautions: what can hurt a person or a model, and what to do.

None of this replaces local codes, a product's label or licensed practice; every
printed list ends with :func:`defer`.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from outshop.errors import MissingError
from outshop.workshop._load import table


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    Parameters
    ----------
    id, title, text : str
        Its name, the danger in a few words, and what to do.
    harms : str
        ``person``, ``model`` or ``person and model``.
    source : str
        Where the statement comes from.
    """

    id: str
    title: str
    text: str
    harms: str
    source: str

    @property
    def hurts_people(self) -> bool:
        """Whether a person can come to harm, not only the model."""
        return self.harms.startswith("person")


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Give the whole list, in the table's order."""
    return tuple(Caution(**row) for row in table("cautions")["caution"])


def caution(name: str) -> Caution:
    """Give one caution by its id.

    Raises
    ------
    MissingError
        There is none of that name.
    """
    for known in all_cautions():
        if known.id == name:
            return known
    names = ", ".join(known.id for known in all_cautions())
    message = f"no caution is called {name!r}; known are {names}"
    raise MissingError(message)


def cautions_for(names: Iterable[str]) -> tuple[Caution, ...]:
    """Give the named cautions, each once, those that hurt people first."""
    found = [caution(name) for name in dict.fromkeys(names)]
    return tuple(sorted(found, key=lambda c: not c.hurts_people))


def defer() -> str:
    """Give the sentence that sends the reader to local codes and licensed practice."""
    return str(table("cautions")["defer"])
