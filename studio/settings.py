"""Settings. Everything that differs between machines comes from the environment; DEVELOPERS.md lists the variables."""

import os
from pathlib import Path
from typing import Any

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(os.environ.get("MENISCUS_DATA", BASE_DIR / ".data"))

DEBUG = os.environ.get("MENISCUS_DEBUG", "") == "1"
PRODUCTION = os.environ.get("MENISCUS_PRODUCTION", "") == "1"

DEVELOPMENT_KEY = "for-development-and-demonstration-only-never-for-a-real-studio"
SECRET_KEY = os.environ.get("MENISCUS_SECRET_KEY", DEVELOPMENT_KEY)
ALLOWED_HOSTS = [
    host for host in os.environ.get("MENISCUS_HOSTS", "localhost,127.0.0.1,[::1]").split(",") if host
]
if PRODUCTION and (SECRET_KEY == DEVELOPMENT_KEY or len(SECRET_KEY) < 50):
    raise ImproperlyConfigured(
        "Set MENISCUS_SECRET_KEY to a secret of at least 50 characters before serving a real studio."
    )
if PRODUCTION and (DEBUG or "*" in ALLOWED_HOSTS):
    raise ImproperlyConfigured(
        "In production MENISCUS_DEBUG must be off and MENISCUS_HOSTS must name the hosts."
    )

INSTALLED_APPS = [
    "studio.apps.StudioConfig",
    "inventory.apps.InventoryConfig",
    "costing.apps.CostingConfig",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "csp",
    "rest_framework",
    "drf_spectacular",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.context.studio",
            ],
            "builtins": ["studio.templatetags.amounts"],
        },
    }
]


def database() -> dict[str, Any]:
    """Read DATABASE_URL; without it, an SQLite file in the data folder."""
    url = os.environ.get("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'meniscus.sqlite3'}"
    parsed = dict(dj_database_url.parse(url, conn_max_age=60, conn_health_checks=True))
    if parsed["ENGINE"] == "django.db.backends.sqlite3":
        parsed["ENGINE"] = "studio.sqlite_engine"
        # Immediate transactions: a writer takes its lock at the start, so two can never deadlock half-way.
        # recursive_triggers: without it REPLACE slips past the triggers that keep the ledger append-only.
        parsed["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA recursive_triggers=ON;",
        }
    return parsed


DATABASES = {"default": database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "studio.User"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 15}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "login"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = os.environ.get("MENISCUS_TIME_ZONE", "UTC")
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
MEDIA_URL = "photos/"
MEDIA_ROOT = DATA_DIR / "photos"
WHITENOISE_USE_FINDERS = True

SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_SAMESITE = "Lax"
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if PRODUCTION:
    SESSION_COOKIE_NAME = "__Host-session"
    CSRF_COOKIE_NAME = "__Host-csrf"
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = 365 * 24 * 60 * 60
    SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = True
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
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["studio.permissions.IsWorker"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.PageNumberPagination",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_THROTTLE_CLASSES": ["rest_framework.throttling.UserRateThrottle"],
    "DEFAULT_THROTTLE_RATES": {"user": "600/min"},
    "EXCEPTION_HANDLER": "studio.api.explain",
    "NUM_PROXIES": 0,
    "PAGE_SIZE": 100,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Meniscus",
    "DESCRIPTION": "Stock, cost and price for a small fluid-art studio.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_PERMISSIONS": ["studio.permissions.IsWorker"],
    "SERVE_INCLUDE_SCHEMA": False,
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
