"""Labels with QR codes for bags and boxes: 24 on a sheet of A4."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

import segno

from outshop.errors import InputError
from outshop.reports.printing import print_pdf

LONGEST_LINE = 90  # characters that a label holds in one place
MOST = 2400  # labels at once: a hundred sheets


@dataclass(frozen=True, slots=True)
class Label:
    """One label: a title, lines below it, and what its QR code says (empty for no code)."""

    title: str
    lines: tuple[str, ...] = ()
    code: str = ""


def label_sheet(labels: Sequence[Label], *, kind: str = "Labels") -> bytes:
    """Print labels.

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
    pictures = {}
    shapes = []
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
    return print_pdf("labels", {"labels": shapes, "kind": kind}, pictures)


def _short(text: str) -> str:
    plain = " ".join(text.split())
    return plain if len(plain) <= LONGEST_LINE else plain[: LONGEST_LINE - 1] + "…"
