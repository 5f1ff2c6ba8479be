"""Recalls: a source is suspect, and every hose that came of it gets a finding, at every site."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import Count

from assemblies.models import Assembly
from assemblies.queries.trace_links import hoses_from
from assemblies.queries.trace_subjects import Subject
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import NotAllowed, may_anywhere, require
from scheduling.actions.nudges import hoses_changed
from scheduling.models import Finding, Recall

RIGHT: Final = "recall"
VERDICTS: Final = (Finding.Verdict.RECHECK, Finding.Verdict.REPLACE, Finding.Verdict.OUT_NOW)
BATCH: Final = 2000


@dataclass(frozen=True, slots=True)
class Terms:
    """What is to be done with each hose, by when, and why."""

    verdict: str
    by_on: dt.date | None
    reason: str

    @property
    def day(self) -> dt.date | None:
        """The day asked for; what is to be taken out now has none."""
        return None if self.verdict == Finding.Verdict.OUT_NOW else self.by_on


@dataclass(frozen=True, slots=True)
class Told:
    """Who recalls, on which day, at which moment."""

    person: Person
    today: dt.date
    at: dt.datetime


@transaction.atomic
def recall(
    *,
    subject: Subject,
    verdict: str,
    by_on: dt.date | None,
    reason: str,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Recall:
    """Put a finding on every hose that comes from a source and isn't scrapped, at every site.

    Atomic, with the marks that its dues are stale. Safe to repeat: while a recall of the source
    is open the same is given again, and only hoses that it has not reached yet get a finding.
    Refuses: reason_missing, verdict_unknown, day_missing, day_past, nothing_traced,
    recalled_otherwise (an open recall of it asks for something else). Needs `recall` at the
    source's site, or at some site where all sites share it.
    """
    require_for(person, RIGHT, subject)
    return put_recall(subject, Terms(verdict, by_on, reason), Told(person, today, at))


def put_recall(subject: Subject, terms: Terms, told: Told) -> Recall:
    """The recall itself, without the right: for what withdraws a source in the same step.

    Call inside a transaction, once the right is known.
    """
    refuse_terms(terms, told.today)
    hoses = hoses_from(subject.kind, subject.key).filter(withdrawn_at=None)
    if not hoses.exists():
        raise Refused("nothing_traced", f"No hose that isn't scrapped comes from {subject.label}.")
    made = _open_recall(subject, terms, hoses, told)
    _put_findings(made, hoses, told)
    return made


@transaction.atomic
def end_recall(*, recall: Recall, how: str, person: Person, at: dt.datetime) -> Recall:
    """End a recall: what is still open of it is settled with how it ended. Atomic.

    Refuses: how_missing, ended_already. Needs `recall` where its source is.
    """
    _require_at(person, RIGHT, recall.site_id)
    if not how.strip():
        raise Refused("how_missing", "Say why it ends.", field="how")
    locked = Recall.objects.select_for_update().get(pk=recall.pk)
    if locked.ended_at is not None:
        raise Refused("ended_already", "This recall was ended before.")
    locked.ended_at, locked.ended_by = at, person
    locked.save(update_fields=["ended_at", "ended_by"])
    still_open = Finding.objects.filter(recall=locked, dealt_with_at=None)
    hoses = list(still_open.values_list("assembly_id", flat=True))
    ended = f"recall ended: {how.strip()}"[:300]
    still_open.update(dealt_with_at=at, dealt_with_by=person, dealt_with_how=ended)
    after = {"still open": len(hoses)}
    deed = audit.Deed("ended a recall", locked, locked.site, {}, after, how.strip())
    audit.record(deed, actor=person, at=at)
    if hoses:
        hoses_changed(hoses, at=at)
    return locked


def require_for(person: Person, capability: str, subject: Subject) -> None:
    """Raise `NotAllowed` unless the person has the capability where the source is."""
    _require_at(person, capability, subject.site_id)


def _require_at(person: Person, capability: str, site_id: int | None) -> None:
    if site_id is not None:
        require(person, capability, site_id)
    elif not may_anywhere(person, capability):
        raise NotAllowed(f"This needs the right “{capability.replace('_', ' ')}”.")


def refuse_terms(terms: Terms, today: dt.date) -> None:
    """Refuse what can't be asked of a hose."""
    if not terms.reason.strip():
        raise Refused("reason_missing", "Say what is wrong with it.", field="reason")
    if terms.verdict not in VERDICTS:
        raise Refused("verdict_unknown", "Say what is to be done with each hose.", field="verdict")
    if terms.verdict == Finding.Verdict.OUT_NOW:
        return
    if terms.by_on is None:
        raise Refused("day_missing", "Say by which day.", field="by_on")
    if terms.by_on < today:
        raise Refused("day_past", f"{terms.by_on} is past already.", field="by_on")


def _open_recall(subject: Subject, terms: Terms, hoses: Any, told: Told) -> Recall:
    """The open recall of a source; a new one where there is none. Of two at once one makes it."""
    facts = {"subject": subject.kind, "subject_id": subject.key}
    try:
        with transaction.atomic():
            made = Recall.objects.create(
                **facts,
                subject_label=f"{subject.noun} {subject.label}"[:200],
                reason=terms.reason.strip()[:500],
                verdict=terms.verdict,
                by_on=terms.day,
                places=_places(hoses),
                site_id=subject.site_id,
                made_at=told.at,
                made_on=told.today,
                made_by=told.person,
            )
    except IntegrityError:
        return _same(Recall.objects.get(**facts, ended_at=None), terms)
    after = {"verdict": terms.verdict, "by": terms.day, "places": made.places}
    deed = audit.Deed("recalled", made, made.site, {}, after, made.reason)
    audit.record(deed, actor=told.person, at=told.at)
    return made


def _same(standing: Recall, terms: Terms) -> Recall:
    if (standing.verdict, standing.by_on) == (terms.verdict, terms.day):
        return standing
    by = f" {standing.by_on}" if standing.by_on else ""
    raise Refused(
        "recalled_otherwise",
        f"An open recall of it says “{Finding.Verdict(standing.verdict).label}{by}”: end that one "
        "first.",
    )


def _places(hoses: Any) -> dict[str, int]:
    """How many hoses each site has, by its code, on the day."""
    rows = hoses.order_by().values_list("site__code").annotate(n=Count("pk"))
    return dict(rows.order_by("site__code"))


def _put_findings(made: Recall, hoses: Any, told: Told) -> None:
    """A finding on each hose that has none of this recall, with its own entry in the trail."""
    reached = set(Finding.objects.filter(recall=made).values_list("assembly_id", flat=True))
    wanted = hoses.exclude(pk__in=reached) if len(reached) < BATCH else hoses
    rows = [hose for hose in wanted.select_related("site", "tag") if hose.pk not in reached]
    findings = [_finding(made, hose, told) for hose in rows]
    Finding.objects.bulk_create(findings, batch_size=BATCH)
    audit.record_many(_deeds(made, rows), actor=told.person, at=told.at)
    if rows:
        hoses_changed([hose.pk for hose in rows], at=told.at)


def _finding(made: Recall, hose: Assembly, told: Told) -> Finding:
    return Finding(
        assembly=hose,
        recall=made,
        site=hose.site,
        what="recalled",
        verdict=made.verdict,
        found_on=told.today,
        by_on=made.by_on,
        source=f"recall of {made.subject_label}"[:200],
        note=made.reason,
        made_by=told.person,
    )


def _deeds(made: Recall, rows: Sequence[Assembly]) -> list[audit.Deed]:
    after = {"recall": str(made), "verdict": made.verdict, "by": made.by_on}
    return [audit.Deed("recalled", hose, hose.site, {}, after, made.reason) for hose in rows]
