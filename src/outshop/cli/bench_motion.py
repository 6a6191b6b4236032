"""``outshop bench motion``: a clip becomes speed, start, ripple and coasting."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from outshop.cli.output import existing_file, print_json, print_rows, say, warn
from outshop.errors import InputError

if TYPE_CHECKING:
    from outshop.bench.motion.directions import ForwardReverse
    from outshop.bench.motion.lamp import Region


def command(
    clip: Annotated[Path, typer.Argument(help="Side view, camera still; any phone's format.")],
    length_mm: Annotated[
        float | None, typer.Option(help="The model's length over buffers, used as the ruler.")
    ] = None,
    marks: Annotated[
        str | None,
        typer.Option(help="Two points of known distance: x1,y1,x2,y2,MM in pixels of the clip."),
    ] = None,
    strip: Annotated[
        bool, typer.Option(help="The printed strip (outshop ruler) is the ruler.")
    ] = False,
    control_mm: Annotated[
        float | None, typer.Option(help="The strip's control line as measured; it should be 100.")
    ] = None,
    strip_behind_mm: Annotated[
        float | None,
        typer.Option(help="How far the strip stands behind the model's side; below 0: before it."),
    ] = None,
    camera_mm: Annotated[
        float | None, typer.Option(help="From the lens to the model's side, if measured.")
    ] = None,
    scale: Annotated[
        str | None, typer.Option(help="Scale, as ratio or name: 87, 1:87, H0.")
    ] = None,
    wheel_mm: Annotated[
        float | None, typer.Option(help="Driving wheel's diameter, for the swing per wheel turn.")
    ] = None,
    moment_s: Annotated[
        float | None, typer.Option(help="When it was told to start, in seconds of the clip.")
    ] = None,
    moment_error_s: Annotated[
        float, typer.Option(help="Standard error of that; about 0.1 for a key hit by hand.")
    ] = 0.0,
    lamp: Annotated[
        str | None,
        typer.Option(help="Where a lamp lights at the command: x,y,WIDTH,HEIGHT; or find."),
    ] = None,
    power_off_s: Annotated[
        float | None, typer.Option(help="When the power was cut, in seconds of the clip.")
    ] = None,
    pick: Annotated[
        str | None, typer.Option(help="x,y on the right object when more than one moves.")
    ] = None,
    front: Annotated[
        str | None, typer.Option(help="Where the model's front points in the picture: left, right.")
    ] = None,
    against: Annotated[
        Path | None, typer.Option(help="A second clip, to compare forward with reverse.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Measure speed, start, swing and coasting of a filmed model."""
    from outshop.bench.motion.measure import Setup, measure_clip
    from outshop.bench.motion.ruler import Marks
    from outshop.bench.motion.strip_ruler import Print
    from outshop.railway.scales import scale as scale_of

    told = (control_mm, strip_behind_mm, camera_mm)
    strip = strip or any(number is not None for number in told)
    if marks is not None and (strip or length_mm is not None):
        raise typer.BadParameter("give one of --length-mm, --marks and --strip", param_hint="ruler")
    for file in (clip, against):
        if file is not None:
            existing_file(file)
    if length_mm is None and marks is None and not strip:
        strip = _shows_strip(clip)
    setup = Setup(
        length_mm=length_mm,
        marks=Marks(*_numbers(marks, 5, "--marks", "x1,y1,x2,y2,MM")) if marks else None,
        strip=Print(control_mm=told[0], behind_mm=told[1], camera_mm=told[2]) if strip else None,
        scale=scale_of(scale).ratio if scale else None,
        wheel_mm=wheel_mm,
        moment_s=moment_s,
        power_off_s=power_off_s,
        pick=_pair(pick),
        moment_error_s=moment_error_s,
        lamp=_region(lamp),
        front=front,  # type: ignore[arg-type]  # checked by the bench
    )
    result = measure_clip(clip, setup)
    if against is not None:
        other = measure_clip(against, replace(setup, moment_s=None, lamp=None))
        result = replace(result, forward_reverse=result.against(other, front))
    if json:
        print_json(result.as_json())
        return
    for warning in result.warnings:
        warn(warning)
    print_rows(
        [
            ("speed", say(result.speed)),
            ("scale speed", say(result.scale_speed)),
            ("direction", result.direction.replace("_", " ")),
            ("starts", _moment(result.start_s)),
            ("stops", _moment(result.stop_s)),
            ("swing of the speed", say(result.speed_ripple)),
            ("coasting", say(result.coasting)),
            ("acceleration", say(result.acceleration)),
            ("start delay", say(result.start_delay)),
            *(
                (f"  {m.delay.method.removeprefix('first motion ')}", say(m.delay))
                for m in result.start_moments
            ),
            ("slowest steady speed", say(result.slowest_steady_speed)),
            *_both_ways(result.forward_reverse),
        ]
    )


def _both_ways(found: "ForwardReverse") -> list[tuple[str, str]]:
    if len(found.sides) < 2:
        return []
    names = [side.role or side.direction.replace("_", " ") for side in found.sides]
    rows = [(f"  {n}", say(s.speed)) for n, s in zip(names, found.sides, strict=True)]
    verdict = found.verdict.replace("_", " ")
    title = f"{names[0]} against {names[1]}"
    return [*rows, (title, f"{say(found.difference)}: {verdict}")]


def _region(text: str | None) -> "Region | Literal['find'] | None":
    from outshop.bench.motion.lamp import Region

    if text is None or text == "find":
        return "find" if text else None
    return Region(*_numbers(text, 4, "--lamp", "x,y,WIDTH,HEIGHT (or find)"))


def _shows_strip(clip: Path) -> bool:
    """Without a ruler, one must be seen in the clip; else the command was given wrongly."""
    from outshop.bench.motion.markers import find_strip

    if find_strip(clip) is None:
        raise typer.BadParameter(
            "give either --length-mm or --marks; no printed strip (outshop ruler) is seen in "
            f"{clip.name}",
            param_hint="ruler",
        )
    return True


def _moment(t_s: float | None) -> str:
    return "not seen" if t_s is None else f"at {t_s:.2f} s"


def _pair(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    x, y = _numbers(text, 2, "--pick", "x,y")
    return x, y


def _numbers(text: str, count: int, option: str, shape: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) != count:
        raise InputError(f"{option} needs {shape} as plain numbers; got {text!r}")
    return numbers
