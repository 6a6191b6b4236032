"""How every command opens the collection."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import django
from django.apps import apps
from django.conf import settings

from outshop.errors import MissingError, OutshopError
from outshop.site import home as home_folder


def load() -> Path:
    """Prepare the home folder, load the settings, and give the folder."""
    if not apps.ready:
        home_folder.prepare(home_folder.home_folder())
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "outshop.site.settings")
        django.setup()
    home = Path(settings.OUTSHOP_HOME)
    home_folder.prepare(home)
    return home


@contextmanager
def collection(*, new: bool = True) -> Iterator[Path]:
    """Open the collection in this version's form; a store that fails speaks in a sentence.

    Parameters
    ----------
    new : bool
        Begin an empty collection when there is none; else that is an error.
    """
    home = load()
    # after load(): these need the settings
    from outshop.records import store, upgrade

    database = upgrade.database_file()
    if not new and database is not None and not database.exists():
        message = f"there is no collection in {home}: begin one with `outshop open`"
        raise MissingError(message)
    try:
        upgrade.bring_up_to_date()
        yield home
    except OutshopError:
        raise
    except Exception as problem:
        said = store.as_store_error(problem)
        if said is None:
            raise
        raise said from problem
