"""Writing down what was done: saved as often as the fitter likes, until the piece is signed."""

import datetime as dt
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import transaction

from assemblies.actions.revisions import refuse_wrong_fields
from assemblies.models import BuildBatch, BuildEnd, BuildPhoto, BuildRecord, SpecEnd
from assemblies.queries.build_facts import ends_of
from fleet import audit
from fleet.actions.photos import keep_photos
from fleet.actions.refusals import Refused
from fleet.calc.local_days import local_day
from fleet.models import Person, Photo, TrailEntry
from fleet.permissions import may, require

READINGS_APART_MM = Decimal(1)
LARGEST_MM = Decimal(500)
_HUNDREDTH = Decimal("0.01")
_TOOLS = ("reel", "crimper", "gauge")
_END_TOOLS = ("fitting_lot", "shell_lot", "instrument")


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed of a piece: columns of its record and of each end, photos.

    A column that is not named is left as it stands.
    """

    record: Mapping[str, Any] = field(default_factory=dict)
    ends: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    photos: Sequence[Any] = ()
    photos_id: str = ""


@transaction.atomic
def record_build(
    *, build: BuildRecord, typed: Typed, seen: int, person: Person, at: dt.datetime
) -> BuildRecord:
    """Save what was typed of one piece. Atomic; safe to repeat: the same once more changes nothing.

    `seen` is the version that the person had before them. Refuses: build_signed,
    changed_meanwhile, day_to_come, day_before_sheet, tool_elsewhere, other_part, not_a_maker,
    reading_not_a_size, readings_apart, pressurised_already, field_wrong, and what photos are
    refused for. Needs `build` at the site.
    """
    held = locked_build(build, person)
    ends = ends_of(held)
    before = _standing(held, ends)
    _put(held, ends, typed)
    change = _changes(before, _standing(held, ends))
    photos = _photos(held, typed, person, at)
    if not change[1] and not photos:
        return held
    _refuse_meanwhile(build, seen, held.version)
    _refuse_typed(held, ends, before, at)
    _save(held, ends)
    BuildPhoto.objects.bulk_create([BuildPhoto(build=held, photo=one) for one in photos])
    told = audit.Deed("recorded a build", held, held.site, *change)
    audit.record(told, actor=person, at=at)
    return held


@transaction.atomic
def share_facts(
    *, batch: BuildBatch, typed: Typed, over: bool, person: Person, at: dt.datetime
) -> int:
    """Write what is the same for all into the batch's open pieces; how many it changed. Atomic.

    Only boxes that are still empty are filled, unless `over`. Safe to repeat. Refuses what
    `record_build` refuses. Needs `build` at the site.
    """
    require(person, "build", batch.site_id)
    changed = 0
    for piece in BuildRecord.objects.filter(batch=batch, signed_at=None).order_by("place_in_batch"):
        mine = typed if over else _only_empty(piece, typed)
        done = record_build(build=piece, typed=mine, seen=piece.version, person=person, at=at)
        changed += done.version != piece.version
    return changed


def with_typed(build: BuildRecord, typed: Typed) -> tuple[BuildRecord, dict[str, BuildEnd]]:
    """A piece and its ends as they would stand with what is typed; nothing is saved."""
    held, ends = copy(build), ends_of(build)
    _put(held, ends, typed)
    return held, ends


def locked_build(build: BuildRecord, person: Person) -> BuildRecord:
    """The record as it stands, locked, while it can still be written to. Refuses: build_signed."""
    rows = BuildRecord.objects.select_for_update(of=("self",))
    held = rows.select_related(
        "site", "assembly", "sheet", "batch", "spec__hose", "spec__header"
    ).get(pk=build.pk)
    require(person, "build", held.site_id)
    if held.signed_at is not None:
        stands = "is scrapped" if held.scrapped_reason else "is signed"
        raise Refused(
            "build_signed",
            f"This piece {stands} by {held.signed_by}: it is never changed. What is to be added "
            "stands beside it as an amendment.",
        )
    return held


def _put(held: BuildRecord, ends: Mapping[str, BuildEnd], typed: Typed) -> None:
    for name, value in typed.record.items():
        setattr(held, name, _kept(held, name, value))
    for which, facts in typed.ends.items():
        end = ends[which]
        for name, value in facts.items():
            setattr(end, name, _kept(end, name, value))
        _sum_up(end)


def _kept(row: Any, name: str, value: Any) -> Any:
    """The value as the column keeps it, so that what is judged is what is stored."""
    column = row._meta.get_field(name)
    return column.to_python(value) if isinstance(value, Decimal) else value


def _sum_up(end: BuildEnd) -> None:
    readings = [Decimal(text) for text in end.od_readings]
    if not readings:
        end.crimp_od_mm = end.ovality_mm = None
        return
    end.crimp_od_mm = (sum(readings, Decimal(0)) / len(readings)).quantize(_HUNDREDTH)
    end.ovality_mm = max(readings) - min(readings)


def _standing(held: BuildRecord, ends: Mapping[str, BuildEnd]) -> dict[str, Any]:
    """All that is written of a piece, by name, as the trail keeps it."""
    left_out = {"id", "version", "judged", "build"}
    rows: list[tuple[str, Any]] = [("", held), *((f"{w} ", end) for w, end in ends.items())]
    return {
        f"{prefix}{column.name}": getattr(row, column.attname)
        for prefix, row in rows
        for column in row._meta.concrete_fields
        if column.name not in left_out
    }


def _changes(
    before: Mapping[str, Any], after: Mapping[str, Any]
) -> tuple[dict[str, Any], dict[str, Any]]:
    names = [name for name, value in after.items() if before[name] != value]
    return {name: before[name] for name in names}, {name: after[name] for name in names}


def _refuse_meanwhile(build: BuildRecord, seen: int, version: int) -> None:
    if seen == version:
        return
    last = TrailEntry.objects.filter(
        subject_type=build._meta.label_lower, subject_id=str(build.pk), deed="recorded a build"
    )
    who = last.order_by("-pk").values_list("actor_label", flat=True).first() or "Someone else"
    raise Refused(
        "changed_meanwhile",
        f"{who} saved this piece meanwhile: nothing of yours is saved yet. Look at what stands "
        "now, and write yours again where it still counts.",
    )


def _refuse_typed(
    held: BuildRecord, ends: Mapping[str, BuildEnd], before: Mapping[str, Any], at: dt.datetime
) -> None:
    _refuse_day(held, at)
    _refuse_elsewhere(held, ends)
    _refuse_maker(held)
    for which, end in ends.items():
        _refuse_part(held, end)
        _refuse_readings(end)
        again = end.closed_again and not before[f"{which} closed_again"]
        if again and before["proof_passed"] is not None:
            raise Refused(
                "pressurised_already",
                "This piece was under pressure: a crimp is not closed again after that. Scrap it.",
                field=f"{which.lower()}_closed_again",
            )


def _refuse_day(held: BuildRecord, at: dt.datetime) -> None:
    if held.built_on > local_day(at, held.site.time_zone):
        raise Refused("day_to_come", f"{held.built_on} is still to come.", field="built_on")
    printed = local_day(held.sheet.issued_at, held.site.time_zone) if held.sheet else None
    if printed is not None and held.built_on < printed:
        raise Refused(
            "day_before_sheet",
            f"Its sheet was printed on {printed}: it was not built by it on {held.built_on}.",
            field="built_on",
        )


def _refuse_elsewhere(held: BuildRecord, ends: Mapping[str, BuildEnd]) -> None:
    """Reel, lots and tools are of the site where it is built."""
    named = [(name, getattr(held, name)) for name in _TOOLS]
    named += [
        (f"{which.lower()}_{name}", getattr(end, name))
        for which, end in ends.items()
        for name in _END_TOOLS
    ]
    for name, thing in named:
        if thing is not None and thing.site_id != held.site_id:
            raise Refused("tool_elsewhere", f"{thing} belongs to another site.", field=name)


def _refuse_part(held: BuildRecord, end: BuildEnd) -> None:
    """A lot is of the part that the sheet asks for at that end."""
    wanted = SpecEnd.objects.filter(spec=held.spec_id, which=end.which).first()
    if wanted is None:
        return
    for name, part in (("fitting_lot", "fitting"), ("shell_lot", "shell")):
        lot = getattr(end, name)
        if lot is not None and getattr(lot, f"{part}_id") != getattr(wanted, f"{part}_id"):
            asked = getattr(wanted, part) or f"no loose {part}"
            raise Refused(
                "other_part",
                f"{lot} is another part: the sheet asks for {asked} at end {end.which}.",
                field=f"{end.which.lower()}_{name}",
            )


def _refuse_maker(held: BuildRecord) -> None:
    maker = held.made_by
    if maker is not None and not may(maker, "build", held.site_id):
        raise Refused(
            "not_a_maker", f"{maker} has not the right to build at {held.site}.", field="made_by"
        )


def _refuse_readings(end: BuildEnd) -> None:
    readings, name = [Decimal(text) for text in end.od_readings], f"{end.which.lower()}_od"
    for reading in readings:
        if not 0 < reading <= LARGEST_MM:
            raise Refused("reading_not_a_size", f"{reading} mm is no crimp's OD.", field=name)
    if len(readings) > 1 and max(readings) - min(readings) > READINGS_APART_MM:
        raise Refused(
            "readings_apart",
            f"Readings of {min(readings)} and {max(readings)} mm are not of one crimp: look again "
            "which is typed wrongly.",
            field=name,
        )


def _save(held: BuildRecord, ends: Mapping[str, BuildEnd]) -> None:
    held.version += 1
    for row in (held, *ends.values()):
        refuse_wrong_fields(row)
        row.save()


def _photos(held: BuildRecord, typed: Typed, person: Person, at: dt.datetime) -> list[Photo]:
    """The photos that are new to this piece."""
    if not typed.photos:
        return []
    kept = keep_photos(
        site=held.site,
        sent=typed.photos,
        caption=f"{held.spec.header}, piece {held.place_in_batch}",
        client_id=typed.photos_id,
        person=person,
        at=at,
    )
    there = set(held.photos.values_list("photo_id", flat=True))
    return [photo for photo in kept if photo.pk not in there]


def _only_empty(piece: BuildRecord, typed: Typed) -> Typed:
    ends = ends_of(piece)
    return Typed(
        {name: value for name, value in typed.record.items() if _is_empty(getattr(piece, name))},
        {
            which: {n: v for n, v in facts.items() if _is_empty(getattr(ends[which], n))}
            for which, facts in typed.ends.items()
        },
    )


def _is_empty(value: Any) -> bool:
    return value is None or value in ("", False, [])
