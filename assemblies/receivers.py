"""What the assemblies do on news from the fleet."""

from typing import Any

from django.dispatch import receiver

from assemblies.actions.fitting_hours import correct_ended_hours, correct_fitting_hours
from assemblies.actions.sites import follow_machines
from fleet.signals import machine_changed, reading_corrected


@receiver(machine_changed, dispatch_uid="hoses follow their machine")
def hoses_follow_their_machine(machine_ids: list[int], **_: Any) -> None:
    follow_machines(machine_ids=machine_ids)


@receiver(reading_corrected, dispatch_uid="hours of stays follow their reading")
def hours_of_stays_follow_their_reading(**news: Any) -> None:
    told = {name: news[name] for name in news if name not in {"signal", "sender"}}
    correct_fitting_hours(**told)
    correct_ended_hours(**told)
