"""What other rooms show on the bench as due; a room adds one line when it has something."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from outshop.pages import care
from outshop.pages.market import lots


@dataclass(frozen=True, slots=True)
class Due:
    """A list on the bench: its template, and the function that fetches what it shows."""

    template: str
    fetch: Callable[[], Any]


DUES: tuple[Due, ...] = (
    Due("care/_bench.html", care.due_on_bench),
    Due("market/_bench.html", lots.due_on_bench),
)


@dataclass(frozen=True, slots=True)
class FetchedDue:
    """A due list with what it shows at hand."""

    template: str
    data: Any


def dues() -> list[FetchedDue]:
    """Fetch every due list that has something to show."""
    fetched = (FetchedDue(due.template, due.fetch()) for due in DUES)
    return [due for due in fetched if due.data]
