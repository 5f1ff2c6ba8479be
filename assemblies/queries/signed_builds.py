"""A build read whole once it is signed: by whom, of what, with which tools, and what was judged."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from assemblies.calc.build_lines import Line, Verdict
from assemblies.calc.sheet import SheetContent
from assemblies.models import Amendment, Assembly, BuildEnd, BuildPhoto, BuildRecord
from assemblies.queries.build_facts import content_of_build
from fleet.models import Person, Photo
from fleet.models.compiled import compiled


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
