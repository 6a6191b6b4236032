"""Settings of the web application; everything a person may change comes from the environment.

``OUTSHOP_HOME`` names the folder that holds the collection, ``OUTSHOP_DATABASE_URL`` a
PostgreSQL database to use in place of the SQLite file in it, and ``OUTSHOP_HOSTS`` further
names (comma between them) under which the pages may be asked for.
"""

import os

from outshop.site import database, home

OUTSHOP_HOME = home.home_folder()
OUTSHOP_PASSPHRASE = ""  # a hash, set by `outshop open --lan`; empty asks for none
OUTSHOP_LARGEST_UPLOAD = 2 * 1024**3  # bytes: an hour of sound or some minutes of clip

SECRET_KEY = home.secret_key(OUTSHOP_HOME)
DEBUG = False
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]"]
ALLOWED_HOSTS += [name for name in os.environ.get("OUTSHOP_HOSTS", "").split(",") if name]

INSTALLED_APPS = [
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django_htmx",
    "django_tasks",
    "django_tasks_db",
    "template_partials",
    "outshop.records",
    "outshop.pages",
]
MIDDLEWARE = [
    "outshop.site.headers.SecurityHeaders",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "outshop.site.hosts.HostCheck",
    "outshop.site.limits.UploadLimit",
    "outshop.site.passphrase.Passphrase",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "outshop.site.errors.Sentences",
]
ROOT_URLCONF = "outshop.site.urls"
WSGI_APPLICATION = "outshop.site.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]

DATABASES = {
    "default": database.settings_for(
        os.environ.get("OUTSHOP_DATABASE_URL"), OUTSHOP_HOME / home.DATABASE_FILE
    )
}
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

# Sessions and messages live in signed cookies: reading a page never writes to the store.
SESSION_ENGINE = "django.contrib.sessions.backends.signed_cookies"
SESSION_COOKIE_NAME = "outshop"
SESSION_COOKIE_SAMESITE = "Strict"
MESSAGE_STORAGE = "django.contrib.messages.storage.cookie.CookieStorage"
CSRF_COOKIE_NAME = "outshop-csrf"
CSRF_COOKIE_SAMESITE = "Strict"
CSRF_FAILURE_VIEW = "outshop.site.errors.csrf_failure"
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
APPEND_SLASH = True

DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024**2  # bytes of form text
DATA_UPLOAD_MAX_NUMBER_FILES = 50

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English")]
USE_I18N = True
USE_TZ = True
TIME_ZONE = os.environ.get("TZ") or "UTC"
STATIC_URL = "static/"
WHITENOISE_USE_FINDERS = True  # static files are served out of the installed package
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        "django.request": {"handlers": ["stderr"], "level": "ERROR", "propagate": False},
    },
}
