"""Settings. With no environment at all: SQLite, a local broker and a real worker, on this machine.

DATABASE_URL and REDIS_URL switch to PostgreSQL and Redis; SITE_URL says where people reach the
site, and from it follow the allowed hosts, the trusted origins and whether cookies need TLS.
"""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url
from csp.constants import NONE, SELF

from coachsite.env import env_flag, env_text, kept_secret, site_addresses

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(env_text("COACHSITE_DATA", str(BASE_DIR / "var"))).resolve()
DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
# Compiled kernels lie beside the code; where nothing can be written there, among the data.
if not os.access(BASE_DIR / "lanes" / "motion", os.W_OK):
    os.environ.setdefault("NUMBA_CACHE_DIR", str(DATA_DIR / "numba"))

DEBUG = env_flag("DEBUG")
SECRET_KEY = env_text("SECRET_KEY") or kept_secret(DATA_DIR / "secret_key")

# Where people reach the site. More than one address may stand here, the first is the one that
# goes into invitations: "https://coach.example, http://192.168.1.20:8000".
SITE_URLS = site_addresses(env_text("SITE_URL")) or ["http://localhost:8000"]
SITE_URL = SITE_URLS[0]
ALLOWED_HOSTS = sorted(
    {urlsplit(url).hostname or "" for url in SITE_URLS} | {"localhost", "127.0.0.1"}
)
CSRF_TRUSTED_ORIGINS = SITE_URLS
BEHIND_TLS = SITE_URL.startswith("https://")

INSTALLED_APPS = [
    "coachsite.apps.CoachsiteConfig",
    "lanes.apps.LanesConfig",
    "clients.apps.ClientsConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "axes",
    "csp",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "coachsite.middleware.keep_nothing_in_caches",
    "coachsite.middleware.refuse_nul",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    # Deny by default: a page that anybody may see says so with @login_not_required.
    "coachsite.middleware.LogInFirst",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "coachsite.urls"
WSGI_APPLICATION = "coachsite.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "coachsite" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "coachsite.navigation.navigation",
            ],
        },
    }
]

# SQLite waits its turn instead of failing midway: WAL, write locks taken at once, a long time-out.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
}
DATABASE_URL = env_text("DATABASE_URL")
if DATABASE_URL:
    DATABASES = {
        "default": dj_database_url.parse(DATABASE_URL, conn_max_age=60, conn_health_checks=True)
    }
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "db.sqlite3",
            "OPTIONS": SQLITE_OPTIONS,
        }
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# The job row in the database is the truth and the message only a nudge, so no result back end.
REDIS_URL = env_text("REDIS_URL")
CELERY_BROKER_URL = REDIS_URL or f"sqla+sqlite:///{DATA_DIR / 'broker.sqlite3'}"
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_SOFT_TIME_LIMIT = 600  # seconds; what hangs fails with a message instead of for ever
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"

if REDIS_URL:
    CACHES = {
        "default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
    }

AUTH_USER_MODEL = "clients.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "clients.auth.EmailOrNameBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "login"

# Slow guessing down: ten wrong passwords for one name from one address shut it for 15 minutes.
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_USERNAME_FORM_FIELD = "username"  # not the user model's, which is "email"
AXES_USERNAME_CALLABLE = "clients.auth.typed_login"
AXES_CLIENT_IP_CALLABLE = "clients.auth.asking_address"
AXES_LOCKOUT_TEMPLATE = "registration/locked_out.html"
AXES_ENABLE_ADMIN = False
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False
# What is kept of a wrong log-in holds no password, whatever the form calls its field, and of a
# right one nothing is kept.
AXES_SENSITIVE_PARAMETERS = ["username", "ip_address", "password1", "password2"]
AXES_DISABLE_ACCESS_LOG = True

SESSION_COOKIE_SECURE = BEHIND_TLS
CSRF_COOKIE_SECURE = BEHIND_TLS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 30 * 24 * 3600
SECURE_SSL_REDIRECT = BEHIND_TLS
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if BEHIND_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = BEHIND_TLS
SECURE_HSTS_PRELOAD = BEHIND_TLS
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
if BEHIND_TLS:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]  # asked from inside the machine, without TLS
X_FRAME_OPTIONS = "DENY"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        # Plotly draws its camera button's picture from a data: address.
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "coachsite" / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
MEDIA_ROOT = DATA_DIR / "media"

LANGUAGE_CODE = "en"
TIME_ZONE = env_text("TIME_ZONE", "UTC")
USE_TZ = True
USE_I18N = False
# What stands behind a price of the shop.
CURRENCY = env_text("CURRENCY", "USD")

# Letters wait in the outbox until a mail server is named; nothing is lost before.
EMAIL_HOST = env_text("EMAIL_HOST")
EMAIL_PORT = int(env_text("EMAIL_PORT", "587"))
EMAIL_HOST_USER = env_text("EMAIL_HOST_USER")
EMAIL_HOST_PASSWORD = env_text("EMAIL_HOST_PASSWORD")
EMAIL_USE_TLS = env_flag("EMAIL_USE_TLS", default=True)
EMAIL_TIMEOUT = 15  # seconds; a mail server that hangs must not hold the worker
DEFAULT_FROM_EMAIL = env_text("EMAIL_FROM", "coach@localhost")

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "rest_framework.views.exception_handler",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Coach site",
    "DESCRIPTION": "Sessions, shots and jobs, for the pages of this site.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
}

# The shot log's own reader refuses more than 5 MB; a little above it, so that its message is seen.
DATA_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "filters": {"without_keys": {"()": "coachsite.logs.WithoutKeys"}},
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": "plain",
            "filters": ["without_keys"],
        }
    },
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "coachsite": {"level": "INFO"},
        "clients": {"level": "INFO"},
        "lanes": {"level": "INFO"},
    },
}
