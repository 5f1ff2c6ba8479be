"""What must be shouted about a machine: findings that say take out now, and standing releases."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from assemblies.models import Assembly, Position, Stay
from assemblies.queries.fitting_obstacles import add_bar
from assemblies.queries.page_subjects import of_hoses
from assemblies.queries.releases import ON_IT, StandingRelease, hoses_meant, standing_releases
from fleet.models import Downtime, Person
from fleet.models.compiled import compiled
from fleet.navigation import About, Alarm, add_alarms, lead_by
from scheduling.models import Exemption, Failure, Finding, Round
from scheduling.queries.due_facts import hose_label


@dataclass(frozen=True, slots=True)
class OutNow:
    """An open finding that says take out now, and where its hose is."""

    finding_id: int
    hose_id: int
    hose: str
    machine_id: int | None
    machine: str
    place: str
    what: str
    note: str
    found_on: dt.date
    recalled: bool


@dataclass(frozen=True, slots=True)
class Alarms:
    """What stands on every page of a machine until it is dealt with."""

    out_now: tuple[OutNow, ...]
    releases: tuple[StandingRelease, ...]

    def __bool__(self) -> bool:
        return bool(self.out_now or self.releases)


def alarms_of(machine_id: int) -> Alarms:
    """The alarms of one machine. A fixed number of queries."""
    about = About(machines=frozenset([machine_id]))
    return Alarms(_out_now(about), standing_releases(about.machines))


def alarms_of_findings(about: About) -> Iterator[Alarm]:
    """Each open finding that says take out now, as what pages and papers of its machine say."""
    for one in _out_now(about):
        where, on_it = (f"{one.hose} at {one.place}", ON_IT) if one.place else (one.hose, "")
        said = f"{one.what.capitalize()}: {one.note}" if one.note else one.what.capitalize()
        yield Alarm(
            rank=1,
            kind="out",
            title="Take out now",
            sentence=f"{said.rstrip('.')}. Found {one.found_on.isoformat()}.",
            on_paper=f"TAKE OUT NOW{on_it}: {where}; {one.what}, found {one.found_on.isoformat()}",
            hose_id=one.hose_id,
            hose=one.hose,
            machine_id=one.machine_id,
            machine=one.machine,
            place=one.place,
            finding_id=one.finding_id,
        )


def tell_them() -> None:
    """Have grave findings stand on the pages and papers of machines, those of rounds too."""
    add_alarms("findings", alarms_of_findings)
    add_bar("take_out_now", _why_not_on)
    lead_by("finding_id", way=_by_finding)
    lead_by("round_id", way=_by_round)
    lead_by("failure_id", way=_by_failure)
    lead_by("downtime_id", way=_by_downtime)
    lead_by("exemption_id", way=_by_exemption)


def _why_not_on(hose: Assembly) -> str:
    """Why a hose may not be fitted: an open finding says take out now."""
    found = Finding.objects.filter(assembly=hose, verdict=Finding.Verdict.OUT_NOW)
    grave = found.filter(dealt_with_at=None).first()
    if grave is None:
        return ""
    return f"{hose} is to be taken out of service ({grave.what}): settle that finding first."


def _by_finding(person: Person, parts: Mapping[str, Any]) -> About:
    found = Finding.objects.filter(pk=parts["finding_id"])
    return of_hoses(person, found.values_list("assembly", flat=True))


def _by_round(person: Person, parts: Mapping[str, Any]) -> About:
    found = Round.objects.visible_to(person).filter(pk=parts["round_id"])
    return About(machines=frozenset(found.values_list("machine", flat=True)))


def _by_failure(person: Person, parts: Mapping[str, Any]) -> About:
    """A failure is about the hose that failed, and about the machine that it failed on."""
    found = Failure.objects.visible_to(person).filter(pk=parts["failure_id"])
    rows = list(found.values_list("assembly", "machine"))
    machines = frozenset(machine for _, machine in rows if machine is not None)
    return of_hoses(person, [hose for hose, _ in rows]) | About(machines=machines)


def _by_downtime(person: Person, parts: Mapping[str, Any]) -> About:
    found = Downtime.objects.visible_to(person).filter(pk=parts["downtime_id"])
    return About(machines=frozenset(found.values_list("machine", flat=True)))


def _by_exemption(person: Person, parts: Mapping[str, Any]) -> About:
    """An exemption of one hose, one position or one machine; a wider one is about none."""
    found = Exemption.objects.filter(pk=parts["exemption_id"])
    rows = list(found.values_list("assembly", "machine", "position__machine"))
    machines = frozenset(one for row in rows for one in row[1:] if one is not None)
    hoses = [hose for hose, *_ in rows if hose is not None]
    return of_hoses(person, hoses) | About(machines=machines)


def _out_now(about: About) -> tuple[OutNow, ...]:
    """Three queries at most; two where nothing is to be taken out."""
    rows = _grave(hoses_meant(about))
    places = _places([row.assembly_id for row in rows]) if rows else {}
    return tuple(_line(row, places.get(row.assembly_id)) for row in rows)


@compiled
def _grave(hose_ids: set[int]) -> "QuerySet[Finding]":
    """The findings that say take out now and are not dealt with, the oldest first."""
    grave = Finding.objects.filter(
        assembly__in=hose_ids,
        verdict=Finding.Verdict.OUT_NOW,
        dealt_with_at=None,
        assembly__withdrawn_at=None,
    )
    return grave.select_related("assembly__hose").order_by("found_on", "id")


def _places(hose_ids: Sequence[int]) -> dict[int, Position]:
    stays = Stay.objects.filter(assembly__in=hose_ids, is_open=True)
    found = stays.select_related("position__machine")
    return {stay.assembly_id: stay.position for stay in found if stay.position is not None}


def _line(row: Finding, place: Position | None) -> OutNow:
    return OutNow(
        finding_id=row.pk,
        hose_id=row.assembly_id,
        hose=hose_label(row.assembly),
        machine_id=place.machine_id if place else None,
        machine=str(place.machine) if place else "",
        place=str(place) if place else "",
        what=row.what,
        note=row.note,
        found_on=row.found_on,
        recalled=row.recall_id is not None,
    )
