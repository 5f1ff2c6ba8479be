"""Settings, read from the environment; the defaults are the embedded set-up.

Embedded: SQLite beside the code, errands in a thread of the server, the loopback only.
`DATABASE_URL` moves the data to PostgreSQL, `REDIS_URL` the errands to Celery workers,
`ALLOWED_HOSTS` opens it to a network, behind a proxy that speaks HTTPS.
"""

from pathlib import Path
from typing import Any

from .secret import secret_key
from .surroundings import LOOPBACK_HOSTS, Surroundings

BASE_DIR = Path(__file__).resolve().parent.parent.parent
_given = Surroundings()
DATA_DIR = Path(_given.text("DATA_DIR", str(BASE_DIR / "var"))).resolve()

# --- Where it is reached -------------------------------------------------------------------
ALLOWED_HOSTS = _given.hosts("ALLOWED_HOSTS")
ON_LOOPBACK = set(ALLOWED_HOSTS) <= LOOPBACK_HOSTS
CSRF_TRUSTED_ORIGINS = _given.origins("CSRF_TRUSTED_ORIGINS")
HOST = _given.text("HOST", "127.0.0.1")
PORT = _given.whole_number("PORT", 8000, low=1, high=65535)
TRUSTED_PROXY = _given.text("TRUSTED_PROXY")
DEBUG = _given.flag("DEBUG")
if DEBUG and not ON_LOOPBACK:
    _given.problem("DEBUG", "true", "leave it out where others than this machine can reach it")

# --- Where the data stands -----------------------------------------------------------------
DATABASE: dict[str, Any] = _given.database("DATABASE_URL", DATA_DIR / "layline.sqlite3")
ON_SQLITE = DATABASE["ENGINE"].endswith("sqlite3")
if ON_SQLITE:
    # IMMEDIATE takes the writer's place at the start, where waiting is possible; FULL keeps
    # the last commits through a power cut. `trusted_schema` stays on: with it off, SQLite 3.40
    # refuses json_valid(), which Django writes into the checks of JSON columns.
    DATABASE["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;",
    }
else:
    DATABASE.update(CONN_MAX_AGE=60, CONN_HEALTH_CHECKS=True)
    # A statement that comes again is planned once a connection (only where it asks for that).
    # A pool that hands a connection on after each transaction must know of prepared statements.
    usual = {"connect_timeout": 5, "prepare_threshold": 5}
    DATABASE["OPTIONS"] = {**usual, **DATABASE.get("OPTIONS", {})}
DATABASES: dict[str, dict[str, Any]] = {"default": DATABASE}
REDIS_URL = _given.broker("REDIS_URL")
SECRET_KEY = secret_key(_given, data_dir=DATA_DIR, alone=ON_SQLITE and not REDIS_URL)
SECRET_KEY_FALLBACKS = _given.names("SECRET_KEY_FALLBACKS", [])

# --- What it is made of --------------------------------------------------------------------
INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "fleet.apps.FleetConfig",
    "assemblies.apps.AssembliesConfig",
    "scheduling.apps.SchedulingConfig",
    "fleet.config.apps.WiringConfig",
]
MIDDLEWARE = [
    "fleet.config.middleware.request_id",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "fleet.config.middleware.content_security_policy",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "fleet.config.middleware.keep_out_of_caches",
]
ROOT_URLCONF = "fleet.config.urls"
WSGI_APPLICATION = "fleet.config.wsgi.application"
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    },
    {
        "BACKEND": "django.template.backends.jinja2.Jinja2",
        "APP_DIRS": True,
        "OPTIONS": {"environment": "fleet.quick_parts.environment", "context_processors": []},
    },
]
FORM_RENDERER = "fleet.forms.drawing.QuickBoxes"
STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "fleet.config.static_names.KeptNames"},
}
MEDIA_ROOT = DATA_DIR / "files"
USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en-gb"
CURRENCY = _given.text("CURRENCY", "EUR")  # one for the whole register
COMPILED_QUESTIONS_CHECKED = False  # see fleet/queries/compiled.py; the tests set it
USE_I18N = False
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# --- Who comes in --------------------------------------------------------------------------
AUTH_USER_MODEL = "fleet.Person"
AUTHENTICATION_BACKENDS = ["fleet.config.login.GuardedBackend"]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "login"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
_VALIDATION = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS: list[dict[str, Any]] = [
    {"NAME": f"{_VALIDATION}.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": f"{_VALIDATION}.UserAttributeSimilarityValidator"},
    {"NAME": f"{_VALIDATION}.CommonPasswordValidator"},
    {"NAME": f"{_VALIDATION}.NumericPasswordValidator"},
]

# --- What a browser is told ----------------------------------------------------------------
_SECURE = not ON_LOOPBACK
SECURE_SSL_REDIRECT = _SECURE
SECURE_HSTS_SECONDS = 31_536_000 if _SECURE else 0
SECURE_REFERRER_POLICY = "same-origin"
SECURE_REDIRECT_EXEMPT = [r"^health/"]
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _SECURE
# The prefix makes a browser refuse the cookie from a neighbour host or without HTTPS.
SESSION_COOKIE_NAME = "__Host-session" if _SECURE else "layline_session"
CSRF_COOKIE_NAME = "__Host-csrf" if _SECURE else "layline_csrf"
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"
SILENCED_SYSTEM_CHECKS = [
    "security.W005",  # hosts below Layline's own name are not Layline's to bind to HTTPS
    "security.W021",  # nor is a name entered in browsers' lists by the program that runs there
]

# --- What may be sent in -------------------------------------------------------------------
UPLOAD_LIMIT_BYTES = _given.whole_number("UPLOAD_LIMIT_MB", 20, low=1, high=500) * 2**20
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 2**20
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
FILE_UPLOAD_HANDLERS = [
    "fleet.config.uploads.UploadLimit",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

REST_FRAMEWORK: dict[str, Any] = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
}
SPECTACULAR_SETTINGS: dict[str, Any] = {"TITLE": "Layline", "VERSION": "1"}

# --- Errands: long work, done outside the request ------------------------------------------
# The table of errands is the queue of record; the broker only carries "look now".
ERRAND_LOOK_SECONDS = 30
CELERY_BROKER_URL = REDIS_URL
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 3600,
    "socket_connect_timeout": 5,
    "socket_timeout": 30,
    "socket_keepalive": True,
}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_TIME_LIMIT = 1700  # under half of the visibility time-out, or a twin would start
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE: dict[str, dict[str, Any]] = {
    "sweep": {"task": "fleet.tasks.sweep", "schedule": 60.0, "options": {"expires": 55}},
}

# --- Hours ---------------------------------------------------------------------------------
# A machine whose hours are older than this is told of: dates from hours rest on them.
HOURS_STALE_AFTER_DAYS = _given.whole_number("HOURS_STALE_AFTER_DAYS", 30, low=1, high=3650)
# Hosts of telematics that may stand on a private network and be asked without HTTPS: HOST or
# HOST:PORT, with commas between. All others must be public and speak HTTPS.
TELEMATICS_PRIVATE_HOSTS = _given.names("TELEMATICS_PRIVATE_HOSTS", [])

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "fleet.config.logs.OneLineFormatter"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": "INFO"},
    "loggers": {"django": {"handlers": [], "level": "INFO", "propagate": True}},
}

_given.finish()
