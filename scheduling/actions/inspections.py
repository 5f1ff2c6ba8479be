"""Recording a look at a hose, with what was found, and dealing with findings."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db import transaction

from assemblies.models import Assembly, Stay
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import require
from scheduling.actions.nudges import hoses_changed
from scheduling.calc.checklist import Verdict, is_milder
from scheduling.models import Finding, Inspection, Round

MOST_FINDINGS: Final = 40


@dataclass(frozen=True)
class Look:
    """When and how a hose was looked at. `not_seen`: it could not be.

    `inspector` is the competent person who looked, where that is not who records it.
    `client_id` is drawn where it is typed: told twice over a bad connection, it is one look.
    """

    on: dt.date
    not_seen: bool = False
    machine_h: Decimal | None = None
    occasion: str = ""
    note: str = ""
    inspector: str = ""
    client_id: str = ""
    round: Round | None = None


@dataclass(frozen=True)
class Found:
    """One thing found: from the checklist, what it means, and by when."""

    what: str
    verdict: Verdict
    by_on: dt.date | None = None
    note: str = ""


@transaction.atomic
def record_inspection(
    *,
    assembly: Assembly,
    look: Look,
    found: Sequence[Found],
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Inspection:
    """Record one look with its findings, for good. Atomic; told twice by one id, it is one look.

    A look that saw the hose settles what asked for it to be rechecked. Refuses: in_the_future,
    scrapped, not_seen_with_findings, verdict_unknown, what_missing, milder_without_reason,
    day_missing, day_before_look, too_many. Needs `inspect` at the hose's site.
    """
    locked = Assembly.objects.select_for_update().select_related("site").get(pk=assembly.pk)
    require(person, "inspect", locked.site_id)
    told = told_look(person, look.client_id)
    if told is not None:
        return told
    _check(locked, look, found, today)
    inspection = _row(locked, look, person, at)
    inspection.save(force_insert=True)
    if not look.not_seen:
        _settle_rechecks(locked, look.on, person, at)
    Finding.objects.bulk_create([_finding(inspection, one) for one in found])
    after = {"on": look.on, "not_seen": look.not_seen, "found": [one.what for one in found]}
    deed = audit.Deed("looked at a hose", locked, locked.site, {}, after, look.note)
    audit.record(deed, actor=person, at=at)
    hoses_changed([locked.pk], at=at)
    return inspection


def told_look(person: Person, client_id: str) -> Inspection | None:
    """The look that this person told by this id before; None where there is none."""
    if not client_id:
        return None
    return Inspection.objects.filter(inspected_by=person, client_id=client_id).first()


def _row(assembly: Assembly, look: Look, person: Person, at: dt.datetime) -> Inspection:
    stay = Stay.objects.filter(assembly=assembly, is_open=True).first()
    named = look.inspector.strip()
    return Inspection(
        assembly=assembly,
        position=stay.position if stay else None,
        site=assembly.site,
        round=look.round,
        client_id=look.client_id,
        inspected_on=look.on,
        machine_h=look.machine_h,
        not_seen=look.not_seen,
        occasion=look.occasion.strip()[:120],
        inspected_by=person,
        inspector_name=(named or str(person))[:120],
        competent_person=not named and is_competent(person, assembly.site_id),
        note=look.note.strip()[:1000],
        recorded_at=at,
    )


@transaction.atomic
def deal_with_finding(*, finding: Finding, how: str, person: Person, at: dt.datetime) -> Finding:
    """Note that a finding was dealt with, and how. Atomic.

    Refuses: how_missing, dealt_with_already. Needs `inspect` where its hose is now.
    """
    if not how.strip():
        raise Refused("how_missing", "Say what was done about it.", field="how")
    locked = (
        Finding.objects.select_for_update(of=("self",))
        .select_related("site", "assembly")
        .get(pk=finding.pk)
    )
    require(person, "inspect", locked.assembly.site_id)
    if locked.dealt_with_at is not None:
        raise Refused("dealt_with_already", "This finding was dealt with before.")
    locked.dealt_with_at, locked.dealt_with_by = at, person
    locked.dealt_with_how = how.strip()[:300]
    locked.save(update_fields=["dealt_with_at", "dealt_with_by", "dealt_with_how"])
    deed = audit.Deed("dealt with a finding", locked, locked.site, {}, {"how": how.strip()})
    audit.record(deed, actor=person, at=at)
    hoses_changed([locked.assembly_id], at=at)
    return locked


def _check(assembly: Assembly, look: Look, found: Sequence[Found], today: dt.date) -> None:
    if look.on > today:
        raise Refused("in_the_future", f"{look.on} is still to come.", field="on")
    if assembly.withdrawn_at is not None:
        raise Refused("scrapped", f"{assembly} is scrapped.")
    if look.not_seen and found:
        raise Refused("not_seen_with_findings", "It could not be seen: then nothing was found.")
    if len(found) > MOST_FINDINGS:
        raise Refused("too_many", f"At most {MOST_FINDINGS} findings a look.")
    for one in found:
        _check_finding(one, look.on)


def _check_finding(one: Found, on: dt.date) -> None:
    if one.verdict not in Finding.Verdict.values:
        raise Refused("verdict_unknown", f"“{one.verdict}” is not a verdict.", field="verdict")
    if not one.what.strip():
        raise Refused("what_missing", "Say what was found.", field="what")
    if is_milder(one.verdict, one.what) and not one.note.strip():
        raise Refused(
            "milder_without_reason",
            f"The checklist is stricter on “{one.what}”: write in the note why this will do.",
            field="note",
        )
    if one.verdict in (Finding.Verdict.RECHECK, Finding.Verdict.REPLACE):
        if one.by_on is None:
            raise Refused("day_missing", "Say by which day.", field="by_on")
        if one.by_on < on:
            raise Refused("day_before_look", f"{one.by_on} is before the look.", field="by_on")


def _finding(inspection: Inspection, one: Found) -> Finding:
    return Finding(
        assembly=inspection.assembly,
        inspection=inspection,
        site=inspection.site,
        what=one.what.strip()[:40],
        verdict=one.verdict,
        found_on=inspection.inspected_on,
        by_on=one.by_on,
        source="look",
        note=one.note.strip()[:500],
        made_by=inspection.inspected_by,
    )


def _settle_rechecks(assembly: Assembly, on: dt.date, person: Person, at: dt.datetime) -> None:
    asked = Finding.objects.filter(assembly=assembly, verdict="recheck", dealt_with_at=None)
    asked.filter(found_on__lte=on).update(
        dealt_with_at=at, dealt_with_by=person, dealt_with_how=f"looked at again on {on}"
    )


def is_competent(person: Person, site_id: int) -> bool:
    """Whether a posting of the person says that they are a competent person at the site."""
    posts = (post for post in person.posts if post.site_id in (None, site_id))
    return any(post.competent_person for post in posts)
