"""The page of a recipe's readings: one revision, all crimpers or one, both ends or one."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count

from assemblies.calc.crimp_estimates import Estimates, estimates_of
from assemblies.calc.crimp_runs import Aim, RunStudy
from assemblies.calc.run_picture import RunMark, mark_words, run_scene
from assemblies.calc.run_words import capability_sentence, drift_sentence, waiting_sentence
from assemblies.models import CrimpRecipe, RecipeRevision
from assemblies.queries.capability import (
    CrimperRun,
    ReadEnd,
    aim_of,
    notes_for,
    read_ends,
    runs_of,
    signed_ends,
    sites_seen,
)
from assemblies.queries.trials import parts_of_joint
from fleet.calc.scene import Scene
from fleet.models import Person
from fleet.navigation import address_of

SHOWN_ENDS = 120
COUNTED = 1000


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that the page can be narrowed to."""

    value: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Chosen:
    """What the page is narrowed to; zero and empty: not at all. `before` pages back by end."""

    number: int = 0
    crimper_id: int = 0
    which: str = ""
    before: int = 0


@dataclass(frozen=True, slots=True)
class EndLine:
    """One end in the table, numbered as on the picture."""

    number: int
    end: ReadEnd
    off_mm: float | None
    hose_url: str


@dataclass(frozen=True, slots=True)
class RunLine:
    """One crimper's run in the table: how far it is, what it says."""

    run: CrimperRun
    mark: str
    waiting: str
    capability: str
    trips: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadingsPage:
    """The readings of one revision of a recipe, as the person may see them."""

    recipe_id: int
    title: str
    number: int
    state: str
    aim: Aim | None
    chosen: Chosen
    revisions: tuple[Choice, ...]
    crimpers: tuple[Choice, ...]
    lines: tuple[EndLine, ...]
    runs: tuple[RunLine, ...]
    only: RunStudy | None
    drift: str
    notes: tuple[str, ...]
    elsewhere: int
    earlier: int
    estimates: Estimates | None
    wide: Scene
    narrow: Scene


def readings_page(person: Person, recipe_id: int, chosen: Chosen) -> ReadingsPage | None:
    """The readings of a recipe; a fixed number of queries. None where there is no such recipe."""
    joints = CrimpRecipe.objects.select_related("hose", "fitting", "shell")
    joint = joints.filter(pk=recipe_id).first()
    revisions = list(RecipeRevision.objects.filter(header=recipe_id).order_by("-number"))
    revision = _revision(revisions, chosen.number)
    if joint is None or revision is None:
        return None
    aim, ends = aim_of(revision), _seen(person, revision.pk)
    narrowed = _narrowed(ends, chosen)
    found = read_ends(narrowed)
    shown, runs = found[-SHOWN_ENDS:], runs_of(found, aim)
    lines = _lines(person, shown, aim)
    only = runs[0].study if len(runs) == 1 else None
    kinds = {(run.site_id, run.crimper_id): kind for kind, run in enumerate(runs)}
    parts = parts_of_joint(joint.hose_id, joint.fitting_id, joint.shell_id)
    return ReadingsPage(
        recipe_id=joint.pk,
        title=str(joint),
        number=revision.number,
        state=revision.state,
        aim=aim,
        chosen=chosen,
        revisions=tuple(
            Choice(str(one.number), f"{one.number}, {one.get_state_display()}", one == revision)
            for one in revisions
        ),
        crimpers=_crimpers(ends, chosen),
        lines=lines,
        runs=tuple(_run_line(run, kind) for kind, run in enumerate(runs)),
        only=only,
        drift=_drift(runs, aim),
        notes=notes_for(revision, site_ids=sites_seen(person), most=COUNTED),
        elsewhere=_elsewhere(revision.pk, ends),
        earlier=_earlier(narrowed, shown),
        estimates=estimates_of(parts.joint, parts.layers, revision.crimp_od_mm),
        wide=_scene(lines, kinds, aim, only, wide=True),
        narrow=_scene(lines, kinds, aim, only, wide=False),
    )


def _revision(revisions: Sequence[RecipeRevision], number: int) -> RecipeRevision | None:
    """The numbered revision, else the one that counts, else the newest."""
    if number:
        return next((one for one in revisions if one.number == number), None)
    states = ("approved", "provisional", "replaced", "withdrawn", "draft")
    return min(revisions, key=lambda one: states.index(one.state), default=None)


def _seen(person: Person, revision_id: int) -> Any:
    ends = signed_ends(revision_id)
    return ends if person.sees_every_site else ends.filter(build__site__in=person.seen_site_ids)


def _narrowed(ends: Any, chosen: Chosen) -> Any:
    if chosen.crimper_id:
        ends = ends.filter(build__crimper=chosen.crimper_id)
    if chosen.which:
        ends = ends.filter(which=chosen.which)
    return ends.filter(pk__lt=chosen.before) if chosen.before else ends


def _crimpers(ends: Any, chosen: Chosen) -> tuple[Choice, ...]:
    rows = (
        ends.exclude(build__crimper=None)
        .values_list("build__crimper_id", "build__crimper__code", "build__crimper__site__code")
        .annotate(ends=Count("pk"))
        .order_by("build__crimper_id")
    )
    return tuple(
        Choice(str(pk), f"{code} ({site}), {count} ends", pk == chosen.crimper_id)
        for pk, code, site, count in rows
    )


def _lines(person: Person, shown: Sequence[ReadEnd], aim: Aim | None) -> tuple[EndLine, ...]:
    return tuple(
        EndLine(
            number,
            end,
            None if aim is None else end.point.mean_mm - aim.od_mm,
            address_of("hose", end.hose_id) if _sees(person, end.hose_site_id) else "",
        )
        for number, end in enumerate(shown, 1)
    )


def _sees(person: Person, site_id: int) -> bool:
    return person.sees_every_site or site_id in person.seen_site_ids


def _run_line(run: CrimperRun, kind: int) -> RunLine:
    return RunLine(
        run,
        mark_words(kind),
        waiting_sentence(run.study),
        capability_sentence(run.study),
        run.sentences(recent=False),
    )


def _drift(runs: Sequence[CrimperRun], aim: Aim | None) -> str:
    if not runs:
        return ""
    if len(runs) == 1:
        return drift_sentence(runs[0].study, aim)
    told = [f"{run.crimper or 'Not noted'}: {drift_sentence(run.study, aim)}" for run in runs]
    return " ".join(told)


def _elsewhere(revision_id: int, seen: Any) -> int:
    """How many ends are of sites that are not the person's; counted up to a bound."""
    hidden = signed_ends(revision_id).exclude(pk__in=seen.values("pk"))
    return len(hidden.values("pk")[:COUNTED])


def _earlier(narrowed: Any, shown: Sequence[ReadEnd]) -> int:
    """The end before which there are more; zero where there are none."""
    if not shown:
        return 0
    first = min(end.end_id for end in shown)
    return first if narrowed.filter(pk__lt=first).exists() else 0


def _scene(
    lines: Sequence[EndLine],
    kinds: dict[tuple[int, int | None], int],
    aim: Aim | None,
    only: RunStudy | None,
    *,
    wide: bool,
) -> Scene:
    part = lines if wide else lines[-40:]
    marks = [
        RunMark(
            line.end.point,
            kinds[line.end.site_id, line.end.crimper_id],
            f"{line.end.hose}, end {line.end.which}, {line.end.mean_mm:.2f} mm",
            line.hose_url if wide else "",
        )
        for line in part
    ]
    limits = only.limits if only else None
    known = only.range_limits[-len(part) :] if only and part else ()
    ranges = (None,) * (len(part) - len(known)) + known if known else ()
    if wide:
        return run_scene(marks, aim=aim, limits=limits, ranges=ranges)
    return run_scene(marks, aim=aim, limits=limits, ranges=ranges, width=360, height=400)
