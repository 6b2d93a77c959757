"""Settings.

Everything that differs between machines comes from the environment; DEVELOPERS.md lists the variables.
"""

import logging
import os
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(os.environ.get("MENISCUS_DATA", BASE_DIR / ".data"))

DEBUG = os.environ.get("MENISCUS_DEBUG", "") == "1"
PRODUCTION = os.environ.get("MENISCUS_PRODUCTION", "") == "1"

# Whether the demo's database may be served in production; `manage.py demo --lan` says so for itself.
DEMO = os.environ.get("MENISCUS_DEMO", "") == "1"

# `manage.py serve` and `demo` say here at which address they serve; in production that is the home network's.
SERVED_AT = os.environ.get("MENISCUS_SERVE", "")
ON_LAN = PRODUCTION and bool(SERVED_AT)
IS_PLAIN = ON_LAN and SERVED_AT.startswith("http://")

DEVELOPMENT_KEY = "for-development-and-demonstration-only-never-for-a-real-studio"
KEY_FILE = DATA_DIR / "secret-key"  # made by `manage.py serve` for a studio that was given none


def secret_key() -> str:
    """The key from the environment, else the studio's own, else one that everybody knows."""
    if "MENISCUS_SECRET_KEY" in os.environ:
        return os.environ["MENISCUS_SECRET_KEY"]
    return KEY_FILE.read_text(encoding="ascii").strip() if KEY_FILE.exists() else DEVELOPMENT_KEY


SECRET_KEY = secret_key()
ALLOWED_HOSTS = [
    host for host in os.environ.get("MENISCUS_HOSTS", "localhost,127.0.0.1,[::1]").split(",") if host
]
if PRODUCTION and (SECRET_KEY == DEVELOPMENT_KEY or len(SECRET_KEY) < 50 or len(set(SECRET_KEY)) < 10):
    raise ImproperlyConfigured(
        "Set MENISCUS_SECRET_KEY to a random secret of at least 50 characters before serving a real studio."
    )
if PRODUCTION and (DEBUG or "*" in ALLOWED_HOSTS):
    raise ImproperlyConfigured(
        "In production MENISCUS_DEBUG must be off and MENISCUS_HOSTS must name the hosts."
    )

INSTALLED_APPS = [
    "auditlog",
    "studio.apps.StudioConfig",
    "inventory.apps.InventoryConfig",
    "costing.apps.CostingConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "axes",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
    "csp",
    "django_filters",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
]

FILTERS_EMPTY_CHOICE_LABEL = gettext_lazy("Any")

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "studio.middleware.limits_middleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "studio.middleware.CompressTextMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_otp.middleware.OTPMiddleware",
    "studio.middleware.two_factor_middleware",
    "studio.middleware.LoginMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "studio.pages.languages.language_middleware",
    "studio.middleware.recording_middleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": sorted(BASE_DIR.glob("*/*/templates")),  # every room brings its own
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.preferences.context.page_frame",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "studio.templatetags.amounts",
                "studio.templatetags.explained",
            ],
        },
    }
]


FORM_RENDERER = "studio.pages.widgets.QuickRenderer"


def _parsed(url: str) -> dict[str, Any]:
    """A database's address, which may name several servers of PostgreSQL as libpq reads it: host:port,host:port."""
    parts = urlsplit(url)
    role, at, servers = parts.netloc.rpartition("@")
    if "," not in servers:
        return dict(dj_database_url.parse(url, conn_max_age=60, conn_health_checks=True))
    from psycopg.conninfo import conninfo_to_dict

    several = conninfo_to_dict(f"postgresql://{servers}/")
    where = {"HOST": several["host"], "PORT": several.get("port", "")}
    return {**_parsed(parts._replace(netloc=f"{role}{at}").geturl()), **where}


def database() -> dict[str, Any]:
    """Read DATABASE_URL; without it, an SQLite file in the data folder."""
    url = os.environ.get("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'meniscus.sqlite3'}"
    parsed = _parsed(url)
    if parsed["ENGINE"] == "django.db.backends.sqlite3":
        parsed["ENGINE"] = "studio.operations.sqlite_engine"
        # Immediate transactions: a writer takes its lock at the start, so two can never deadlock half-way.
        # recursive_triggers: without it REPLACE slips past the triggers that keep the ledger append-only.
        # journal_size_limit: a log that had to grow gives its room on the disk back once it is folded in.
        parsed["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA recursive_triggers=ON; "
            "PRAGMA journal_size_limit=67108864;",
        }
        parsed["TEST"] = {
            "NAME": ":memory:"
        }  # said aloud: parallel test runners know only Django's own engine
    return parsed


DATABASES = {"default": database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "studio.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "studio.accounts.public_passwords.RefusesPublicPasswords",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 15}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "studio.accounts.passwords.CommonWithDigitsValidator"},
    {"NAME": "studio.accounts.passwords.StudioWordsValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
# Five wrong passwords for one name from one address lock that pair; by address alone, one phone would lock the
# whole studio out. The counts live in the database, so every worker process sees them.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=30)
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "registration/locked.html"
AXES_HANDLER = "studio.accounts.login_limits.LoginLimits"
AXES_CLIENT_IP_CALLABLE = "studio.accounts.login_limits.guessing_address"
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False
# What the record of failed logins keeps hidden of a sent form, besides the password.
AXES_SENSITIVE_PARAMETERS = ["username", "ip_address", "code"]
OTP_TOTP_ISSUER = "Meniscus"  # what an app for one-time codes calls the account
# How many proxies of our own stand in front. Forwarded addresses and schemes are believed from those alone.
PROXIES = int(os.environ.get("MENISCUS_PROXIES", "0"))
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "home"
FIRST_OWNER_REDIRECT_URL = "begin"  # where the owner of an empty studio goes on
LOGOUT_REDIRECT_URL = "login"

LANGUAGE_CODE = "en-gb"
LANGUAGES = [
    ("en-gb", "English"),
    ("de", "Deutsch"),
]  # each in its own words; all but the first have a catalogue
TIME_ZONE = os.environ.get("MENISCUS_TIME_ZONE", "UTC")
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
MEDIA_URL = "photos/"
# Webhooks go to public addresses by https alone, unless the studio's own network is wanted.
WEBHOOKS_LOCAL = os.environ.get("MENISCUS_WEBHOOKS_LOCAL", "") == "1"
MEDIA_ROOT = DATA_DIR / "photos"
# Where they are served they are collected first (`collectstatic`; `serve` and `demo` do it themselves): named by their
# contents, so that browsers keep them, and compressed. Anything else finds them where they are written.
ARE_COLLECTED = PRODUCTION or bool(SERVED_AT)
WHITENOISE_USE_FINDERS = not ARE_COLLECTED
WHITENOISE_ALLOW_ALL_ORIGINS = False  # no other site needs our fonts and scripts
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if ARE_COLLECTED
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
DATA_UPLOAD_MAX_MEMORY_SIZE = 15 * 1024 * 1024  # a program's photo of 10 MB is a third more in base64
DATA_UPLOAD_MAX_NUMBER_FIELDS = 30_000
DATA_UPLOAD_MAX_NUMBER_FILES = 250  # a row of a form without a photo counts as well
LARGEST_REQUEST = 60 * 1024 * 1024

BACKUPS = Path(os.environ.get("MENISCUS_BACKUPS", DATA_DIR / "backups"))
BACKUP_KEY = os.environ.get("MENISCUS_BACKUP_KEY", "")  # empty: a file in the data folder keeps one
BACKUPS_KEPT = int(os.environ.get("MENISCUS_BACKUPS_KEPT", "30"))

SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_SAMESITE = "Lax"
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if PRODUCTION and not IS_PLAIN:
    SESSION_COOKIE_NAME = "__Host-session"
    CSRF_COOKIE_NAME = "__Host-csrf"
    MESSAGE_STORAGE = "studio.pages.notices.BoundToHost"
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = True
    # Programs are refused and not led on (`studio.middleware`): a redirect would hide that a token went in the clear.
    SECURE_REDIRECT_EXEMPT = ["^health/", "^api/(?!docs/|start/)"]
    if not ON_LAN:  # at home a lost certificate must not lock anybody out for a year
        SECURE_HSTS_SECONDS = 365 * 24 * 60 * 60
        SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = True
    if PROXIES:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}

EMAIL_BACKEND = os.environ.get("MENISCUS_EMAIL_BACKEND", "django.core.mail.backends.console.EmailBackend")
EMAIL_HOST = os.environ.get("MENISCUS_EMAIL_HOST", "localhost")
EMAIL_PORT = int(os.environ.get("MENISCUS_EMAIL_PORT", "25"))
EMAIL_HOST_USER = os.environ.get("MENISCUS_EMAIL_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("MENISCUS_EMAIL_PASSWORD", "")
EMAIL_USE_TLS = os.environ.get("MENISCUS_EMAIL_TLS", "") == "1"
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = os.environ.get("MENISCUS_EMAIL_FROM", "meniscus@localhost")

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "studio.accounts.authentication.TokenLogin",  # first: it answers strangers with 401
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["studio.accounts.permissions.IsWorker"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["studio.api.parsers.ExactJSONParser"],
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_METADATA_CLASS": None,  # what an address takes stands in the schema
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.PageNumberPagination",
    "DEFAULT_SCHEMA_CLASS": "studio.api.schema.StudioSchema",
    "DEFAULT_THROTTLE_CLASSES": ["rest_framework.throttling.UserRateThrottle"],
    "DEFAULT_THROTTLE_RATES": {"user": "600/min"},
    "EXCEPTION_HANDLER": "studio.api.problems.explain",
    "NUM_PROXIES": PROXIES,
    "PAGE_SIZE": 100,
    "URL_FORMAT_OVERRIDE": None,  # JSON is all there is: ?format=… is a name like any other that is not known
    "UNICODE_JSON": False,  # a refusal may repeat half of a character, which no encoding can write
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Meniscus",
    "DESCRIPTION": "Stock, costs and prices for a small fluid-art studio. "
    "A first program to copy and run is at [/api/start/](/api/start/).",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "DEFAULT_GENERATOR_CLASS": "studio.api.schema.GeneratorOfOne",
    "SERVE_PERMISSIONS": ["studio.accounts.permissions.IsWorker"],
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/",
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "studio.api.schema.in_words_of_the_standard",
        "studio.api.schema.offer_sparse_answers",
    ],
    "ENUM_NAME_OVERRIDES": {"Measure": "studio.values.units.Measure"},  # the floors above add their own
}

# The change log keeps codes and numbers as they are stored, and reads what stood there past every manager's filter.
AUDITLOG_STORE_JSON_CHANGES = True
AUDITLOG_USE_BASE_MANAGER = True

LOG_JSON = os.environ.get("MENISCUS_LOG_JSON", "") == "1"
logging.captureWarnings(LOG_JSON)  # Python would write its warnings between the lines, as plain text
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "plain": {
            "()": "studio.accounts.security_log.PlainFormatter",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        },
        "json": {"()": "studio.accounts.security_log.JSONFormatter"},
    },
    "filters": {"without trace": {"()": "studio.operations.outages.WithoutTrace"}},
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "filters": ["without trace"],
            "formatter": "json" if LOG_JSON else "plain",
        }
    },
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"meniscus": {"level": "INFO"}},
}
