"""The messages that pass from the decoding child to its parent.

One message: a type (one byte), the length of a JSON part and of a raw part (unsigned
32-bit, big endian), then both parts. The parent believes no length above its caps.
"""

import json
import struct
from typing import IO, Any

HEADER = struct.Struct("!cII")
MAX_JSON = 1 << 20
MAX_RAW = 1 << 29

HEAD, DATA, WARNING, END, REFUSED = b"H", b"D", b"W", b"E", b"R"


class Refused(Exception):  # noqa: N818 - an answer of the child, turned into MediaError
    """The child cannot use the file; ``kind`` is ``media`` or ``limit``."""

    def __init__(self, why: str, kind: str = "media") -> None:
        super().__init__(why)
        self.kind = kind


def send(pipe: IO[bytes], kind: bytes, facts: Any = None, raw: Any = b"") -> None:
    """Write one message; ``raw`` is anything with the buffer protocol."""
    text = b"" if facts is None else json.dumps(facts, allow_nan=False).encode()
    view = memoryview(raw).cast("B") if len(raw) else memoryview(b"")
    pipe.write(HEADER.pack(kind, len(text), len(view)))
    pipe.write(text)
    pipe.write(view)
    pipe.flush()
