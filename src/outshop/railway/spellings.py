"""Typing variants of wheel arrangements, brought to one spelling."""

import re

from outshop.errors import NotationError

_PRIMES = str.maketrans(dict.fromkeys("’‘´`′ʹ＇", "'"))
_DASHES = str.maketrans(dict.fromkeys("‐‑‒–—−", "-"))


def tidy(text: str) -> str:
    """Bring primes, dashes, blanks, ``0`` for ``o`` and small letters to one spelling."""
    written = re.sub(r"\s+", "", text).translate(_PRIMES).translate(_DASHES)
    written = re.sub(r"(?<=[A-Ha-h])[0O](?![\d-])", "o", written)
    if not re.search(r"[A-Z]", written):
        written = re.sub(r"[a-g]", lambda m: m[0].upper(), written)
    return written.replace("''", "'").replace(")'", ")")


def hyphened_letters(body: str) -> str:
    """Turn bogies joined by hyphens, such as ``A1A-A1A`` or ``2-Co-2``, into UIC brackets.

    A part stands in its own bogie; the one driven part among carrying ones is the main
    frame. ``+`` between such parts joins two articulated sub-frames: ``2-C+C-2``.

    Raises
    ------
    NotationError
        There is nothing beside a hyphen.
    """
    frames = [_frame(part.split("-"), body) for part in body.split("+")]
    if len(frames) == 1:
        return frames[0]
    return "".join(f"({frame})" for frame in frames)


def _frame(parts: list[str], body: str) -> str:
    if not all(parts):
        message = f"{body!r}: there is nothing beside a hyphen"
        raise NotationError(message)
    driven = [p for p in parts if re.search(r"[A-Z]", p)]
    main = driven[0] if len(driven) == 1 else None
    return "".join(p if p == main else _in_bogie(p) for p in parts)


def _in_bogie(part: str) -> str:
    return f"{part}'" if re.fullmatch(r"\d|[A-Z]o?", part) else f"({part})"
