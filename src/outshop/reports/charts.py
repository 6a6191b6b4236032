"""Small charts as SVG text, the same for page and paper, the same bytes each time.

``PAGE`` draws with ``currentColor`` and the style sheet's tokens, so that one drawing
serves day and night; ``PRINT`` has fixed colours for paper.
"""

import html
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.reports.figures import UNIT_WORDS, written
from outshop.workshop.settling import Settling

WHEN = ["before", "after"]
MOST_POINTS = 500  # more cannot be told apart at the width of a page


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours and type of a drawing; ``stand_ins`` maps drawn colours to final ones."""

    ink: str
    faint: str
    rule: str
    accent: str
    stop: str
    font: str
    stand_ins: tuple[tuple[str, str], ...] = ()


PRINT = Palette("#17262b", "#5b6b6e", "#b9c4c2", "#0f6a5b", "#a52a1d", "Libertinus Serif")
# The drawing engine takes only plain colours: draw with rare ones, then put the tokens in.
PAGE = Palette(
    "#010203",
    "#010204",
    "#010205",
    "#010206",
    "#010207",
    "outshop-font",
    (
        ("#010203", "currentColor"),
        ("#010204", "var(--faint)"),
        ("#010205", "var(--rule)"),
        ("#010206", "var(--accent)"),
        ("#010207", "var(--stop)"),
        ("outshop-font", "inherit"),
    ),
)


def interval_strip(
    before: Reading, after: Reading, *, palette: Palette = PAGE, width: int = 120
) -> str:
    """Draw before (hollow, ink) above after (filled, accent) with their intervals.

    Parameters
    ----------
    before, after : Reading
        One quantity, same unit; one that is not measurable leaves its line empty.
    palette : Palette
        ``PAGE`` or ``PRINT``.
    width : int
        Drawing width in pixels.

    Returns
    -------
    str
        SVG text; empty when neither could be measured.
    """
    import altair as alt

    rows = [
        {"when": when, "value": r.value, "low": r.low, "high": r.high}
        for when, r in (("before", before), ("after", after))
        if isinstance(r, Estimate)
    ]
    if not rows:
        return ""
    y = alt.Y("when:N", axis=None, scale=alt.Scale(domain=WHEN))
    colour, shape = _told_apart(palette, legend=False)
    base = alt.Chart(alt.Data(values=rows))
    x = alt.X("low:Q", axis=None, scale=alt.Scale(zero=False, nice=False, padding=8))
    chart = alt.layer(
        base.mark_rule(strokeWidth=1.4).encode(x=x, x2="high:Q", y=y, color=colour),
        base.mark_point(size=34, filled=True, opacity=1).encode(
            x=alt.X("value:Q", axis=None), y=y, color=colour, shape=shape
        ),
    ).properties(width=width, height=20)
    said = "; ".join(
        f"{when} {written(r).line}" for when, r in (("before", before), ("after", after))
    )
    return _draw(chart, palette, said)


def spectrum_overlay(
    frequency_hz: npt.ArrayLike,
    before_db: npt.ArrayLike,
    after_db: npt.ArrayLike,
    *,
    marks: Sequence[tuple[str, float]] = (),
    palette: Palette = PAGE,
    width: int = 560,
    height: int = 170,
) -> str:
    """Draw two spectra over a logarithmic frequency axis.

    Parameters
    ----------
    frequency_hz : array [shape=(n,)]
        Frequencies in Hz, rising; those at or below 0 are left out.
    before_db, after_db : array [shape=(n,)]
        Levels in dB; values that are not finite are left out.
    marks : sequence of (name, frequency in Hz)
        Orders to point at.

    Raises
    ------
    InputError
        The three arrays differ in length, or nothing can be drawn.
    """
    import altair as alt

    frequency, before, after = (
        np.asarray(a, dtype=float) for a in (frequency_hz, before_db, after_db)
    )
    if not frequency.shape == before.shape == after.shape or frequency.ndim != 1:
        message = (
            "frequencies and levels must be of one length; "
            f"got {frequency.shape}, {before.shape}, {after.shape}"
        )
        raise InputError(message)
    values = [
        {"when": when, "f": float(f), "level": float(level)}
        for when, levels in (("before", before), ("after", after))
        for f, level in zip(*_thinned(frequency, levels), strict=True)
    ]
    if not values:
        message = "a spectrum needs at least one finite level above 0 Hz"
        raise InputError(message)
    ticks = [10**n * k for n in range(6) for k in (1, 2, 5)]
    axis = alt.Axis(grid=False, format="~s", values=ticks)
    x = alt.X("f:Q", title="Hz", scale=alt.Scale(type="log", nice=False), axis=axis)
    colour, _ = _told_apart(palette, legend=True)
    # Told apart by weight too, not by colour alone.
    weight = alt.StrokeWidth("when:N", title=None, scale=alt.Scale(domain=WHEN, range=[0.8, 1.5]))
    y = alt.Y("level:Q", title="dB", scale=alt.Scale(zero=False))
    line = alt.Chart(alt.Data(values=values)).mark_line()
    line = line.encode(x=x, y=y, color=colour, strokeWidth=weight)
    layers: list[Any] = [line]
    shown = [{"name": name, "f": float(f)} for name, f in marks if f > 0]
    if shown:
        pointed = alt.Chart(alt.Data(values=shown))
        layers.append(pointed.mark_rule(strokeDash=[3, 3], color=palette.faint).encode(x="f:Q"))
        layers.append(
            pointed.mark_text(align="left", dx=3, dy=5, color=palette.faint).encode(
                x="f:Q", y=alt.value(0), text="name:N"
            )
        )
    chart = alt.layer(*layers).properties(width=width, height=height)
    return _draw(chart, palette, "Spectrum before and after")


def settling_chart(
    runs: Sequence[tuple[str, Sequence[float], Sequence[float], Settling | NotMeasurable]],
    unit: str,
    *,
    palette: Palette = PAGE,
    width: int = 400,
    height: int = 150,
) -> str:
    """Draw the readings of a run-in by minute, with the fitted curve of each direction.

    Parameters
    ----------
    runs : sequence of (name, minutes, values, fit)
        One for each direction, at most two; the curve is left out where there is none.
    unit : str
        Of the values.

    Raises
    ------
    InputError
        There is nothing to draw, or more than two directions.
    """
    import altair as alt

    if not runs or len(runs) > 2:
        message = f"a run-in has one or two directions; got {len(runs)}"
        raise InputError(message)
    names = [name for name, *_ in runs]
    points = [
        {"way": name, "minute": float(t), "value": float(y)}
        for name, minutes, values, _ in runs
        for t, y in zip(minutes, values, strict=True)
    ]
    curves = [
        {"way": name, "minute": float(t), "value": float(y)}
        for name, minutes, _, fit in runs
        if isinstance(fit, Settling)
        for grid in [np.linspace(min(minutes), max(minutes), 60)]
        for t, y in zip(grid, fit.curve(grid), strict=True)
    ]
    shown = alt.Legend(orient="top")
    colours = alt.Scale(domain=names, range=[palette.ink, palette.accent][: len(names)])
    marks = alt.Scale(domain=names, range=["circle", "diamond"][: len(names)])
    x = alt.X("minute:Q", title="min")
    y = alt.Y("value:Q", title=UNIT_WORDS.get(unit, unit), scale=alt.Scale(zero=False))
    colour = alt.Color("way:N", title=None, legend=shown, scale=colours)
    shape = alt.Shape("way:N", title=None, legend=shown, scale=marks)
    layers: list[Any] = [
        alt.Chart(alt.Data(values=points))
        .mark_point(filled=True, size=45, opacity=1)
        .encode(x=x, y=y, color=colour, shape=shape)
    ]
    if curves:
        base = alt.Chart(alt.Data(values=curves)).mark_line(strokeWidth=1.4)
        layers.append(base.encode(x=x, y=y, color=colour))
    chart = alt.layer(*layers).properties(width=width, height=height)
    return _draw(chart, palette, f"Readings in {unit} by minute: {', '.join(names)}")


def _told_apart(palette: Palette, *, legend: bool) -> tuple[Any, Any]:
    """Give the colour and the mark of before and after: never by colour alone."""
    import altair as alt

    shown = alt.Legend(orient="top") if legend else None
    colours = alt.Scale(domain=WHEN, range=[palette.ink, palette.accent])
    marks = alt.Scale(domain=WHEN, range=["circle", "diamond"])
    return (
        alt.Color("when:N", title=None, legend=shown, scale=colours),
        alt.Shape("when:N", title=None, legend=shown, scale=marks),
    )


def _thinned(
    frequency: npt.NDArray[np.float64], level: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Keep the highest level of each of at most MOST_POINTS equal steps of log frequency."""
    keep = np.isfinite(level) & np.isfinite(frequency) & (frequency > 0)
    frequency, level = frequency[keep], level[keep]
    if frequency.size <= MOST_POINTS:
        return frequency, level
    place = np.log(frequency / frequency[0])
    step = np.floor(place / place[-1] * (MOST_POINTS - 1)).astype(int)
    order = np.lexsort((-level, step))
    _, first = np.unique(step[order], return_index=True)
    best = np.sort(order[first])
    return frequency[best], level[best]


def _draw(chart: Any, palette: Palette, said: str) -> str:
    """Set the house style, make the SVG and put the palette's final colours in."""
    import vl_convert

    axis = {
        "labelColor": palette.faint,
        "titleColor": palette.faint,
        "domainColor": palette.ink,
        "tickColor": palette.ink,
        "gridColor": palette.rule,
        "gridOpacity": 0.6,
        "titleFontWeight": "normal",
        "labelFontSize": 11,
        "titleFontSize": 11,
    }
    styled = (
        chart.configure(background="transparent", font=palette.font, padding=2)
        .configure_view(stroke=None)
        .configure_axis(**axis)
        .configure_legend(labelColor=palette.ink, labelFontSize=11, symbolStrokeWidth=2)
    )
    svg = str(vl_convert.vegalite_to_svg(styled.to_dict()))
    # One label for the whole drawing; a thousand labelled strokes help no listener.
    svg = re.sub(r' (?:aria-[a-z]+|role)="[^"]*"', "", svg)
    svg = re.sub(r' class="(?!marks")[^"]*"', "", svg)
    label = html.escape(said, quote=True)
    svg = svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)
    for drawn, final in palette.stand_ins:
        svg = svg.replace(drawn, final)
    return svg
