"""Saying which machine of ours a provider's machine is: once, by a person."""

import datetime as dt
from zoneinfo import ZoneInfo

from django.db import transaction

from fleet import audit
from fleet.actions.readings import ReadingGiven, put_aside, record_readings
from fleet.actions.refusals import Refused
from fleet.models import Counter, HourMeter, HourReading, Machine, Person, TelematicsMatch
from fleet.permissions import require


@transaction.atomic
def match_machine(
    *, seen: TelematicsMatch, machine: Machine, counts: str, person: Person, at: dt.datetime
) -> TelematicsMatch:
    """Say that it is this machine of ours. Atomic; the last hours that it told are recorded.

    Refuses: matched_already, other_site, not_current, no_meter, machine_matched. Needs
    `edit_machines` at the source's site and at the machine's. Sends `reading_recorded`.
    """
    locked = _locked(seen, person)
    require(person, "edit_machines", machine.site_id)
    if locked.machine_id == machine.pk and locked.counts == counts:
        return locked
    _refuse_bad_match(locked, machine, counts)
    locked.machine, locked.counts, locked.set_aside_reason = machine, counts, ""
    _sign(locked, person, at)
    after = {"machine": machine, "counts": counts}
    deed = audit.Deed("matched a telematics machine", locked, machine.site, {}, after)
    audit.record(deed, actor=person, at=at)
    if locked.last_reading_h is not None and locked.last_read_at is not None:
        record_readings(readings=[last_reading(locked)], person=None, at=at)
    return locked


@transaction.atomic
def take_match_back(
    *, seen: TelematicsMatch, reason: str, wrong: bool, person: Person, at: dt.datetime
) -> TelematicsMatch:
    """Take a match back. Atomic. `wrong`: it never was that machine, so its readings are set aside.

    Refuses: not_matched, reason_missing. Needs `edit_machines` at the source's site and at the
    machine's. Sends `reading_recorded`.
    """
    locked = _locked(seen, person)
    machine = locked.machine
    if machine is None:
        raise Refused("not_matched", "It is matched to no machine.")
    if not reason.strip():
        raise Refused("reason_missing", "Say why the match is taken back.", field="reason")
    require(person, "edit_machines", machine.site_id)
    locked.machine = None
    _sign(locked, person, at)
    before = {"machine": machine, "readings set aside": wrong}
    deed = audit.Deed("took a telematics match back", locked, machine.site, before, {}, reason)
    audit.record(deed, actor=person, at=at)
    if wrong:
        for reading in _readings_of(locked, machine):
            why = f"another machine’s: {reason.strip()}"
            put_aside(locked=reading, reason=why, person=person, at=at)
    return locked


@transaction.atomic
def set_match_aside(
    *, seen: TelematicsMatch, reason: str, person: Person, at: dt.datetime
) -> TelematicsMatch:
    """Say that it is none of ours: it leaves the list of unmatched machines. Atomic.

    Matching it later brings it back. Refuses: matched_already, reason_missing. Needs
    `edit_machines` at the source's site.
    """
    locked = _locked(seen, person)
    if locked.machine_id is not None:
        raise Refused("matched_already", f"It is matched to {locked.machine}: take that back.")
    if not reason.strip():
        raise Refused("reason_missing", "Say whose it is, or why it is left.", field="reason")
    locked.set_aside_reason = reason.strip()[:300]
    _sign(locked, person, at)
    site = locked.source.site
    deed = audit.Deed("set a telematics machine aside", locked, site, {}, {}, reason)
    audit.record(deed, actor=person, at=at)
    return locked


def last_reading(seen: TelematicsMatch) -> ReadingGiven:
    """The last hours that a matched machine told; without a zone they are of its site's clock."""
    machine, read_at = seen.machine, seen.last_read_at
    assert machine is not None
    assert read_at is not None
    assert seen.last_reading_h is not None
    if not seen.last_zone_known:
        zone = ZoneInfo(machine.site.time_zone)
        read_at = read_at.astimezone(dt.UTC).replace(tzinfo=zone)
    return ReadingGiven(
        machine=machine,
        counts=seen.counts,
        reading_h=seen.last_reading_h,
        read_at=read_at,
        typed=seen.last_typed,
        source=HourReading.Source.TELEMATICS,
        source_ref=seen.reference,
        zone_known=seen.last_zone_known,
    )


def _locked(seen: TelematicsMatch, person: Person) -> TelematicsMatch:
    locked = (
        TelematicsMatch.objects.select_for_update(of=("self",))
        .select_related("source__site", "machine__site")
        .get(pk=seen.pk)
    )
    require(person, "edit_machines", locked.source.site_id)
    return locked


def _refuse_bad_match(seen: TelematicsMatch, machine: Machine, counts: str) -> None:
    if seen.machine_id is not None:
        raise Refused("matched_already", f"It is matched to {seen.machine}: take that back first.")
    if seen.source.site_id not in (None, machine.site_id):
        raise Refused(
            "other_site",
            f"{machine} is not at {seen.source.site}, and this source is of that site alone.",
            field="machine",
        )
    if machine.withdrawn_at is not None or machine.status == Machine.Status.SOLD:
        raise Refused("not_current", f"{machine} is no machine of ours any more.", field="machine")
    if not HourMeter.objects.filter(machine=machine, counts=counts, to_on=None).exists():
        label = Counter(counts).label if counts in Counter.values else counts
        raise Refused("no_meter", f"{machine} has no meter of {label} hours.", field="counts")
    others = TelematicsMatch.objects.filter(source=seen.source, machine=machine, counts=counts)
    for other in others:
        if not seen.serial_number or other.serial_number != seen.serial_number:
            raise Refused(
                "machine_matched",
                f"{machine} is matched to {other} already: two machines’ hours would mix.",
                field="machine",
            )


def _readings_of(seen: TelematicsMatch, machine: Machine) -> list[HourReading]:
    found = HourReading.objects.filter(
        meter__machine=machine,
        source=HourReading.Source.TELEMATICS,
        source_ref__endswith=seen.mark,
        set_aside_at=None,
    )
    return list(found.select_related("meter__machine__site", "site").order_by("id"))


def _sign(seen: TelematicsMatch, person: Person, at: dt.datetime) -> None:
    seen.decided_by, seen.decided_at = person, at
    seen.save(update_fields=["machine", "counts", "set_aside_reason", "decided_by", "decided_at"])
