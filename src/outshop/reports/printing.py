"""Set a Typst template with data: the data go in as JSON, never as text to be parsed."""

import json
import re
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import typst

from outshop.errors import InputError

LONGEST_TEXT = 2000  # characters of one field; more is a slip, and would fill the sheet
LONGEST_WORD = 24  # letters; longer words may break anywhere, so that they stay on the paper
PICTURES = {b"\xff\xd8\xff": "jpg", b"\x89PNG\r\n\x1a\n": "png"}


def print_pdf(
    template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes] | None = None
) -> bytes:
    """Set ``typst/<template>.typ`` and give the PDF.

    Parameters
    ----------
    template : str
        Name of a template of this room.
    data : mapping
        Strings, numbers, lists and mappings; strings may hold anything.
    pictures : mapping of str to bytes
        File names, as the data mention them, and their bytes (SVG, PNG or JPEG).

    Returns
    -------
    bytes
        The same bytes for the same data, pictures, fonts and library versions.

    Raises
    ------
    InputError
        The sheet cannot be set; the sentence says what the typesetter said.
    """
    sources = files("outshop.reports") / "typst"
    with TemporaryDirectory(prefix="outshop-print-") as name:
        folder = Path(name)
        for file in (f"{template}.typ", "look.typ"):
            (folder / file).write_bytes((sources / file).read_bytes())
        shape = json.dumps(_clean(data), allow_nan=False)
        (folder / "data.json").write_text(shape, encoding="utf-8")
        for file, picture in (pictures or {}).items():
            (folder / file).write_bytes(picture)
        return _compile(folder, template)


def _compile(folder: Path, template: str) -> bytes:
    try:
        return typst.compile(folder / f"{template}.typ", root=folder, format="pdf")
    except typst.TypstError as problem:
        message = f"the sheet {template} cannot be printed: {problem}"
        raise InputError(message) from problem


def picture_name(stem: str, picture: bytes) -> str | None:
    """Give a file name with the ending that the picture's first bytes ask for, or None."""
    for start, ending in PICTURES.items():
        if picture.startswith(start):
            return f"{stem}.{ending}"
    return None


def _clean(item: Any) -> Any:
    """Make every string of a nested shape printable."""
    if isinstance(item, str):
        return _printable(item)
    if isinstance(item, Mapping):
        return {str(key): _clean(value) for key, value in item.items()}
    if isinstance(item, list | tuple):
        return [_clean(value) for value in item]
    return item


def _printable(text: str) -> str:
    """Drop what no paper takes, shorten what fills it, and let endless words break."""
    whole = text.encode("utf-8", "replace").decode("utf-8")
    whole = re.sub(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", " ", whole)
    if len(whole) > LONGEST_TEXT:
        whole = whole[: LONGEST_TEXT - 1] + "…"
    long_word = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")
    return long_word.sub(lambda word: "\u200b".join(word.group()), whole)
