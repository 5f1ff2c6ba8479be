"""The readings of signed builds as runs: by recipe revision, crimper and end; what trips.

A run is one recipe revision on one crimper: machines are not mixed. Pieces that were scrapped
count too, since they were crimped like the rest.
"""

import datetime as dt
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assemblies.calc.crimp_runs import Aim, CrimpPoint, RunStudy, study_run
from assemblies.calc.run_words import LOOK, trip_sentence
from assemblies.models import BuildEnd, RecipeRevision
from fleet.models import Person

WINDOW_ENDS = 300
RUN_BUILDS = 60
MOST_NOTES = 3
_COLUMNS = (
    *("pk", "build_id", "which", "od_readings", "crimp_od_mm", "closed_again"),
    *("build__built_on", "build__scrapped_reason", "build__site_id", "build__site__code"),
    *("build__crimper_id", "build__crimper__code", "build__assembly_id"),
    *("build__assembly__tag_id", "build__assembly__owner_mark", "build__assembly__site_id"),
)


@dataclass(frozen=True, slots=True)
class ReadEnd:
    """One crimped end of a signed build, with its readings."""

    end_id: int
    build_id: int
    which: str
    readings_mm: tuple[Decimal, ...]
    closed_again: bool
    built_on: dt.date
    scrapped: bool
    site_id: int
    site: str
    crimper_id: int | None
    crimper: str
    hose_id: int
    hose: str
    hose_site_id: int

    @property
    def mean_mm(self) -> Decimal:
        return sum(self.readings_mm, Decimal(0)) / len(self.readings_mm)

    @property
    def range_mm(self) -> Decimal:
        return max(self.readings_mm) - min(self.readings_mm)

    @property
    def point(self) -> CrimpPoint:
        return CrimpPoint(self.build_id, tuple(float(mm) for mm in self.readings_mm))


@dataclass(frozen=True, slots=True)
class CrimperRun:
    """The ends of one revision on one crimper, the first one first, studied."""

    site_id: int
    site: str
    crimper_id: int | None
    crimper: str
    ends: tuple[ReadEnd, ...]
    study: RunStudy

    @property
    def mean_mm(self) -> float:
        return sum(end.point.mean_mm for end in self.ends) / len(self.ends)

    def sentences(self, *, recent: bool) -> tuple[str, ...]:
        """The rules that trip, in words; the recent ones only for who builds next."""
        points = [end.point for end in self.ends]
        found = self.study.recent if recent else self.study.trips
        return tuple(
            trip_sentence(trip, self.study, points, _days(self.ends[trip.first : trip.last + 1]))
            for trip in found
        )


def notes_for(
    recipe_revision: RecipeRevision,
    *,
    site_ids: Container[int] | None = None,
    most: int = MOST_NOTES,
) -> tuple[str, ...]:
    """The rules that tripped at the last ends of each crimper, in words. One query, bounded.

    Builds of all sites count, since they share the recipe. `site_ids` names the sites whose
    crimpers may be named; None names all. Beyond `most` notes it says how many more there are.
    """
    runs = runs_of(read_ends(signed_ends(recipe_revision.pk)), aim_of(recipe_revision))
    found = [
        f"Crimp run on {_crimper_words(run, site_ids)}: {sentence}"
        for run in runs
        for sentence in run.sentences(recent=True)
    ]
    more = len(found) - most
    told = found[:most] + ([f"And {more} more, on the recipe’s page."] if more > 0 else [])
    return (*told[:-1], f"{told[-1]} {LOOK}") if told else ()


def sites_seen(person: Person) -> frozenset[int] | None:
    """The sites whose crimpers a person may see named; None for all."""
    return None if person.sees_every_site else frozenset(person.seen_site_ids)


def signed_ends(revision_id: int) -> Any:
    """The ends of all signed builds by a recipe revision, of every site."""
    return BuildEnd.objects.filter(recipe_id=revision_id, build__signed_at__isnull=False)


def read_ends(ends: Any, *, most: int = WINDOW_ENDS) -> tuple[ReadEnd, ...]:
    """The latest of these ends that have readings, the first one first. One query."""
    rows = ends.order_by("-pk").values_list(*_COLUMNS)[:most]
    found = [end for row in rows if (end := _read(row)).readings_mm]
    return tuple(sorted(found, key=lambda end: (end.built_on, end.build_id, end.which)))


def runs_of(ends: Sequence[ReadEnd], aim: Aim | None) -> tuple[CrimperRun, ...]:
    """The ends parted by crimper, each run studied over its last 60 builds."""
    by_crimper: dict[tuple[int, int], list[ReadEnd]] = {}
    for end in ends:
        by_crimper.setdefault((end.site_id, end.crimper_id or 0), []).append(end)
    return tuple(_run(own, aim) for _, own in sorted(by_crimper.items()))


def aim_of(revision: RecipeRevision) -> Aim | None:
    """What a revision asks of the mean OD; None where it states none."""
    od = revision.crimp_od_mm
    if od is None:
        return None
    low, high = od - revision.tolerance_minus_mm, od + revision.tolerance_plus_mm
    return Aim(float(od), float(low), float(high))


def _run(own: list[ReadEnd], aim: Aim | None) -> CrimperRun:
    builds = list(dict.fromkeys(end.build_id for end in own))[-RUN_BUILDS:]
    kept = tuple(end for end in own if end.build_id in set(builds))
    first = kept[0]
    study = study_run([end.point for end in kept], aim)
    return CrimperRun(first.site_id, first.site, first.crimper_id, first.crimper, kept, study)


def _read(row: tuple[Any, ...]) -> ReadEnd:
    pk, build_id, which, readings, od, closed_again, built_on, scrapped, site_id, site = row[:10]
    crimper_id, crimper, hose_id, tag, mark, hose_site_id = row[10:]
    return ReadEnd(
        pk,
        build_id,
        which,
        tuple(_sizes(readings, od)),
        closed_again,
        built_on,
        bool(scrapped),
        site_id,
        site,
        crimper_id,
        crimper or "",
        hose_id,
        tag or mark or f"untagged no. {hose_id}",
        hose_site_id,
    )


def _sizes(readings: Any, od: Decimal | None) -> Iterator[Decimal]:
    """The readings as they were typed; a mean alone is one reading."""
    if readings:
        yield from (Decimal(str(mm)) for mm in readings)
    elif od is not None:
        yield od


def _crimper_words(run: CrimperRun, site_ids: Container[int] | None) -> str:
    if site_ids is not None and run.site_id not in site_ids:
        return "a crimper at another site"
    return f"crimper {run.crimper}" if run.crimper else "a crimper that was not noted"


def _days(ends: Sequence[ReadEnd]) -> str:
    first, last = (end.built_on.isoformat() for end in (ends[0], ends[-1]))
    return first if first == last else f"{first} to {last}"
