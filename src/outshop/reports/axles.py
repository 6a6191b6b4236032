"""The axle diagram: a wheel arrangement drawn as SVG, each axle with what was found on it.

One SVG a unit (engine, tender), all on the same scale, so that a page can set them side by
side and a phone can stack them. Shapes carry plain paper colours as attributes; a page's style
sheet overrides them by class. States differ by line and mark as well as by colour.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby, pairwise
from typing import Literal

from outshop.errors import InputError
from outshop.railway.arrangement import Arrangement, Axle

Severity = Literal["good", "watch", "fault", "stop", "absent"]

RAIL_Y = 158.0
FRAME_Y = 96.0
DRIVEN_RADIUS, CARRYING_RADIUS = 36.0, 21.0
BOTTOM = 194.0
MARGIN = 46.0
WORD_Y, LINE = 64.0, 19.0
INK, FAINT, FINE, WARN, STOP = "#17262b", "#566568", "#0f6a5b", "#835500", "#a52a1d"
COLOURS: Mapping[str, str] = {
    "good": INK,
    "watch": WARN,
    "fault": WARN,
    "stop": STOP,
    "absent": FAINT,
}


@dataclass(frozen=True, slots=True)
class AxleMark:
    """What to show at one axle: a short word above it and how grave it is."""

    label: str
    severity: Severity = "good"


@dataclass(frozen=True, slots=True)
class AxleSpot:
    """One axle to draw.

    Parameters
    ----------
    key : str
        The axle's name, written below it.
    driven : bool
        Drawn large if driven, small if carrying.
    group : int
        Axles with the same number stand together.
    coupled : bool
        Joined to the other coupled axles of its group by a rod.
    bogie : int or None
        Number of the pivoted frame that it sits in; None in the main frame.
    """

    key: str
    driven: bool
    group: int = 0
    coupled: bool = False
    bogie: int | None = None

    @property
    def radius(self) -> float:
        """Drawn wheel radius, in SVG units."""
        return DRIVEN_RADIUS if self.driven else CARRYING_RADIUS


def arrangement_diagrams(
    arrangement: Arrangement,
    marks: Mapping[str, AxleMark],
    *,
    titles: Mapping[str, str] | None = None,
    link: Callable[[str], str] | None = None,
    current: str | None = None,
    describe: Callable[[AxleSpot], str] = lambda spot: f"axle {spot.key}",
) -> list[str]:
    """Draw a wheel arrangement, one SVG a unit from front to rear.

    Parameters
    ----------
    arrangement : Arrangement
        As read by :func:`outshop.railway.arrangement.parse`.
    marks : mapping
        What was found, by axle label.
    titles : mapping, optional
        Spoken names of ``engine``, ``tender`` and ``trailer``.
    link, current, describe
        As in :func:`unit_diagram`.

    Returns
    -------
    list of str
        One ``<svg>`` for each unit, all on one scale.
    """
    by_unit = [list(axles) for _, axles in groupby(arrangement.axles, key=lambda axle: axle.unit)]
    units = [[_spot(axle) for axle in axles] for axles in by_unit]
    widths = [_width(spots) for spots in units]
    return [
        unit_diagram(
            spots,
            marks,
            title=(titles or {}).get(axles[0].kind, axles[0].kind),
            tender=axles[0].kind == "tender",
            link=link,
            current=current,
            describe=describe,
            share=max(3, round(10 * width / max(widths))),
        )
        for axles, spots, width in zip(by_unit, units, widths, strict=True)
    ]


def printed_diagram(arrangement: Arrangement, marks: Mapping[str, AxleMark]) -> str:
    """Draw all units side by side in one SVG, as a sheet of paper takes them."""
    units = arrangement_diagrams(arrangement, marks)
    sizes = [_size(svg) for svg in units]
    high = max(height for _, height in sizes)
    wide = sum(width for width, _ in sizes)
    parts, x = [], 0.0
    for svg, (width, height) in zip(units, sizes, strict=True):
        parts.append(svg.replace("<svg ", f'<svg x="{x:g}" y="{high - height:g}" ', 1))
        x += width
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" '
        f'width="{wide:g}" height="{high:g}">{"".join(parts)}</svg>'
    )


def _size(svg: str) -> tuple[float, float]:
    """Read width and height back from one of our own drawings."""
    found = re.search(r'width="([\d.]+)" height="([\d.]+)"', svg)
    if found is None:
        message = "this is no drawing of ours: it tells no size"
        raise InputError(message)
    return float(found[1]), float(found[2])


def _spot(axle: Axle) -> AxleSpot:
    return AxleSpot(
        axle.label, axle.driven, axle.group, axle.driven and not axle.own_motor, axle.bogie
    )


def _width(spots: Sequence[AxleSpot]) -> float:
    """Give the width of a unit's drawing, in SVG units."""
    return _places(spots)[-1] + spots[-1].radius + MARGIN if spots else 2 * MARGIN


def unit_diagram(
    spots: Sequence[AxleSpot],
    marks: Mapping[str, AxleMark],
    *,
    title: str,
    tender: bool = False,
    link: Callable[[str], str] | None = None,
    current: str | None = None,
    describe: Callable[[AxleSpot], str] = lambda spot: f"axle {spot.key}",
    share: int = 0,
) -> str:
    """Draw one unit.

    Parameters
    ----------
    spots : sequence of AxleSpot
        The axles from front to rear.
    marks : mapping
        What was found, by axle key; an axle without a mark has not been looked at.
    title : str
        Spoken name of the drawing.
    tender : bool
        Draw a tank above the frame.
    link : function, optional
        Address to open when an axle is chosen, by axle key; without it nothing can be chosen.
    current : str, optional
        Key of the axle that is chosen now.
    describe : function
        Spoken name of an axle, in the reader's language.
    share : int
        Width in tens of percent of the widest unit beside it, given as the class ``share-N``
        so that a narrow page can stack the units on one scale; 0 leaves it out.

    Returns
    -------
    str
        An ``<svg>`` element; width and height are given in CSS pixels at full size.
    """
    places = _places(spots)
    width = _width(spots)
    words = _Words.lay(spots, marks)
    top = words.top
    kind = "tender" if tender else "engine"
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 {top:g} {width:g} {BOTTOM - top:g}" '
        f'width="{width:g}" height="{BOTTOM - top:g}" role="{"group" if link else "img"}" '
        f'aria-label="{escape(_spoken(spots, marks, title, describe))}" '
        f'class="unit {kind}{f" share-{share}" if share else ""}">'
    )
    parts = [
        head,
        _line("ink thin rail", f"M4 {RAIL_Y:g}H{width - 4:g}"),
        *_frame(width, tender=tender),
        *_bogies(spots, places),
    ]
    for spot, x in zip(spots, places, strict=True):
        mark = marks.get(spot.key)
        drawn = _axle(spot, x, mark, words)
        if link:
            touch = _touch(spot, x, top)
            drawn = _linked(spot, mark, touch + drawn, link, describe, chosen=spot.key == current)
        parts.append(drawn)
    parts += [*_rods(spots, places), "</svg>"]
    return "".join(parts)


def _places(spots: Sequence[AxleSpot]) -> list[float]:
    """Put each axle's centre on a line, x in SVG units: close within a group, apart between."""
    places: list[float] = []
    x = MARGIN
    previous: AxleSpot | None = None
    for spot in spots:
        gap = 0.0 if previous is None else (12.0 if _close(previous, spot) else 26.0)
        x += gap + spot.radius + (previous.radius if previous else 0.0)
        places.append(x)
        previous = spot
    return places


def _close(left: AxleSpot, right: AxleSpot) -> bool:
    """Whether two neighbours stand in one group or one bogie."""
    one_bogie = left.bogie is not None and left.bogie == right.bogie
    return one_bogie or left.group == right.group


@dataclass(frozen=True, slots=True)
class _Words:
    """Where the words above the axles stand: two bands, so that neighbours stay apart."""

    lines: Mapping[str, tuple[str, ...]]
    raised: frozenset[str]

    @classmethod
    def lay(cls, spots: Sequence[AxleSpot], marks: Mapping[str, AxleMark]) -> "_Words":
        lines = {s.key: _wrapped(marks[s.key].label) for s in spots if s.key in marks}
        raised: set[str] = set()
        for left, right in pairwise(spots):
            if left.key in lines and right.key in lines and left.key not in raised:
                raised.add(right.key)
        return cls(lines, frozenset(raised))

    def _deepest(self, *, raised: bool) -> int:
        band = (len(x) for key, x in self.lines.items() if (key in self.raised) == raised)
        return max(band, default=0)

    def baseline(self, key: str) -> float:
        """Baseline of the last line above an axle, in SVG units."""
        lift = LINE * self._deepest(raised=False) + 4 if key in self.raised else 0.0
        return WORD_Y - lift

    @property
    def top(self) -> float:
        """Upper edge of the drawing, in SVG units."""
        deep = self._deepest(raised=True)
        both = LINE * self._deepest(raised=False) + (LINE * deep + 4 if deep else 0)
        return WORD_Y - both - 6


def _wrapped(words: str, width: int = 9) -> tuple[str, ...]:
    """Break a state's name into short lines, never inside a word."""
    lines: list[str] = []
    for word in words.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return tuple(lines)


def _frame(width: float, *, tender: bool) -> list[str]:
    left, right = MARGIN - 26, width - MARGIN + 26
    parts = [
        _line(
            "ink thin",
            f"M{left:g} {FRAME_Y:g}H{right:g}M{left:g} {FRAME_Y:g}v-16M{right:g} {FRAME_Y:g}v-16",
        )
    ]
    if tender:
        parts.append(
            _line("ink thin", f"M{left + 14:g} {FRAME_Y:g}v-22H{right - 14:g}v22", dash="2 4")
        )
    return parts


def _bogies(spots: Sequence[AxleSpot], places: Sequence[float]) -> list[str]:
    """Draw a bogie's own frame with its pivot, or the arm of a single pivoted axle."""
    parts = []
    centre = (places[0] + places[-1]) / 2 if places else 0.0
    for bogie, members in groupby(zip(spots, places, strict=True), key=lambda pair: pair[0].bogie):
        if bogie is None:
            continue
        pairs = list(members)
        y = RAIL_Y - pairs[0][0].radius
        first, last = pairs[0][1], pairs[-1][1]
        if first == last:
            reach = 24.0 if first < centre else -24.0
            parts.append(_line("ink thin", f"M{first:g} {y:g}L{first + reach:g} {FRAME_Y:g}"))
            continue
        middle = (first + last) / 2
        parts.append(_line("ink thin", f"M{first - 12:g} {y:g}H{last + 12:g}"))
        parts.append(_line("ink thin", f"M{middle:g} {y:g}V{FRAME_Y:g}", dash="3 3"))
    return parts


def _rods(spots: Sequence[AxleSpot], places: Sequence[float]) -> list[str]:
    """Draw the coupling rod of each group of coupled axles, with its crank pins."""
    parts = []
    drop = DRIVEN_RADIUS * 0.5
    for _, members in groupby(zip(spots, places, strict=True), key=lambda pair: pair[0].group):
        coupled = [x for spot, x in members if spot.coupled]
        if len(coupled) < 2:
            continue
        y = RAIL_Y - DRIVEN_RADIUS + drop
        parts.append(_line("ink thin", f"M{coupled[0]:g} {y - 3:g}H{coupled[-1]:g}"))
        parts.append(_line("ink thin", f"M{coupled[0]:g} {y + 3:g}H{coupled[-1]:g}"))
        parts += [_circle("ink thin", x, y, 5) for x in coupled]
    return parts


def _axle(spot: AxleSpot, x: float, mark: AxleMark | None, words: _Words) -> str:
    y = RAIL_Y - spot.radius
    gone = mark is not None and mark.severity == "absent"
    parts = [_circle("ink", x, y, spot.radius, dash="3 5" if gone else "")]
    parts.append(_circle("ink thin", x, y, 2))
    parts.append(_text("label lower", x, BOTTOM - 10, spot.key, FAINT))
    if mark:
        base = words.baseline(spot.key)
        parts += _ring(spot, x, y, mark.severity)
        parts.append(_line("ink thin", f"M{x:g} {base + 6:g}V{y - spot.radius - 9:g}"))
        lines = words.lines[spot.key]
        for number, line in enumerate(lines):
            y = base - LINE * (len(lines) - 1 - number)
            parts.append(_text(f"label {mark.severity}", x, y, line, COLOURS[mark.severity]))
    # the line breaks keep the words apart for who hears them
    return "\n".join(parts)


def _ring(spot: AxleSpot, x: float, y: float, severity: Severity) -> list[str]:
    """Thin ring: good. Broken: watch. Heavy: fault. Heavy with a cross in the wheel: stop."""
    colour = COLOURS[severity]
    if severity == "good":
        return [_circle("ring good", x, y, spot.radius + 4, FINE, 1.6)]
    if severity == "absent":
        return []
    radius = spot.radius + 6
    ring = _circle(
        f"ring {severity}", x, y, radius, colour, 4, dash="7 5" if severity == "watch" else ""
    )
    if severity != "stop":
        return [ring]
    arm = spot.radius * 0.5
    cross = (
        f"M{x - arm:g} {y - arm:g}l{2 * arm:g} {2 * arm:g}m0 {-2 * arm:g}l{-2 * arm:g} {2 * arm:g}"
    )
    return [
        ring,
        f'<path class="ring stop" d="{cross}" fill="none" stroke="{STOP}" stroke-width="4"/>',
    ]


def _touch(spot: AxleSpot, x: float, top: float) -> str:
    """Lay a clear plate over the whole column of an axle, so that a thumb finds it."""
    half = spot.radius + 6
    return (
        f'<rect class="touch" x="{x - half:g}" y="{top + 2:g}" width="{2 * half:g}" '
        f'height="{BOTTOM - top - 4:g}" fill="none"/>'
    )


def _linked(
    spot: AxleSpot,
    mark: AxleMark | None,
    drawn: str,
    link: Callable[[str], str],
    describe: Callable[[AxleSpot], str],
    *,
    chosen: bool,
) -> str:
    name = describe(spot) + (f": {mark.label}" if mark else "")
    here = ' aria-current="true"' if chosen else ""
    return f'<a href="{escape(link(spot.key))}" aria-label="{escape(name)}"{here}>{drawn}</a>'


def _spoken(
    spots: Sequence[AxleSpot],
    marks: Mapping[str, AxleMark],
    title: str,
    describe: Callable[[AxleSpot], str],
) -> str:
    found = [f"{describe(s)} {marks[s.key].label}" for s in spots if s.key in marks]
    return f"{title}: {', '.join(found)}" if found else title


def _circle(
    kind: str,
    x: float,
    y: float,
    radius: float,
    colour: str = INK,
    stroke: float | None = None,
    dash: str = "",
) -> str:
    width = stroke if stroke is not None else (1.1 if "thin" in kind else 2.2)
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<circle class="{kind}" cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="none" '
        f'stroke="{colour}" stroke-width="{width:g}"{broken}/>'
    )


def _line(kind: str, path: str, dash: str = "") -> str:
    width = 1.1 if "thin" in kind else 2.2
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path class="{kind}" d="{path}" fill="none" stroke="{INK}" '
        f'stroke-width="{width:g}"{broken}/>'
    )


def _text(kind: str, x: float, y: float, words: str, colour: str) -> str:
    return (
        f'<text class="{kind}" x="{x:g}" y="{y:g}" fill="{colour}" font-size="15" '
        f'text-anchor="middle">{escape(words)}</text>'
    )
