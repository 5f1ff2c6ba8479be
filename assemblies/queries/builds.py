"""Builds on the bench read: one piece as its page shows it, and a batch."""

import datetime as dt
from dataclasses import dataclass

from assemblies.calc.build_lines import Judgement, Line, Verdict
from assemblies.calc.sheet import SheetContent
from assemblies.models import BuildBatch, BuildEnd, BuildRecord
from assemblies.queries.bench_choices import BenchChoices, Proposal, bench_choices, proposals
from assemblies.queries.build_facts import JOINED, content_of_build, ends_of, judgement_of
from assemblies.queries.build_obstacles import obstacles_to_sign, said_beside
from assemblies.queries.capability import notes_for, sites_seen
from assemblies.queries.sheets import content_of
from assemblies.queries.signed_builds import photos_of
from fleet.models import Person, Photo
from fleet.permissions import may


@dataclass(frozen=True, slots=True)
class PiecePage:
    """One piece on the bench as it stands."""

    build: BuildRecord
    ends: dict[str, BuildEnd]
    content: SheetContent
    judged: Judgement
    obstacles: tuple[str, ...]
    notes: tuple[str, ...]
    choices: BenchChoices
    proposals: dict[str, Proposal]
    photos: tuple[Photo, ...]
    siblings: tuple[tuple[int, int, str], ...]
    may_build: bool

    @property
    def wrong(self) -> tuple[str, ...]:
        """What is out, and what stands in the way beside what is judged: each a sentence."""
        unwritten = {f"{line.named}: {line.sentence}" for line in self._missing}
        return tuple(one for one in self.obstacles if one not in unwritten)

    @property
    def unwritten(self) -> tuple[str, ...]:
        """The names of what is not written yet."""
        return tuple(line.named for line in self._missing)

    @property
    def _missing(self) -> tuple[Line, ...]:
        return tuple(line for line in self.judged.obstacles if line.verdict is Verdict.MISSING)

    @property
    def next_id(self) -> int | None:
        """The next piece of the batch that is still open, after this one first."""
        here = self.build.place_in_batch
        open_ones = [(place, pk) for place, pk, state in self.siblings if state == "open"]
        later = [pk for place, pk in open_ones if place > here]
        earlier = [pk for place, pk in open_ones if place < here]
        return next(iter([*later, *earlier]), None)


@dataclass(frozen=True, slots=True)
class PieceLine:
    """One piece in its batch."""

    build_id: int
    assembly_id: int
    place: int
    label: str
    state: str
    written: int
    obstacles: tuple[str, ...]
    scrapped_reason: str


@dataclass(frozen=True, slots=True)
class BatchPage:
    """All pieces of a batch, and what they share."""

    batch: BuildBatch
    content: SheetContent
    pieces: tuple[PieceLine, ...]
    first: PiecePage | None
    first_off_waits: bool
    may_build: bool

    @property
    def ready(self) -> int:
        """How many could be signed now."""
        return sum(one.state == "open" and not one.obstacles for one in self.pieces)


def build_for(person: Person, build_id: int) -> BuildRecord | None:
    """One build, where the person may see its site."""
    seen = BuildRecord.objects.visible_to(person).filter(pk=build_id)
    joined = seen.select_related(
        *JOINED, "sheet__position__machine", "sheet__position__required_spec"
    )
    found: BuildRecord | None = joined.first()
    return found


def batch_for(person: Person, batch_id: int) -> BuildBatch | None:
    """One batch, where the person may see its site."""
    seen = BuildBatch.objects.visible_to(person).filter(pk=batch_id)
    found: BuildBatch | None = seen.select_related(
        *("site", "sheet__spec__header", "begun_by", "first_off_checked_by")
    ).first()
    return found


def piece_page(person: Person, build: BuildRecord) -> PiecePage | None:
    """One open piece as the bench shows it; None where it was built by no sheet."""
    content, ends = content_of_build(build), ends_of(build)
    judged = judgement_of(build, ends)
    if content is None or judged is None:
        return None
    return PiecePage(
        build=build,
        ends=ends,
        content=content,
        judged=judged,
        obstacles=obstacles_to_sign(build, judged, ends),
        notes=(*said_beside(build, ends), *_run_notes(person, ends)),
        choices=bench_choices(person, build, ends),
        proposals=proposals(build, ends, content),
        photos=photos_of(build),
        siblings=_siblings(build),
        may_build=may(person, "build", build.site_id),
    )


def batch_page(person: Person, batch: BuildBatch) -> BatchPage:
    """A batch with how each of its pieces stands."""
    rows = list(batch.builds.select_related(*JOINED).order_by("place_in_batch"))
    pieces = tuple(_piece_line(row) for row in rows)
    open_rows = [row for row in rows if row.signed_at is None]
    first = build_for(person, open_rows[0].pk) if open_rows else None
    return BatchPage(
        batch=batch,
        content=content_of(batch.sheet),
        pieces=pieces,
        first=piece_page(person, first) if first else None,
        first_off_waits=batch.quantity > 1 and batch.first_off_checked_at is None,
        may_build=may(person, "build", batch.site_id),
    )


def _run_notes(person: Person, ends: dict[str, BuildEnd]) -> tuple[str, ...]:
    """What the readings of earlier builds by these recipes say, each recipe once."""
    recipes = {end.recipe.pk: end.recipe for end in ends.values() if end.recipe}
    sites = sites_seen(person)
    return tuple(
        sentence for one in recipes.values() for sentence in notes_for(one, site_ids=sites)
    )


def _siblings(build: BuildRecord) -> tuple[tuple[int, int, str], ...]:
    if build.batch_id is None:
        return ()
    rows = BuildRecord.objects.filter(batch=build.batch_id).order_by("place_in_batch")
    told = rows.values_list("place_in_batch", "pk", "signed_at", "scrapped_reason")
    return tuple((place, pk, _state(at, why)) for place, pk, at, why in told)


def _state(signed_at: dt.datetime | None, scrapped_reason: str) -> str:
    if signed_at is None:
        return "open"
    return "scrapped" if scrapped_reason else "signed"


def _piece_line(build: BuildRecord) -> PieceLine:
    state = _state(build.signed_at, build.scrapped_reason)
    ends = ends_of(build) if state == "open" else {}
    judged = judgement_of(build, ends) if state == "open" else None
    return PieceLine(
        build_id=build.pk,
        assembly_id=build.assembly_id,
        place=build.place_in_batch,
        label=str(build.assembly.tag_id or ""),
        state=state,
        written=_written(judged),
        obstacles=obstacles_to_sign(build, judged, ends) if state == "open" else (),
        scrapped_reason=build.scrapped_reason,
    )


def _written(judged: Judgement | None) -> int:
    """How much of a piece is written down, in hundredths."""
    if judged is None or not judged.lines:
        return 0
    there = sum(line.verdict is not Verdict.MISSING for line in judged.lines)
    return 100 * there // len(judged.lines)
