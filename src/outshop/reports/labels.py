"""Labels with QR codes for bags and boxes: 24 on a sheet of A4."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

import segno

from outshop.errors import InputError
from outshop.reports.printing import print_pdf

# Label sheets of A4 that stationers sell: columns, rows, width and height in mm.
FORMATS = {"24": (3, 8, 70.0, 37.0), "21": (3, 7, 70.0, 42.3), "65": (5, 13, 38.1, 21.2)}
PAPER_WIDTH, PAPER_HEIGHT = 210.0, 297.0  # A4, ISO 216
LONGEST_LINE = 90  # characters that a label holds in one place
MOST = 2400  # labels at once: a hundred sheets


@dataclass(frozen=True, slots=True)
class Label:
    """One label: a title, lines below it, and what its QR code says (empty for no code)."""

    title: str
    lines: tuple[str, ...] = ()
    code: str = ""


def label_sheet(
    labels: Sequence[Label], *, kind: str = "Labels", sheet: str = "24", skip: int = 0
) -> bytes:
    """Print labels.

    Parameters
    ----------
    labels : sequence of Label
    kind : str
        Title of the document.
    sheet : str
        Labels on a sheet, a key of ``FORMATS``.
    skip : int
        Labels of the first sheet that were used before.

    Raises
    ------
    InputError
        There are none, or more than a hundred sheets would hold.
    """
    if not labels:
        message = "there is nothing to put on labels yet"
        raise InputError(message)
    if len(labels) > MOST:
        message = f"{len(labels)} labels are more than a hundred sheets; choose fewer"
        raise InputError(message)
    if sheet not in FORMATS:
        message = f"no label sheet of {sheet}: choose one of {', '.join(FORMATS)}"
        raise InputError(message)
    columns, rows, width, height = FORMATS[sheet]
    pictures = {}
    blank: dict[str, object] = {"title": "", "lines": [], "code": None}
    shapes: list[dict[str, object]] = [blank] * max(0, min(skip, columns * rows - 1))
    for number, label in enumerate(labels):
        name = f"code{number}.svg" if label.code else None
        if name:
            # A quarter of the code may be soiled and it still reads (level Q, ISO/IEC 18004).
            code = segno.make(label.code, error="q", micro=False)
            drawn = io.BytesIO()
            code.save(drawn, kind="svg", border=0, omitsize=True, xmldecl=False)
            pictures[name] = drawn.getvalue()
        lines = [_short(line) for line in label.lines if line.strip()]
        shapes.append({"title": _short(label.title) or "–", "lines": lines, "code": name})
    data = {
        "labels": shapes,
        "kind": kind,
        "columns": columns,
        "width": width,
        "height": height,
        "side": (PAPER_WIDTH - columns * width) / 2,
        "top": (PAPER_HEIGHT - rows * height) / 2,
        "small": height < 30,
    }
    return print_pdf("labels", data, pictures)


def _short(text: str) -> str:
    plain = " ".join(text.split())
    return plain if len(plain) <= LONGEST_LINE else plain[: LONGEST_LINE - 1] + "…"
