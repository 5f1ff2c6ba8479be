"""Conditional releases that stand: on every page and paper of the machine until it is replaced."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from django.db.models import QuerySet

from assemblies.models import Assembly, ConditionalRelease, Stay
from fleet.models.compiled import compiled
from fleet.navigation import About, Alarm, add_alarms

ON_IT: Final = " on this machine"


@dataclass(frozen=True, slots=True)
class StandingRelease:
    """A hose that was released conditionally and is not replaced yet.

    One that is not on a machine yet, or any more, has neither machine nor position.
    """

    release_id: int
    assembly_id: int
    assembly: str
    machine_id: int | None
    machine: str
    position_id: int | None
    position: str
    replace_by_on: dt.date
    limits: str
    reason: str
    authority: str
    released_at: dt.datetime


def standing_releases(machine_ids: Iterable[int]) -> tuple[StandingRelease, ...]:
    """The last release of each hose that is on one of the machines now, the soonest first.

    Three queries at most; two where nothing is released.
    """
    return _standing(About(machines=frozenset(machine_ids)))


def release_of(hose: Assembly) -> ConditionalRelease | None:
    """The last release of a hose, whether it still stands or not."""
    found = ConditionalRelease.objects.filter(assembly=hose).select_related("authority")
    release: ConditionalRelease | None = found.order_by("-id").first()
    return release


def is_open(release: ConditionalRelease, *, today: dt.date) -> bool:
    """Whether a release still stands: its day is not past, or its hose is still on a machine.

    A scrapped hose is released no more.
    """
    if release.assembly.withdrawn_at is not None:
        return False
    on_a_machine = Stay.objects.filter(
        assembly=release.assembly_id, is_open=True, place=Stay.Place.POSITION
    )
    return release.replace_by_on >= today or on_a_machine.exists()


def hoses_meant(about: About) -> set[int]:
    """The hoses that a page is about: those it names, and all that are on its machines."""
    return set(about.hoses).union(_fitted_on(about.machines) if about.machines else ())


@compiled
def _fitted_on(machine_ids: frozenset[int]) -> "QuerySet[Stay, int]":
    on_them = Stay.objects.filter(is_open=True, position__machine__in=machine_ids)
    return on_them.values_list("assembly_id", flat=True)


def _standing(about: About) -> tuple[StandingRelease, ...]:
    last = {row.assembly_id: row for row in _released(hoses_meant(about))}
    if not last:
        return ()
    stays = Stay.objects.filter(assembly__in=last, is_open=True, position__isnull=False)
    places = {stay.assembly_id: stay for stay in stays.select_related("position__machine")}
    found = (_line(row, places.get(row.assembly_id)) for row in last.values())
    return tuple(sorted(found, key=lambda one: (one.replace_by_on, one.release_id)))


@compiled
def _released(hose_ids: set[int]) -> "QuerySet[ConditionalRelease]":
    named = ConditionalRelease.objects.filter(assembly__in=hose_ids, assembly__withdrawn_at=None)
    return named.select_related("assembly", "authority").order_by("id")


def _line(row: ConditionalRelease, stay: Stay | None) -> StandingRelease:
    place = stay.position if stay else None
    return StandingRelease(
        release_id=row.pk,
        assembly_id=row.assembly_id,
        assembly=str(row.assembly),
        machine_id=place.machine_id if place else None,
        machine=str(place.machine) if place else "",
        position_id=place.pk if place else None,
        position=str(place) if place else "",
        replace_by_on=row.replace_by_on,
        limits=row.limits,
        reason=row.reason,
        authority=str(row.authority),
        released_at=row.released_at,
    )


def alarms_of_releases(about: About) -> Iterator[Alarm]:
    """Each standing release as what pages and papers of its machine say."""
    for one in _standing(about):
        at, on_it = (f" at {one.position}", ON_IT) if one.position else ("", "")
        where = f"{one.assembly}{at}"
        yield Alarm(
            rank=2,
            kind="released",
            title="Released conditionally",
            sentence=f"Only within these limits: {_ended(one.limits)} Released by "
            f"{one.authority}: {_ended(one.reason)}",
            on_paper=f"CONDITIONAL RELEASE{on_it}: {where}, replace by "
            f"{one.replace_by_on.isoformat()}; {one.limits}",
            hose_id=one.assembly_id,
            hose=one.assembly,
            machine_id=one.machine_id,
            machine=one.machine,
            place=one.position,
            by_on=one.replace_by_on,
        )


def _ended(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def tell_them() -> None:
    """Have releases stand on the pages and papers of machines."""
    add_alarms("conditional releases", alarms_of_releases)
