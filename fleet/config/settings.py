"""Settings, read from the environment; the defaults are the embedded set-up."""

from pathlib import Path
from typing import Any

BASE_DIR = Path(__file__).resolve().parent.parent.parent
SECRET_KEY = "not-yet"
DEBUG = False
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
]
DATABASES: dict[str, Any] = {
    "default": {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": BASE_DIR / "var" / "layline.sqlite3",
    }
}
AUTH_USER_MODEL = "fleet.Person"
USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en-gb"
