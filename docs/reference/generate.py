"""Write ``commands.md`` from the command line's own help, so that the two cannot drift apart."""

from pathlib import Path

import click
import typer.main

from outshop.cli.main import build_app

TARGET = Path(__file__).with_name("commands.md")


def describe(command: click.Command, path: str) -> list[str]:
    """Give the lines for one command or group and all below it."""
    lines = [
        f"## {path}" if path != "outshop" else f"# {path}",
        "",
        (command.help or "").strip(),
        "",
    ]
    context = click.Context(command, info_name=path)
    if hasattr(command, "list_commands"):  # a group; typer has a class of its own for it
        for name in sorted(command.list_commands(context)):
            child = command.get_command(context, name)
            if child is not None:
                lines += describe(child, f"{path} {name}")
        return lines
    usage = " ".join(command.collect_usage_pieces(context))
    lines += ["```", f"{path} {usage}", "```", ""]
    for parameter in command.get_params(context):
        record = parameter.get_help_record(context)
        if record is not None and record[0] != "--help":
            name, text = record
            lines.append(f"- `{name}`: {' '.join(text.split())}")
    return [*lines, ""]


def render() -> str:
    """Give the whole page."""
    text = "\n".join(describe(typer.main.get_command(build_app()), "outshop"))
    while "\n\n\n" in text:
        text = text.replace("\n\n\n", "\n\n")
    return text.rstrip() + "\n"


if __name__ == "__main__":
    TARGET.write_text(render(), encoding="utf-8")
