"""The life of a full-size engine as dated events, and the years in which two could have met."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from outshop.dating.posterior import Weights
from outshop.railway.edtf_years import YearSet

Span = tuple[int | None, int | None]
BEGINS = frozenset({"built", "delivered", "rebuilt as"})
ENDS = frozenset({"withdrawn", "scrapped", "destroyed"})


@dataclass(frozen=True, slots=True)
class LifeEvent:
    """Something that happened to the prototype.

    Parameters
    ----------
    kind : str
        ``built``, ``delivered``, ``withdrawn``, ``scrapped``, or a property that holds from then
        on: ``owner``, ``number``, ``livery``, ``lamps`` ...
    years : YearSet
        When.
    value : str
        The new value of a property.
    source : str
    """

    kind: str
    years: YearSet
    value: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class InService:
    """Years in traffic; a doubtful begin or end makes the possible span wider than the certain one.

    Each is ``(first, last)`` with None for an open end; ``certain`` is None when no year is
    certain.
    """

    possible: tuple[int | None, int | None]
    certain: tuple[int | None, int | None] | None


def in_service(events: Sequence[LifeEvent]) -> InService:
    """Find the years in traffic from building to withdrawal."""
    begins = [e.years for e in events if e.kind in BEGINS]
    ends = [e.years for e in events if e.kind in ENDS]
    first = _least(b.first for b in begins) if begins else None
    surely = _least(b.last for b in begins) if begins else None
    last = _least(e.last for e in ends) if ends else None
    surely_until = _least(e.first for e in ends) if ends else None
    span = (surely, surely_until)
    open_doubt = (begins and surely is None) or (ends and surely_until is None)
    certain = None if open_doubt or not _runs_forward(span) else span
    return InService((first, last), certain)


def could_have_met(one: InService, other: InService) -> InService:
    """Give the years in which both were in traffic, possibly and certainly.

    Returns
    -------
    InService
        ``possible`` runs backwards (first after last) when they never can have met.
    """
    certain = None
    if one.certain is not None and other.certain is not None:
        common = _overlap(one.certain, other.certain)
        certain = common if _runs_forward(common) else None
    return InService(_overlap(one.possible, other.possible), certain)


def never(meeting: InService) -> bool:
    """Tell whether a meeting was impossible."""
    return not _runs_forward(meeting.possible)


def value_in(events: Sequence[LifeEvent], kind: str, year: int) -> tuple[str, ...]:
    """Give the values that a property may have had in a year; several when the date is doubtful."""
    changes = sorted(
        (e for e in events if e.kind == kind),
        key=lambda e: (e.years.first or -(10**9), e.years.last or 10**9),
    )
    values: list[str] = []
    for event in changes:
        first, last = event.years.first, event.years.last
        if first is not None and first > year:
            break
        if last is not None and last < year:
            values = [event.value]  # surely changed before: earlier values are gone
        else:
            values.append(event.value)
    return tuple(dict.fromkeys(values))


def spans_of(events: Sequence[LifeEvent], kind: str, value: str) -> list[Span]:
    """Give the years in which a property may have had a value, from its change to the next.

    The widest reading of doubtful dates: from the earliest year of this change to the latest of
    the next; the last value lasts until the latest withdrawal.
    """
    changes = sorted((e for e in events if e.kind == kind), key=lambda e: e.years.first or -(10**9))
    end = in_service(events).possible[1]
    spans: list[Span] = []
    for event, following in zip(changes, [*changes[1:], None], strict=True):
        last = end if following is None else following.years.last
        span = (event.years.first, last)
        if event.value == value and _runs_forward(span):
            spans.append(span)
    return spans


@dataclass(frozen=True, slots=True)
class DetailCheck:
    """A feature of the model beside what the prototype showed in the dated years."""

    feature: str
    shown: str
    chance: float
    expected: tuple[tuple[str, float], ...]

    @property
    def percent(self) -> int:
        """``chance`` in whole percent."""
        return round(100 * self.chance)


def check_details(
    events: Sequence[LifeEvent], shown: dict[str, str], probability: Weights, years: range
) -> list[DetailCheck]:
    """Compare what the model shows with what the prototype had, year by year.

    Returns
    -------
    list of DetailCheck
        ``chance`` is the probability that the prototype looked as the model does; ``expected``
        lists all values with theirs. Doubtful years share their weight equally.
    """
    checks = []
    for feature, value in shown.items():
        weight: dict[str, float] = {}
        for year, p in zip(years, probability, strict=True):
            values = value_in(events, feature, year)
            for v in values:
                weight[v] = weight.get(v, 0.0) + float(p) / len(values)
        expected = tuple(sorted(weight.items(), key=lambda pair: -pair[1]))
        checks.append(DetailCheck(feature, value, weight.get(value, 0.0), expected))
    return sorted(checks, key=lambda c: c.chance)


def _least(years: Iterable[int | None]) -> int | None:
    known = [y for y in years if y is not None]
    return min(known) if known else None


def _overlap(
    one: tuple[int | None, int | None], other: tuple[int | None, int | None]
) -> tuple[int | None, int | None]:
    starts = [y for y in (one[0], other[0]) if y is not None]
    ends = [y for y in (one[1], other[1]) if y is not None]
    return max(starts, default=None), min(ends, default=None)


def _runs_forward(span: tuple[int | None, int | None]) -> bool:
    return span[0] is None or span[1] is None or span[0] <= span[1]
