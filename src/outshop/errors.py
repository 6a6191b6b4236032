"""Every error that Outshop raises on purpose.

OutshopError                  base; its text is a sentence for the person
├── InputError                what was given cannot be used as it is (CLI exit 1, HTTP 400)
│   ├── MediaError            a sound, clip or picture that cannot be used
│   │   └── MediaLimitError   too long, too large, too slow or too much memory to open
│   ├── TableError            a CSV or TOML file with a wrong entry
│   ├── NotationError         a wheel arrangement, date or unit that is none
│   ├── KnowledgeError        the shipped or added knowledge contradicts itself
│   └── ArchiveError          a backup or archive that is damaged or too new
├── ConflictError             somebody else changed the same thing first (HTTP 409)
├── MissingError              nothing there under that name or number (HTTP 404)
└── StoreError                disk full, database locked, file gone (HTTP 503)

A message says what is wrong, with which value, and what to do.
"""


class OutshopError(Exception):
    """Base of all deliberate errors; ``str(error)`` is fit to show to a person."""


class InputError(OutshopError):
    """What the person gave cannot be used as it is."""


class MediaError(InputError):
    """A recording, clip or picture cannot be used."""


class MediaLimitError(MediaError):
    """A file asks for more time, memory, length or size than is allowed."""


class TableError(InputError):
    """A table or settings file holds an entry that cannot be used."""


class NotationError(InputError):
    """A wheel arrangement, date, unit or other notation cannot be read."""


class KnowledgeError(InputError):
    """The fault, recipe or standard knowledge contradicts itself or lacks something."""


class ArchiveError(InputError):
    """A backup or an archive is damaged, incomplete or from a newer version."""


class ConflictError(OutshopError):
    """The record was changed by somebody else since it was opened.

    ``differences`` holds, for a page that shows both, ``(field, yours, theirs)`` in words.
    """

    def __init__(self, message: str, differences: tuple[tuple[str, str, str], ...] = ()) -> None:
        super().__init__(message)
        self.differences = differences


class MissingError(OutshopError):
    """There is nothing under the given name or number."""


class StoreError(OutshopError):
    """The store cannot be written or read: disk full, locked, or a file is gone."""
