"""What the assemblies do on news from the fleet."""

from typing import Any

from django.dispatch import receiver

from assemblies.actions.sites import follow_machines
from fleet.signals import machine_changed


@receiver(machine_changed, dispatch_uid="hoses follow their machine")
def hoses_follow_their_machine(machine_ids: list[int], **_: Any) -> None:
    follow_machines(machine_ids=machine_ids)
