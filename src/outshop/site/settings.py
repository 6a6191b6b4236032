"""Settings of the web application; everything a person may change comes from the environment.

``OUTSHOP_HOME`` names the folder that holds the collection.
"""

import os
from pathlib import Path

from platformdirs import user_data_path

HOME = Path(os.environ.get("OUTSHOP_HOME") or user_data_path("outshop"))

SECRET_KEY = "replaced-by-the-records-room"  # noqa: S105 - replaced at start
INSTALLED_APPS = ["outshop.records", "outshop.pages"]
DATABASES = {
    "default": {"ENGINE": "django.db.backends.sqlite3", "NAME": str(HOME / "outshop.sqlite3")}
}
ROOT_URLCONF = "outshop.site.urls"
USE_TZ = True
