"""Noting that a machine is down, and that it runs again."""

import datetime as dt

from django.db import IntegrityError, transaction

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.local_days import local_day
from fleet.models import Downtime, Machine, Person
from fleet.permissions import require

LONGEST_BACK = dt.timedelta(days=366)
RIGHT = "report_failures"


@transaction.atomic
def machine_down(
    *,
    machine: Machine,
    from_at: dt.datetime,
    planned: bool,
    reason: str,
    person: Person | None,
    at: dt.datetime,
    to_at: dt.datetime | None = None,
) -> Downtime:
    """Note time down, open while `to_at` is None; the cost of an hour is kept as it is now.

    Atomic. Down unplanned already: the first note is given back, safe to repeat. Refuses:
    down_in_the_future, down_too_long_ago, up_before_down, up_in_the_future, reason_missing.
    Needs `report_failures` at the machine's site.
    """
    machines = Machine.objects.select_for_update().select_related("site", "machine_class")
    locked = machines.get(pk=machine.pk)
    if person is not None:
        require(person, RIGHT, locked.site_id)
    _check(from_at, to_at, reason, at)
    open_now = None if planned or to_at is not None else _open(locked)
    if open_now is not None:
        return open_now
    made = _spell(locked, from_at, to_at, planned=planned)
    made.reason, made.recorded_by = reason.strip()[:500], person
    try:
        with transaction.atomic():
            made.save(force_insert=True)
    except IntegrityError:
        raced = _open(locked)
        if raced is None:
            raise
        return raced
    after = {"from": from_at, "to": to_at, "planned": planned}
    deed = audit.Deed("noted a machine down", locked, locked.site, {}, after, made.reason)
    audit.record(deed, actor=person, at=at)
    return made


def _spell(
    machine: Machine, from_at: dt.datetime, to_at: dt.datetime | None, *, planned: bool
) -> Downtime:
    """A time down at the machine's site, at what an hour down costs now."""
    own, usual = machine.down_cost_per_hour_minor, machine.machine_class.down_cost_per_hour_minor
    return Downtime(
        machine=machine,
        site=machine.site,
        from_at=from_at,
        from_on=local_day(from_at, machine.site.time_zone),
        to_at=to_at,
        planned=planned,
        cost_per_hour_minor=usual if own is None else own,
    )


@transaction.atomic
def machine_back(
    *, downtime: Downtime, to_at: dt.datetime, person: Person, at: dt.datetime
) -> Downtime:
    """Note that a machine runs again. Atomic.

    Refuses: back_already, up_before_down, up_in_the_future. Needs `report_failures` there.
    """
    locked = (
        Downtime.objects.select_for_update().select_related("machine__site").get(pk=downtime.pk)
    )
    require(person, RIGHT, locked.site_id)
    if locked.to_at is not None:
        raise Refused(
            "back_already", f"It is noted as running again since {locked.to_at:%Y-%m-%d}."
        )
    _check(locked.from_at, to_at, locked.reason or "-", at)
    locked.to_at = to_at
    locked.save(update_fields=["to_at"])
    deed = audit.Deed("noted a machine back", locked.machine, locked.site, {}, {"to": to_at})
    audit.record(deed, actor=person, at=at)
    return locked


def _open(machine: Machine) -> Downtime | None:
    found: Downtime | None = Downtime.objects.filter(
        machine=machine, to_at=None, planned=False
    ).first()
    return found


def _check(from_at: dt.datetime, to_at: dt.datetime | None, reason: str, at: dt.datetime) -> None:
    if from_at > at:
        raise Refused("down_in_the_future", "It can't be down since a time to come.", field="down")
    if at - from_at > LONGEST_BACK:
        raise Refused(
            "down_too_long_ago",
            f"Down since {from_at:%Y-%m-%d}? That is more than a year ago: check the day.",
            field="down",
        )
    if to_at is not None and to_at < from_at:
        raise Refused("up_before_down", "It can't run again before it went down.", field="up")
    if to_at is not None and to_at > at:
        raise Refused("up_in_the_future", "It can't run again at a time to come.", field="up")
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is down.", field="reason")
