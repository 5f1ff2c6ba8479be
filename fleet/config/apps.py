"""The wiring: what each app hears and does when the others speak."""

from django.apps import AppConfig
from django.conf import settings
from django.utils.module_loading import autodiscover_modules


class WiringConfig(AppConfig):
    """Last of the apps: starts the receivers and tasks of those before it."""

    name = "fleet.config"
    label = "wiring"

    def ready(self) -> None:
        if settings.REDIS_URL:
            from . import celery  # noqa: F401  # making the app is its effect
        autodiscover_modules("tasks", "receivers")
