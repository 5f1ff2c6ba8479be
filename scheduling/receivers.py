"""What the schedule does on news: mark what is stale, and work a little of it out at once."""

import datetime as dt
from typing import Any

from django.dispatch import receiver

from assemblies.signals import (
    assembly_changed,
    build_signed,
    installation_changed,
    position_changed,
)
from fleet.actions.usages import refresh_usage
from fleet.signals import machine_changed, reading_corrected, reading_recorded
from scheduling.actions.failure_hours import correct_failure_hours
from scheduling.actions.nudges import hoses_changed, machines_changed
from scheduling.actions.scrapped_findings import settle_scrapped


@receiver(reading_recorded, dispatch_uid="dues follow hours")
def dues_follow_hours(machine_ids: list[int], at: dt.datetime, **_: Any) -> None:
    machines_changed(machine_ids, at=at)


@receiver(reading_corrected, dispatch_uid="hours of failures follow their reading")
def hours_of_failures_follow_their_reading(**news: Any) -> None:
    told = {name: news[name] for name in news if name not in {"signal", "sender"}}
    correct_failure_hours(**told)


@receiver(position_changed, dispatch_uid="dues follow positions")
def dues_follow_positions(machine_ids: list[int], at: dt.datetime, **_: Any) -> None:
    machines_changed(machine_ids, at=at)


@receiver(machine_changed, dispatch_uid="dues follow machines")
def dues_follow_machines(machine_ids: list[int], at: dt.datetime, **_: Any) -> None:
    refresh_usage(machine_ids=machine_ids)
    machines_changed(machine_ids, at=at)


@receiver(installation_changed, dispatch_uid="findings end with their hoses")
@receiver(assembly_changed, dispatch_uid="findings end with their pieces")
def findings_end_with_hoses(assembly_ids: list[int], at: dt.datetime, **_: Any) -> None:
    # Before the dues: they read what is still open.
    settle_scrapped(assembly_ids=assembly_ids, at=at)


@receiver(installation_changed, dispatch_uid="dues follow fittings")
def dues_follow_fittings(
    assembly_ids: list[int], machine_ids: list[int], at: dt.datetime, **_: Any
) -> None:
    # The machine too: a reading recorded at the same moment waits at its mark and sees the hose.
    machines_changed(machine_ids, at=at)
    hoses_changed(assembly_ids, at=at)


@receiver(assembly_changed, dispatch_uid="dues follow hoses")
def dues_follow_hoses(assembly_ids: list[int], at: dt.datetime, **_: Any) -> None:
    hoses_changed(assembly_ids, at=at)


@receiver(build_signed, dispatch_uid="dues follow builds")
def dues_follow_builds(assembly_ids: list[int], at: dt.datetime, **_: Any) -> None:
    hoses_changed(assembly_ids, at=at)
