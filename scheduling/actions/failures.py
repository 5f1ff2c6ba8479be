"""Reporting a failure in under a minute, and completing it when more is known."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction

from assemblies.models import Assembly, Stay
from fleet import audit
from fleet.actions.downtime import machine_down
from fleet.actions.photos import keep_photos
from fleet.actions.refusals import Refused
from fleet.calc.local_days import local_day
from fleet.models import Downtime, Person, Usage
from fleet.permissions import require
from scheduling.actions.nudges import hoses_changed
from scheduling.models import Failure, FailurePhoto, Finding
from scheduling.queries.failures import REPORT, standing_report

RIGHT: Final = "report_failures"
COMPLETED: Final = (
    *("cause", "cause_stated", "machine_h", "oil_lost_l", "oil_cleaned_up", "fire", "harm"),
    *("cost_minor", "claim_on", "claim", "note"),
)


@dataclass(frozen=True)
class Report:
    """What is known at once: what was seen, when, since when the machine stands (None: it runs)."""

    mode: str
    failed_at: dt.datetime
    down_since: dt.datetime | None = None
    note: str = ""
    photos: "Sequence[UploadedFile[Any]]" = ()


@transaction.atomic
def report_failure(
    *, assembly: Assembly, report: Report, client_id: str, person: Person, at: dt.datetime
) -> Failure:
    """Report that a hose failed in service. Atomic; told twice with one `client_id`, it is one.

    The failure stands on the stay the hose has on a machine, with the last hours read there; the
    machine is noted as down; the hose is to come out until someone says what was done. Refuses:
    mode_unknown, not_on_a_machine, failed_in_the_future, failed_before_fitting, told_elsewhere,
    told_already, and what `machine_down` and `keep_photos` refuse. Needs `report_failures` there.
    """
    locked = Assembly.objects.select_for_update().select_related("site").get(pk=assembly.pk)
    require(person, RIGHT, locked.site_id)
    told = _told_before(locked, client_id, person)
    if told is not None:
        return told
    stay = _stay(locked, report, at)
    _refuse_told(locked, stay)
    failure = Failure(
        assembly=locked,
        stay=stay,
        machine=stay.position.machine if stay.position else None,
        site=locked.site,
        failed_at=report.failed_at,
        failed_on=local_day(report.failed_at, locked.site.time_zone),
        machine_h=_hours(stay),
        mode=report.mode,
        downtime=_down(stay, report, person, at),
        note=report.note.strip()[:1000],
        client_id=client_id,
        reported_at=at,
        reported_by=person,
    )
    failure.save(force_insert=True)
    _photos(failure, report.photos, client_id, person, at)
    _take_out(failure)
    after = {"mode": failure.mode, "on": failure.failed_on, "place": str(stay.position)}
    deed = audit.Deed("reported a failure", locked, locked.site, {}, after, failure.note)
    audit.record(deed, actor=person, at=at)
    hoses_changed([locked.pk], at=at)
    return failure


@transaction.atomic
def complete_failure(
    *,
    failure: Failure,
    facts: Mapping[str, Any],
    photos: "Sequence[UploadedFile[Any]]" = (),
    version: int,
    person: Person,
    at: dt.datetime,
) -> Failure:
    """Add what became known of a failure: cause, hours, oil, harm, cost, claim. Atomic.

    What it said before stays in the trail. Refuses: changed_meanwhile, cause_unknown,
    fire_unknown, oil_below_zero, cost_below_zero, claim_without_whom. Needs `report_failures`.
    """
    locked = Failure.objects.select_for_update().select_related("site").get(pk=failure.pk)
    require(person, RIGHT, locked.site_id)
    if locked.version != version:
        raise Refused(
            "changed_meanwhile", "Someone else changed this report meanwhile: look again."
        )
    _check_facts(facts)
    before, after = audit.changes(locked, {n: v for n, v in facts.items() if n in COMPLETED})
    for name, value in after.items():
        setattr(locked, name, value)
    locked.version += 1
    locked.completed_at, locked.completed_by = at, person
    locked.save()
    _photos(
        locked, photos, f"{locked.client_id}-v{version}" if locked.client_id else "", person, at
    )
    deed = audit.Deed("completed a failure", locked, locked.site, before, after)
    audit.record(deed, actor=person, at=at)
    return locked


def _told_before(assembly: Assembly, client_id: str, person: Person) -> Failure | None:
    if not client_id:
        return None
    told: Failure | None = Failure.objects.filter(reported_by=person, client_id=client_id).first()
    if told is not None and told.assembly_id != assembly.pk:
        raise Refused("told_elsewhere", "This report was sent for another hose already.")
    return told


def _refuse_told(assembly: Assembly, stay: Stay) -> None:
    """Of two who report one failure the second is told: it would count twice, and cost twice."""
    told = standing_report(assembly.pk)
    if told is not None and told.stay_id == stay.pk:
        day = f"{told.failed_on.day} {told.failed_on:%b %Y}"
        raise Refused(
            "told_already",
            f"That it failed on {day} ({told.get_mode_display()}) is reported already, by "
            f"{told.reported_by or 'someone'}: add what you know to that report.",
        )


def _stay(assembly: Assembly, report: Report, at: dt.datetime) -> Stay:
    if report.mode not in Failure.Mode.values:
        raise Refused("mode_unknown", "Say what was seen.", field="mode")
    if report.failed_at > at:
        raise Refused(
            "failed_in_the_future", "It can't have failed at a time to come.", field="failed"
        )
    stays = Stay.objects.filter(assembly=assembly, place=Stay.Place.POSITION, is_open=True)
    stay = stays.select_related("position__machine").first()
    if stay is None:
        raise Refused(
            "not_on_a_machine",
            f"{assembly} is on no machine: a hose that fails on the bench or in store is scrapped, "
            "not reported as a failure in service.",
        )
    fitted = stay.from_earliest_on
    if fitted is not None and local_day(report.failed_at, assembly.site.time_zone) < fitted:
        raise Refused(
            "failed_before_fitting",
            f"It was fitted on {fitted}: it can't have failed there before.",
            field="failed",
        )
    return stay


def _hours(stay: Stay) -> Any:
    """The last hours read on the counter that ages the position; None where never read."""
    assert stay.position is not None
    usage = Usage.objects.filter(machine=stay.position.machine_id, counts=stay.position.counts)
    return usage.values_list("machine_h", flat=True).first()


def _down(stay: Stay, report: Report, person: Person, at: dt.datetime) -> Downtime | None:
    if report.down_since is None or stay.position is None:
        return None
    words = Failure.Mode(report.mode).label
    return machine_down(
        machine=stay.position.machine,
        from_at=report.down_since,
        planned=False,
        reason=f"hose failed: {stay.position}, {words}",
        person=person,
        at=at,
    )


def _photos(
    failure: Failure,
    sent: "Sequence[UploadedFile[Any]]",
    client_id: str,
    person: Person,
    at: dt.datetime,
) -> None:
    kept = keep_photos(
        site=failure.site,
        sent=sent,
        client_id=client_id and f"{client_id}"[:36],
        person=person,
        at=at,
    )
    for photo in kept:
        try:
            with transaction.atomic():
                FailurePhoto.objects.create(failure=failure, photo=photo)
        except IntegrityError:
            continue  # sent twice: it hangs there already


def _take_out(failure: Failure) -> None:
    """A hose that failed comes out, and every page of its machine says so until it is settled."""
    Finding.objects.create(
        assembly=failure.assembly,
        site=failure.site,
        what=f"failed: {failure.get_mode_display()}"[:40],
        verdict=Finding.Verdict.OUT_NOW,
        found_on=failure.failed_on,
        source=REPORT,
        note=failure.note[:500],
        made_by=failure.reported_by,
    )


def _check_facts(facts: Mapping[str, Any]) -> None:
    known = {"cause": Failure.Cause.values, "fire": Failure.Fire.values}
    sentences = {
        "cause": "Say why it failed, or that it isn’t known.",
        "fire": "Say if oil burned.",
    }
    for name, values in known.items():
        if name in facts and facts[name] not in values:
            raise Refused(f"{name}_unknown", sentences[name], field=name)
    for name, words in (("oil_lost_l", "oil"), ("cost_minor", "cost")):
        value = facts.get(name)
        if value is not None and value < 0:
            raise Refused(f"{words}_below_zero", f"The {words} can't be below nothing.", field=name)
    if facts.get("claim", "").strip() and not facts.get("claim_on", "").strip():
        raise Refused("claim_without_whom", "Say on whom the claim is.", field="claim_on")
