"""One hose: what it is, where it is, how it stands, and its history."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.db.models import QuerySet

from assemblies.models import Assembly, Position, Stay
from assemblies.queries.signed_builds import SignedBuild, build_of, signed
from assemblies.queries.trace import Source, sources_of
from assemblies.queries.unmatched import why_unmatched
from fleet.models import Machine, Person, Usage
from fleet.models.compiled import compiled
from fleet.permissions import may
from scheduling.calc.standing import Dates, Standing, standing, what_is_due
from scheduling.models import Failure, Finding, Inspection
from scheduling.queries.due_facts import (
    age_start,
    dates_of,
    due_of,
    hose_label,
    hose_words,
    still_uncertain,
)

MOST = 60
# The columns of a stay that its line needs.
STAY_SHOWN: Final = (
    *("assembly_id", "place", "position_id", "site_id", "from_earliest_on", "from_latest_on"),
    *("to_on", "from_machine_h", "to_machine_h", "from_corrected_h", "to_corrected_h"),
    *("is_open", "removal", "note"),
)
_REMOVALS: Final = {"": "", **dict(Stay.Removal.choices)}


@dataclass(frozen=True, slots=True)
class StayLine:
    """One place a hose was, or the place it is.

    `noted` are the hours at both ends as they were noted, `counted` as they are known now, where
    a reading that they came from was corrected after the stay had ended.
    """

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
    noted: tuple[Decimal | None, Decimal | None] | None = None
    counted: tuple[Decimal | None, Decimal | None] | None = None


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
    hose = _hose.first(person, hose_id)
    if hose is None:
        return None
    rows = _stays(hose_id)
    stays = tuple(stay_line(stay, person, hose=hose, position=stay.position) for stay in rows)
    open_stay = rows[0] if rows and rows[0].is_open else None
    due = due_of(hose_id)
    dates = dates_of(due)
    here = _hours_here(open_stay)
    since, since_what = age_start(hose, open_stay)
    build = build_of(person, hose_id)
    is_signed = build is not None and build.signed_at is not None
    return HosePage(
        hose=hose,
        label=hose_label(hose),
        words=hose_words(hose),
        stay=stays[0] if open_stay else None,
        machine=open_stay.position.machine if open_stay and open_stay.position else None,
        standing=standing(dates, today),
        dates=dates,
        due_what=what_is_due(dates) if dates else "",
        uncertain=still_uncertain(due),
        hours_here=here,
        hours_in_all=None if here is None else here + hose.earlier_h,
        signed=signed(build) if build and is_signed else None,
        open_build_id=build.pk if build and build.sheet_id and not is_signed else None,
        may_amend=build is not None and is_signed and may(person, "build", build.site_id),
        findings=tuple(_findings(hose_id)),
        inspections=tuple(_inspections(hose_id)),
        failures=tuple(_failures(hose_id)),
        stays=stays,
        aged_from_on=since,
        aged_from=since_what,
        sources=sources_of(person, hose),
        why_unmatched=why_unmatched(hose),
    )


def stay_line(stay: Stay, person: Person, *, hose: Assembly, position: Position | None) -> StayLine:
    """One stay as a page shows it: of other sites' machines and hoses no more than that."""
    elsewhere = not _sees(person, stay.site_id)
    return StayLine(
        stay.pk,
        stay.place,
        None if elsewhere else position,
        stay.assembly_id,
        hose_label(hose),
        hose_words(hose),
        stay.from_earliest_on,
        stay.from_latest_on,
        stay.to_on,
        stay.run_h,
        _REMOVALS[stay.removal],
        "" if elsewhere else stay.note,
        stay.is_open,
        elsewhere,
        _sees(person, hose.site_id),
        *age_start(hose, stay),
        (stay.from_machine_h, stay.to_machine_h) if stay.is_corrected else None,
        (stay.began_h, stay.ended_h) if stay.is_corrected else None,
    )


def _sees(person: Person, site_id: int) -> bool:
    return person.sees_every_site or site_id in person.seen_site_ids


def _hours_here(stay: Stay | None) -> Decimal | None:
    if stay is None or stay.position is None or stay.from_machine_h is None:
        return None
    now = _counter.first(stay.position.machine_id, stay.position.counts)
    return None if now is None else max(now - stay.from_machine_h, Decimal(0))


@compiled
def _hose(person: Person, hose_id: int) -> "QuerySet[Assembly]":
    seen = Assembly.objects.visible_to(person).filter(pk=hose_id)
    return seen.select_related("site", "hose", "spec__header")


@compiled
def _stays(hose_id: int) -> "QuerySet[Stay]":
    """The stays, the present one first, then the latest."""
    place = ("place", "place_no", "counts", "machine__fleet_number")
    found = Stay.objects.filter(assembly=hose_id).select_related("position__machine")
    shown = found.only(*STAY_SHOWN, *(f"position__{name}" for name in place))
    return shown.order_by("-is_open", "-id")[:MOST]


@compiled
def _counter(machine_id: int, counts: str) -> "QuerySet[Usage, Decimal | None]":
    """The machine hours of a counter as they stand."""
    found = Usage.objects.filter(machine=machine_id, counts=counts)
    return found.values_list("machine_h", flat=True)


@compiled
def _findings(hose_id: int) -> "QuerySet[Finding]":
    """Those that are open; what is to be taken out now stands on top of the page already."""
    said_above = (Finding.Verdict.KEEP, Finding.Verdict.OUT_NOW)
    found = Finding.objects.filter(assembly=hose_id, dealt_with_at=None)
    return found.exclude(verdict__in=said_above).order_by("by_on", "id")[:20]


@compiled
def _inspections(hose_id: int) -> "QuerySet[Inspection]":
    shown = ("inspected_on", "taken_back_at", "not_seen", "occasion", "inspector_name")
    found = Inspection.objects.filter(assembly=hose_id).order_by("-inspected_on", "-id")
    return found.only(*shown, "competent_person", "note")[:20]


@compiled
def _failures(hose_id: int) -> "QuerySet[Failure]":
    found = Failure.objects.filter(assembly=hose_id).order_by("-failed_on", "-id")
    return found.only("failed_on", "mode", "cause", "note")[:20]
