"""The decoding child: limited first, then one job on one untrusted file.

Run as ``python -m outshop.media._child JOB ORDER``; ORDER is JSON. Only this process and
what it imports ever parse a file of unknown origin.
"""

import contextlib
import json
import os
import sys
from importlib import import_module
from typing import IO, Any

from outshop.media import _wire

_JOBS = {
    "sound": "outshop.media._child_sound",
    "video": "outshop.media._child_video",
    "picture": "outshop.media._child_picture",
}


def limit(cpu_s: int, memory_bytes: int) -> None:
    """Hold this process to processor time and memory, where the platform can."""
    try:
        import resource
    except ImportError:  # Windows: the parent's clock alone guards
        return
    wanted = {
        resource.RLIMIT_CPU: cpu_s,
        resource.RLIMIT_AS: memory_bytes,
        resource.RLIMIT_FSIZE: 0,
        resource.RLIMIT_CORE: 0,
    }
    for what, most in wanted.items():
        with contextlib.suppress(ValueError, OSError):  # macOS refuses some of them
            resource.setrlimit(what, (most, most))


def main() -> int:
    """Do the job; every end is a message."""
    job, order = sys.argv[1], json.loads(sys.argv[2])
    limit(order["limits"]["cpu_s"], order["limits"]["memory_bytes"])
    pipe = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    _widen(pipe)
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # a chatty library must not write there
    try:
        run: Any = import_module(_JOBS[job]).run
        run(order, pipe)
    except _wire.Refused as refusal:
        _refuse(pipe, str(refusal), refusal.kind)
    except (MemoryError, ImportError):  # a library that finds no room fails to load
        _refuse(pipe, "needs too much memory to open: save a smaller copy and try that", "limit")
    except BrokenPipeError:
        return 0
    else:
        _wire.send(pipe, _wire.END)
    return 0


def _widen(pipe: IO[bytes]) -> None:
    """Let the decoder run a frame or two ahead of its reader, where the platform can."""
    with contextlib.suppress(ImportError, AttributeError, OSError):
        import fcntl

        fcntl.fcntl(pipe.fileno(), fcntl.F_SETPIPE_SZ, 1 << 20)


def _refuse(pipe: IO[bytes], why: str, kind: str) -> None:
    with contextlib.suppress(BrokenPipeError):
        _wire.send(pipe, _wire.REFUSED, {"why": why, "kind": kind})


if __name__ == "__main__":
    sys.exit(main())
