"""Marking the dues stale with a change, and having the work done soon."""

import datetime as dt
from collections.abc import Iterable

from fleet.actions.errands import ask_errand
from fleet.models import Errand
from scheduling.actions.stale import EVERYTHING, marks_up, work_off_now
from scheduling.models import StaleMark
from scheduling.models.rules import Scope

STALE_DUES = "stale dues"  # the errand that works off what is marked


def hoses_changed(assembly_ids: Iterable[int], *, at: dt.datetime) -> None:
    """Some hoses' inputs changed: a few are worked out at once, many by an errand."""
    _changed(StaleMark.Subject.ASSEMBLY, list(assembly_ids), at)


def machines_changed(machine_ids: Iterable[int], *, at: dt.datetime) -> None:
    """Likewise what some machines carry."""
    _changed(StaleMark.Subject.MACHINE, list(machine_ids), at)


def scope_changed(scope: Scope, *, at: dt.datetime) -> None:
    """What a rule or an exemption speaks of changed: the narrowest mark that covers it."""
    subject = StaleMark.Subject
    if scope.machine_id is not None:
        _changed(subject.MACHINE, [scope.machine_id], at)
    elif scope.site_id is not None:
        _changed(subject.SITE, [scope.site_id], at)
    else:
        _changed(EVERYTHING, [0], at)


def see_to_marks(*, at: dt.datetime) -> bool:
    """Ask for the errand where marks are up and none waits or runs. Safe to repeat.

    An errand and not the sweep does the work, because its lease is short: where a worker was
    killed, another takes it over within minutes. Returns whether it asked.
    """
    asked = Errand.objects.filter(kind=STALE_DUES, state="waiting").exists()
    if asked or not marks_up():
        return False
    ask_errand(kind=STALE_DUES, key="next", at=at)
    return True


def _changed(subject: str, ids: list[int], at: dt.datetime) -> None:
    if not work_off_now(subject=subject, ids=ids, at=at):
        ask_errand(kind=STALE_DUES, key="next", at=at)
