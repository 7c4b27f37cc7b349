"""Shedtide's settings: one file that runs with no environment at all.

Without an environment it is one machine: SQLite and a folder as the broker, both under SHEDTIDE_DATA,
reachable under this machine's own names over plain http. What the environment may say:

SHEDTIDE_DATA    folder for the database, the broker and the secret key; var/ beside this project
SHEDTIDE_DEBUG   1 shows tracebacks and reloads templates; 0 unless said
SHEDTIDE_TODAY   a day (YYYY-MM-DD) that is "today" in every yard: for demonstrations and tests
SHEDTIDE_HTTPS   0 serves ALLOWED_HOSTS over plain http, in a shed's own network; 1 unless said
ALLOWED_HOSTS    names the site answers to, by comma: saying them makes this an installation for others
SECRET_KEY       signs sessions; machines that share a database must share it too
DATABASE_URL     postgres://… where several machines serve one database
REDIS_URL        redis://… where workers run on other machines
"""

from __future__ import annotations

import datetime as dt
import os
import secrets
from pathlib import Path
from typing import Any

import environ
from csp.constants import NONE, SELF

env = environ.Env()
BASE_DIR = Path(__file__).resolve().parent.parent

SHEDTIDE_DATA = Path(env.str("SHEDTIDE_DATA", default=str(BASE_DIR / "var"))).resolve()
SHEDTIDE_DATA.mkdir(parents=True, exist_ok=True)

_today = env.str("SHEDTIDE_TODAY", default="")
SHEDTIDE_TODAY: dt.date | None = dt.date.fromisoformat(_today) if _today else None

_hosts: list[str] = env.list("ALLOWED_HOSTS", default=[])
PUBLIC = bool(_hosts)
HTTPS = env.bool("SHEDTIDE_HTTPS", default=PUBLIC)
DEBUG = env.bool("SHEDTIDE_DEBUG", default=False)
ALLOWED_HOSTS = [*_hosts, "localhost", "127.0.0.1", "[::1]"]


def kept_secret_key(path: Path) -> str:
    """Return the key in `path`, made on first need; only the owner of the file may read it.

    Web process and worker may both start on an empty folder: linking a finished file lets exactly one win.
    """
    if not path.exists():
        draft = path.with_name(f".{path.name}.{os.getpid()}")
        draft.touch(mode=0o600)
        draft.write_text(secrets.token_urlsafe(64))
        try:
            os.link(draft, path)
        except FileExistsError:
            pass
        finally:
            draft.unlink()
    return path.read_text().strip()


SECRET_KEY = env.str("SECRET_KEY", default="") or kept_secret_key(SHEDTIDE_DATA / "secret-key")

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "csp",
    "django_htmx",
    "yard",
    "scheduling",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]
ROOT_URLCONF = "yard.urls"
WSGI_APPLICATION = "yard.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]

# --- The database -------------------------------------------------------------------------------------------
DATABASES: dict[str, Any] = {
    "default": env.db("DATABASE_URL", default=f"sqlite:///{SHEDTIDE_DATA / 'shedtide.sqlite3'}")
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # IMMEDIATE: a transaction that reads and then writes fails at once under another writer unless it took
    # the write lock at its start, however long the timeout [s]. FULL: under WAL anything less may lose saved
    # work in a power cut. Foreign keys are switched on by Django itself.
    DATABASES["default"]["OPTIONS"] = {
        "timeout": 20,
        "transaction_mode": "IMMEDIATE",
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
    }
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True

# --- Who is let in ------------------------------------------------------------------------------------------
AUTH_USER_MODEL = "yard.User"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "login"
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"

# --- What a browser may do with our pages -------------------------------------------------------------------
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
if HTTPS:
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^healthz$"]
    SECURE_HSTS_SECONDS = 365 * 24 * 60 * 60
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    # The prefix makes browsers refuse the cookie from any other host or path.
    SESSION_COOKIE_NAME = "__Host-shedtide"
    CSRF_COOKIE_NAME = "__Host-csrf"
else:
    SESSION_COOKIE_NAME = "shedtide"

# --- Language, days, files ----------------------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
USE_TZ = True
TIME_ZONE = "UTC"  # instants only; the day in a yard is asked of the yard

STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = SHEDTIDE_DATA / "static"
_static = "CompressedManifestStaticFilesStorage" if PUBLIC else "CompressedStaticFilesStorage"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": f"whitenoise.storage.{_static}"},
}
# A forgotten `collectstatic` costs the cache its names, not the site its looks.
WHITENOISE_MANIFEST_STRICT = False
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = not PUBLIC
MEDIA_ROOT = SHEDTIDE_DATA / "files"

# --- The worker ---------------------------------------------------------------------------------------------
# The Pack row is the truth and a message only a wake-up, so no result is kept and a message may come twice.
REDIS_URL = env.str("REDIS_URL", default="")
BROKER_FOLDER = SHEDTIDE_DATA / "broker"
CELERY_TASK_DEFAULT_QUEUE = "shedtide"
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_TIME_LIMIT = 630  # [s] a pack of ten minutes and half a minute to store it
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 10.0
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_MAX_TASKS_PER_CHILD = 50
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BEAT_SCHEDULE_FILENAME = str(BROKER_FOLDER / "beat")
if REDIS_URL:
    CELERY_BROKER_URL = REDIS_URL
    # A worker that dies whole leaves its message unacknowledged: it is offered again after
    # visibility_timeout, which must be longer than the longest task. The other two make Redis look every 5 s;
    # by default it looks every 100 s.
    CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, Any] = {
        "visibility_timeout": 2 * CELERY_TASK_TIME_LIMIT,
        "unacked_restore_interval": 5,
        "unacked_restore_throttle": 1,
    }
else:
    CELERY_BROKER_URL = "folder://localhost/"
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(BROKER_FOLDER / "queue"),
        "data_folder_out": str(BROKER_FOLDER / "queue"),
        "processed_folder": str(BROKER_FOLDER / "taken"),
        "control_folder": str(BROKER_FOLDER / "control"),
        "polling_interval": 0.1,
    }
    # Broadcasts to workers would pile up as files for workers long gone.
    CELERY_WORKER_ENABLE_REMOTE_CONTROL = False

# --- The log: warnings of others, doings of ours, all to stderr ---------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        "yard": {"level": "INFO"},
        "scheduling": {"level": "INFO"},
    },
}
