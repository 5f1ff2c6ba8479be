"""Builds read: one piece as the bench shows it, a batch, and a signed build with all it says."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from assemblies.calc.build_lines import Judgement, Line, Verdict
from assemblies.calc.sheet import SheetContent
from assemblies.models import (
    Amendment,
    Assembly,
    BuildBatch,
    BuildEnd,
    BuildPhoto,
    BuildRecord,
)
from assemblies.queries.bench_choices import BenchChoices, Proposal, bench_choices, proposals
from assemblies.queries.build_facts import JOINED, content_of_build, ends_of, judgement_of
from assemblies.queries.build_obstacles import obstacles_to_sign, said_beside
from assemblies.queries.capability import notes_for, sites_seen
from assemblies.queries.sheets import content_of
from fleet.models import Person, Photo
from fleet.models.compiled import compiled
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


@dataclass(frozen=True, slots=True)
class SignedEnd:
    """One end of a signed build as it was made."""

    label: str
    recipe: str
    fitting_lot: str
    shell_lot: str
    die_set: str
    insertion_depth_mm: Decimal | None
    external_skive: str
    external_skive_mm: Decimal | None
    internal_skive: str
    internal_skive_mm: Decimal | None
    setting_mm: Decimal | None
    closed_again: bool
    od_readings_mm: tuple[Decimal, ...]
    crimp_od_mm: Decimal | None
    ovality_mm: Decimal | None
    pin: str
    must_pass_pin: str
    mark_visible: bool | None
    instrument: str
    instrument_due_on: dt.date | None


@dataclass(frozen=True, slots=True)
class SignedBuild:
    """Everything a signed build says: what a certificate prints.

    `lines` are the judged lines as they stood when it was signed; none where it was built by no
    sheet. `content` is that sheet's. A scrapped piece is signed for too: `scrapped_reason`.
    """

    build_id: int
    assembly_id: int
    tag: str
    site_id: int
    site: str
    zone: str
    spec_code: str
    spec_revision: int
    spec_title: str
    sheet: str
    sheet_checksum: str
    content: SheetContent | None
    built_on: dt.date
    reel: str
    reel_made: str
    crimper: str
    cut_square: bool
    bore_cleaned_with: str
    cut_length_mm: Decimal | None
    hose_used_m: Decimal | None
    finished_length_mm: Decimal | None
    angle_deg: int | None
    stamped: bool
    flushed_with: str
    cleanliness: str
    proof_pressure_bar: Decimal | None
    proof_hold_s: int | None
    proof_passed: bool | None
    gauge: str
    gauge_due_on: dt.date | None
    made_by: str
    signed_by: str
    signed_at: dt.datetime
    scrapped_reason: str
    note: str
    ends: tuple[SignedEnd, ...]
    lines: tuple[Line, ...]
    amendments: tuple[Amendment, ...]
    photos: tuple[Photo, ...]


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


def signed_build(person: Person, assembly_id: int) -> SignedBuild | None:
    """The signed build of an assembly that the person may see; None where there is none.

    A fixed number of queries.
    """
    build = build_of(person, assembly_id)
    return signed(build) if build is not None and build.signed_at is not None else None


def build_of(person: Person, assembly_id: int) -> BuildRecord | None:
    """The build of an assembly that the person may see, signed or not."""
    return _build_of.first(person, assembly_id)


def signed(build: BuildRecord) -> SignedBuild:
    """All that a build says that was signed, with its parts and tools. Three queries."""
    return SignedBuild(
        **_identity(build),
        **_deeds(build),
        ends=tuple(_signed_end(row) for row in _ends(build.pk)),
        lines=tuple(_line(row) for row in build.judged),
        amendments=tuple(_amendments(build.pk)),
        photos=photos_of(build),
    )


def photos_of(build: BuildRecord) -> tuple[Photo, ...]:
    """The photos of a build, without their content."""
    return tuple(_photos(build.pk))


@compiled
def _build_of(person: Person, assembly_id: int) -> "QuerySet[BuildRecord]":
    seen = Assembly.objects.visible_to(person).filter(pk=assembly_id)
    found = BuildRecord.objects.filter(assembly__in=seen)
    return found.select_related(
        *("assembly", "site", "sheet", "spec__header", "reel", "crimper", "gauge"),
        *("made_by", "signed_by"),
    )


@compiled
def _ends(build_id: int) -> "QuerySet[BuildEnd]":
    joint = (f"recipe__header__{part}" for part in ("hose", "fitting", "shell"))
    parts = ("fitting_lot__fitting", "shell_lot__shell", "instrument")
    return BuildEnd.objects.filter(build=build_id).select_related(*joint, *parts).order_by("which")


@compiled
def _amendments(build_id: int) -> "QuerySet[Amendment]":
    return Amendment.objects.filter(build=build_id).select_related("made_by").order_by("pk")


@compiled
def _photos(build_id: int) -> "QuerySet[Photo]":
    taken = BuildPhoto.objects.filter(build=build_id).values("photo")
    return Photo.objects.filter(pk__in=taken).defer("content").order_by("pk")


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


def _identity(build: BuildRecord) -> dict[str, Any]:
    sheet = build.sheet
    return {
        "build_id": build.pk,
        "assembly_id": build.assembly_id,
        "tag": str(build.assembly.tag_id or ""),
        "site_id": build.site_id,
        "site": build.site.name,
        "zone": build.site.time_zone,
        "spec_code": build.spec.header.code,
        "spec_revision": build.spec.number,
        "spec_title": build.spec.header.title,
        "sheet": f"{build.site.code} {sheet.number}" if sheet else "",
        "sheet_checksum": sheet.checksum if sheet else "",
        "content": content_of_build(build),
        "made_by": str(build.made_by or ""),
        "signed_by": str(build.signed_by or ""),
        "signed_at": build.signed_at,
        "scrapped_reason": build.scrapped_reason,
        "note": build.note,
    }


def _deeds(build: BuildRecord) -> dict[str, Any]:
    """What was done to the whole piece, by the record's own names."""
    plain = (
        *("built_on", "cut_square", "bore_cleaned_with", "cut_length_mm", "hose_used_m"),
        *("finished_length_mm", "angle_deg", "stamped", "flushed_with", "cleanliness"),
        *("proof_pressure_bar", "proof_hold_s", "proof_passed"),
    )
    reel, gauge = build.reel, build.gauge
    return {
        **{name: getattr(build, name) for name in plain},
        "reel": str(reel or ""),
        "reel_made": reel.made_typed if reel else "",
        "crimper": str(build.crimper or ""),
        "gauge": str(gauge or ""),
        "gauge_due_on": gauge.calibration_due_on if gauge else None,
    }


def _signed_end(row: BuildEnd) -> SignedEnd:
    plain = (
        *("die_set", "insertion_depth_mm", "external_skive_mm", "internal_skive_mm", "setting_mm"),
        *("external_skive", "internal_skive", "closed_again", "crimp_od_mm", "ovality_mm"),
        *("pin", "must_pass_pin", "mark_visible"),
    )
    recipe, tool = row.recipe, row.instrument
    return SignedEnd(
        label=row.which,
        recipe=f"{recipe.header} rev {recipe.number}" if recipe else "",
        fitting_lot=str(row.fitting_lot or ""),
        shell_lot=str(row.shell_lot or ""),
        od_readings_mm=tuple(Decimal(text) for text in row.od_readings),
        instrument=str(tool or ""),
        instrument_due_on=tool.calibration_due_on if tool else None,
        **{name: getattr(row, name) for name in plain},
    )


def _line(row: dict[str, str]) -> Line:
    return Line(**{**row, "verdict": Verdict(row["verdict"])})  # type: ignore[arg-type]  # as it was frozen
