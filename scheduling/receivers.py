"""What the schedule does on news: mark what is stale, and work a little of it out at once."""

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.dispatch import receiver

from assemblies.signals import (
    assembly_changed,
    build_signed,
    installation_changed,
    position_changed,
)
from fleet.actions.usages import refresh_usage
from fleet.signals import machine_changed, reading_recorded
from scheduling.actions.stale import mark_stale, work_off_now
from scheduling.models import StaleMark

MACHINE, ASSEMBLY = StaleMark.Subject.MACHINE, StaleMark.Subject.ASSEMBLY


@receiver(reading_recorded, dispatch_uid="dues follow hours")
def dues_follow_hours(machine_ids: list[int], at: dt.datetime, **_: Any) -> None:
    _stale(MACHINE, machine_ids, at)


@receiver(position_changed, dispatch_uid="dues follow positions")
def dues_follow_positions(machine_ids: list[int], at: dt.datetime, **_: Any) -> None:
    _stale(MACHINE, machine_ids, at)


@receiver(machine_changed, dispatch_uid="dues follow machines")
def dues_follow_machines(machine_ids: list[int], at: dt.datetime, **_: Any) -> None:
    refresh_usage(machine_ids=machine_ids)
    _stale(MACHINE, machine_ids, at)


@receiver(installation_changed, dispatch_uid="dues follow fittings")
def dues_follow_fittings(
    assembly_ids: list[int], machine_ids: list[int], at: dt.datetime, **_: Any
) -> None:
    # The machine is marked too: a reading recorded at the same moment must see the new hose.
    mark_stale(subject=MACHINE, ids=machine_ids, at=at)
    _stale(ASSEMBLY, assembly_ids, at)
    work_off_now(subject=MACHINE, ids=machine_ids)


@receiver(assembly_changed, dispatch_uid="dues follow hoses")
def dues_follow_hoses(assembly_ids: list[int], at: dt.datetime, **_: Any) -> None:
    _stale(ASSEMBLY, assembly_ids, at)


@receiver(build_signed, dispatch_uid="dues follow builds")
def dues_follow_builds(assembly_ids: list[int], at: dt.datetime, **_: Any) -> None:
    _stale(ASSEMBLY, assembly_ids, at)


def _stale(subject: str, ids: Iterable[int], at: dt.datetime) -> None:
    ids = list(ids)
    mark_stale(subject=subject, ids=ids, at=at)
    work_off_now(subject=subject, ids=ids)
