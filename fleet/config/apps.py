"""The wiring: what each app hears and does when the others speak."""

from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.db.models.signals import pre_migrate
from django.utils.module_loading import autodiscover_modules


class WiringConfig(AppConfig):
    """Last of the apps: starts the receivers and tasks of those before it."""

    name = "fleet.config"
    label = "wiring"

    def ready(self) -> None:
        if settings.REDIS_URL:
            from . import celery  # noqa: F401  # making the app is its effect
        autodiscover_modules("tasks", "receivers")
        pre_migrate.connect(_lift_seals)


def _lift_seals(sender: AppConfig, using: str, plan: list[Any], **_: Any) -> None:
    """Take the seals off before tables change; they are put on again after the last migration.

    SQLite rebuilds a table under another name to change it, and then a trigger that speaks of it
    fails, and with it the migration of every register that stands.
    """
    from fleet.models.seals import remove_seals

    if plan:
        remove_seals(using=using, app_label=sender.label)
