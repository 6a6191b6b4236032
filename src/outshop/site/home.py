"""The folder that holds the collection: where it is, and its secret key."""

import os
import secrets
from pathlib import Path

from platformdirs import user_data_path

from outshop.errors import StoreError

KEY_FILE = "secret-key"
DATABASE_FILE = "outshop.sqlite3"


def home_folder() -> Path:
    """Give the folder named by ``OUTSHOP_HOME``, else the system's place for a person's data."""
    chosen = os.environ.get("OUTSHOP_HOME")
    return Path(chosen).expanduser().absolute() if chosen else user_data_path("outshop")


def prepare(home: Path) -> None:
    """Make the folder and its secret key, readable by their owner only, if they are not there."""
    try:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        key = home / KEY_FILE
        if not key.exists():
            handle = os.open(key, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w", encoding="ascii") as file:
                file.write(secrets.token_urlsafe(64))
    except FileExistsError:
        if not home.is_dir():
            message = f"{home} is a file; name a folder in OUTSHOP_HOME"
            raise StoreError(message) from None
        # another process made the key a moment ago: use that one
    except OSError as problem:
        message = (
            f"the folder {home} cannot be used: {problem.strerror}; name another by OUTSHOP_HOME"
        )
        raise StoreError(message) from problem


def secret_key(home: Path) -> str:
    """Read the key; before :func:`prepare` has run, give a key for this process alone."""
    try:
        key = (home / KEY_FILE).read_text(encoding="ascii").strip()
    except OSError:
        key = ""
    return key or secrets.token_urlsafe(64)
