"""``outshop bench motion``: a clip becomes speed, start, ripple and coasting."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import existing_file, print_json, print_rows, say, warn
from outshop.errors import InputError


def command(
    clip: Annotated[Path, typer.Argument(help="Side view, camera still; any phone's format.")],
    length_mm: Annotated[
        float | None, typer.Option(help="The model's length over buffers, used as the ruler.")
    ] = None,
    marks: Annotated[
        str | None,
        typer.Option(help="Two points of known distance: x1,y1,x2,y2,MM in pixels of the clip."),
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
    power_off_s: Annotated[
        float | None, typer.Option(help="When the power was cut, in seconds of the clip.")
    ] = None,
    pick: Annotated[
        str | None, typer.Option(help="x,y on the right object when more than one moves.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Measure speed, start, swing and coasting of a filmed model."""
    from outshop.bench.motion.measure import Setup, measure_clip
    from outshop.bench.motion.ruler import Marks
    from outshop.railway.scales import scale as scale_of

    if (length_mm is None) == (marks is None):
        raise typer.BadParameter("give either --length-mm or --marks", param_hint="ruler")
    setup = Setup(
        length_mm=length_mm,
        marks=Marks(*_numbers(marks, 5, "--marks", "x1,y1,x2,y2,MM")) if marks else None,
        scale=scale_of(scale).ratio if scale else None,
        wheel_mm=wheel_mm,
        moment_s=moment_s,
        power_off_s=power_off_s,
        pick=_pair(pick),
    )
    result = measure_clip(existing_file(clip), setup)
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
            ("slowest steady speed", say(result.slowest_steady_speed)),
        ]
    )


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
