from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class FleetConfig(AppConfig):
    name = "fleet"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from fleet.queries import alarm_reach
        from fleet.views import row_ids  # noqa: F401  # importing registers the addresses' row numbers

        alarm_reach.lead_there()
        post_migrate.connect(_after_migrate, sender=self)
        post_migrate.connect(_install_seals)


def _after_migrate(using: str, **_: Any) -> None:
    from fleet.permissions import ensure_roles

    if using == "default":
        ensure_roles()


def _install_seals(sender: AppConfig, using: str, **_: Any) -> None:
    from fleet.models.seals import install_seals

    install_seals(using=using, app_label=sender.label)
