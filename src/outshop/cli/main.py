"""The command tree, and the one place that turns an error into a sentence."""

import os
import sys
from importlib import import_module

import typer

from outshop import __version__
from outshop.errors import OutshopError

# command path -> module; each module holds one function named ``command``.
COMMANDS: dict[tuple[str, ...], str] = {
    ("haul",): "outshop.cli.haul",
    ("formation",): "outshop.cli.formation",
    ("diagnose",): "outshop.cli.diagnose",
    ("open",): "outshop.cli.open",
    ("worker",): "outshop.cli.worker",
    ("check",): "outshop.cli.check",
    ("backup",): "outshop.cli.backup",
    ("restore",): "outshop.cli.restore",
    ("export",): "outshop.cli.export",
    ("import",): "outshop.cli.import_",
    ("bench", "sound"): "outshop.cli.bench_sound",
    ("bench", "compare"): "outshop.cli.bench_compare",
    ("bench", "motion"): "outshop.cli.bench_motion",
    ("bench", "clock"): "outshop.cli.bench_clock",
    ("bench", "speeds"): "outshop.cli.bench_speeds",
    ("bench", "slip"): "outshop.cli.bench_slip",
    ("bench", "current"): "outshop.cli.bench_current",
    ("bench", "winding"): "outshop.cli.bench_winding",
    ("bench", "motor"): "outshop.cli.bench_motor",
    ("bench", "wheels"): "outshop.cli.bench_wheels",
    ("bench", "reverser"): "outshop.cli.bench_reverser",
    ("bench", "rolling"): "outshop.cli.bench_rolling",
    ("bench", "pull"): "outshop.cli.bench_pull",
    ("bench", "size"): "outshop.cli.bench_size",
    ("ruler",): "outshop.cli.ruler",
    ("date",): "outshop.cli.date",
    ("demo",): "outshop.cli.demo",
}

GROUPS = {"bench": "Turn a recording, a clip or meter readings into numbers with intervals."}


def build_app() -> typer.Typer:
    """Build the typer application from the command table."""
    app = typer.Typer(no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False)
    groups: dict[str, typer.Typer] = {}

    @app.callback()
    def root(
        version: bool = typer.Option(False, "--version", help="Print the version and stop."),
    ) -> None:
        """Outshop: measure, mend and prove model locomotives."""
        if version:
            typer.echo(__version__)
            raise typer.Exit

    for path, module in COMMANDS.items():
        parent = app
        for name in path[:-1]:
            if name not in groups:
                groups[name] = typer.Typer(no_args_is_help=True, help=GROUPS[name])
                parent.add_typer(groups[name], name=name)
            parent = groups[name]
        loaded = import_module(module)
        context = getattr(loaded, "CONTEXT", None)  # few commands take values such as -3
        parent.command(path[-1], context_settings=context)(loaded.command)
    return app


def main() -> None:
    """Run the command line; any error becomes one sentence and exit code 1.

    ``OUTSHOP_TRACEBACK=1`` shows where an error of our own making arose.
    """
    try:
        build_app()()
    except OutshopError as problem:
        print(f"outshop: {problem}", file=sys.stderr)
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(1)
    except Exception as problem:
        if os.environ.get("OUTSHOP_TRACEBACK"):
            raise
        kind = type(problem).__name__
        print(
            f"outshop: this should not have happened ({kind}: {problem}); "
            "run it again with OUTSHOP_TRACEBACK=1 and report what it prints",
            file=sys.stderr,
        )
        sys.exit(1)
