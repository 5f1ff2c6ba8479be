"""One hose: what it is, where it is, how it stands, and its history."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from assemblies.models import Assembly, BuildRecord, Position, Stay
from assemblies.queries.builds import SignedBuild, signed_build
from assemblies.queries.trace import Source, sources_of
from assemblies.queries.unmatched import why_unmatched
from fleet.models import Machine, Person, Usage
from fleet.permissions import may
from scheduling.calc.standing import Dates, Standing, standing, what_is_due
from scheduling.models import Due, Failure, Finding, Inspection
from scheduling.queries.due_facts import (
    age_start,
    dates_of,
    hose_label,
    hose_words,
    still_uncertain,
)

MOST = 60


@dataclass(frozen=True, slots=True)
class StayLine:
    """One place a hose was, or the place it is."""

    stay_id: int
    place: str
    position: Position | None
    hose_id: int
    hose_label: str
    hose_words: str
    from_on: dt.date | None
    from_latest_on: dt.date | None
    to_on: dt.date | None
    run_h: Decimal | None
    removal: str
    note: str
    is_open: bool
    elsewhere: bool
    hose_in_reach: bool
    aged_from_on: dt.date | None
    aged_from: str


@dataclass(frozen=True, slots=True)
class HosePage:
    """All that the page of one hose shows."""

    hose: Assembly
    label: str
    words: str
    stay: StayLine | None
    machine: Machine | None
    standing: Standing
    dates: Dates | None
    due_what: str
    uncertain: bool
    hours_here: Decimal | None
    hours_in_all: Decimal | None
    signed: SignedBuild | None
    open_build_id: int | None
    may_amend: bool
    findings: tuple[Finding, ...]
    inspections: tuple[Inspection, ...]
    failures: tuple[Failure, ...]
    stays: tuple[StayLine, ...]
    aged_from_on: dt.date | None
    aged_from: str
    sources: tuple[Source, ...]
    why_unmatched: str


def hose_page(person: Person, hose_id: int, *, today: dt.date) -> HosePage | None:
    """The page of a hose that the person may see. A fixed number of queries."""
    found = Assembly.objects.visible_to(person).filter(pk=hose_id)
    hose = found.select_related("site", "tag", "hose", "spec__header", "spec__hose").first()
    if hose is None:
        return None
    stays = _stays(hose)
    open_stay = next((stay for stay in stays if stay.is_open), None)
    due = Due.objects.filter(assembly=hose).first()
    dates = dates_of(due)
    here = _hours_here(open_stay)
    since, since_what = age_start(hose, open_stay)
    signed = signed_build(person, hose.pk)
    return HosePage(
        hose=hose,
        label=hose_label(hose),
        words=hose_words(hose),
        stay=stay_line(open_stay, person) if open_stay else None,
        machine=open_stay.position.machine if open_stay and open_stay.position else None,
        standing=standing(dates, today),
        dates=dates,
        due_what=what_is_due(dates) if dates else "",
        uncertain=still_uncertain(due),
        hours_here=here,
        hours_in_all=None if here is None else here + hose.earlier_h,
        signed=signed,
        open_build_id=None if signed else _open_build(hose),
        may_amend=signed is not None and may(person, "build", signed.site_id),
        findings=_findings(hose),
        inspections=tuple(hose.inspections.order_by("-inspected_on", "-id")[:20]),
        failures=tuple(hose.failures.order_by("-failed_on", "-id")[:20]),
        stays=tuple(stay_line(stay, person) for stay in stays),
        aged_from_on=since,
        aged_from=since_what,
        sources=sources_of(person, hose),
        why_unmatched=why_unmatched(hose),
    )


def stay_line(stay: Stay, person: Person) -> StayLine:
    """One stay as a page shows it: of other sites' machines and hoses no more than that."""
    elsewhere = not _sees(person, stay.site_id)
    return StayLine(
        stay.pk,
        stay.place,
        None if elsewhere else stay.position,
        stay.assembly_id,
        hose_label(stay.assembly),
        hose_words(stay.assembly),
        stay.from_earliest_on,
        stay.from_latest_on,
        stay.to_on,
        _run(stay),
        stay.get_removal_display(),
        "" if elsewhere else stay.note,
        stay.is_open,
        elsewhere,
        _sees(person, stay.assembly.site_id),
        *age_start(stay.assembly, stay),
    )


def _open_build(hose: Assembly) -> int | None:
    """The build of a hose that is still on the bench, where it was begun by a sheet."""
    found = BuildRecord.objects.filter(assembly=hose, signed_at=None, sheet__isnull=False)
    return found.values_list("pk", flat=True).first()


def _sees(person: Person, site_id: int) -> bool:
    return person.sees_every_site or site_id in person.seen_site_ids


def _run(stay: Stay) -> Decimal | None:
    if stay.from_machine_h is None or stay.to_machine_h is None:
        return None
    run: Decimal = stay.to_machine_h - stay.from_machine_h
    return run


def _stays(hose: Assembly) -> list[Stay]:
    """The stays, the present one first, then the latest."""
    found = Stay.objects.filter(assembly=hose).select_related("assembly__hose", "position__machine")
    return list(found.order_by("-is_open", "-id")[:MOST])


def _hours_here(stay: Stay | None) -> Decimal | None:
    if stay is None or stay.position is None or stay.from_machine_h is None:
        return None
    usage = Usage.objects.filter(
        machine=stay.position.machine_id, counts=stay.position.counts
    ).first()
    if usage is None or usage.machine_h is None:
        return None
    run: Decimal = usage.machine_h - stay.from_machine_h
    return max(run, Decimal(0))


def _findings(hose: Assembly) -> tuple[Finding, ...]:
    """Those that are open; what is to be taken out now stands on top of the page already."""
    said_above = (Finding.Verdict.KEEP, Finding.Verdict.OUT_NOW)
    found = hose.findings.filter(dealt_with_at=None).exclude(verdict__in=said_above)
    return tuple(found.order_by("by_on", "id")[:20])
