"""Signing: a piece that is good by its sheet is sealed, tagged, taken from stock, put in store."""

import datetime as dt
from collections import Counter
from dataclasses import asdict, dataclass
from typing import Any

from django.db import IntegrityError, transaction

from assemblies.actions.bench_stays import leave_bench
from assemblies.actions.build_writing import locked_build
from assemblies.actions.stock import use_from_reel, use_pieces
from assemblies.actions.tags import blank_tag, new_tag
from assemblies.calc.build_lines import Judgement
from assemblies.calc.sheet import EndLine, SheetContent
from assemblies.calc.sheet_words import bars, millimetres
from assemblies.models import Assembly, BuildBatch, BuildEnd, BuildRecord, Stay
from assemblies.queries.build_facts import content_of_build, ends_of, judgement_of
from assemblies.queries.build_obstacles import first_off_faults, first_off_of, obstacles_to_sign
from assemblies.signals import build_signed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import require


@dataclass(frozen=True, slots=True)
class Signing:
    """What is said when a piece is signed: its tag (empty: one is drawn), where it goes."""

    tag: str = ""
    to: str = Stay.Place.STORE
    store_place: str = ""


@dataclass(frozen=True, slots=True)
class Signed:
    """How signing one piece of a batch went: `why_not` is empty where it is signed."""

    build_id: int
    place: int
    why_not: tuple[str, ...] = ()


class NotGood(Refused):
    """A piece that can't be signed as good; each obstacle is a sentence."""

    def __init__(self, obstacles: tuple[str, ...]) -> None:
        super().__init__("not_good", "Not signed. " + " ".join(obstacles))
        self.obstacles = obstacles


@transaction.atomic
def sign_build(
    *, build: BuildRecord, seen: int, signing: Signing, person: Person, at: dt.datetime
) -> BuildRecord:
    """Sign a piece as good by its frozen sheet. Atomic, all or nothing; sealed from then on.

    The piece gets its tag, its facts and its place; reel and lots give what was used. Signed
    again by the same person it stays as it is; of two at once one signs. Refuses: build_signed,
    changed_meanwhile, not_good (with every obstacle), place_unknown, what a tag is refused for,
    and what stock is refused for (not_enough, item_withdrawn…). Sends `build_signed`. Needs
    `build` at the site; who signs need not be who made it.
    """
    done = _signed_before(build, person)
    if done is not None:
        return done
    held = locked_build(build, person)
    if seen != held.version:
        raise Refused(
            "changed_meanwhile", "This piece was changed meanwhile: look at it again, then sign."
        )
    if signing.to not in (Stay.Place.STORE, Stay.Place.BENCH):
        raise Refused("place_unknown", "Say where it goes: into store, or stays here.", field="to")
    ends, content = ends_of(held), content_of_build(held)
    judged = judgement_of(held, ends)
    obstacles = obstacles_to_sign(held, judged, ends)
    if obstacles or content is None or judged is None:
        raise NotGood(obstacles)
    assembly = _finished(held, content, signing, person, at)
    _take_from_stock(held, ends, str(assembly.tag_id), person, at)
    _seal(held, judged, person, at)
    after = {"tag": assembly.tag_id, "spec": held.spec, "reel": held.reel, "to": signing.to}
    told = audit.Deed("signed a build", held, held.site, {}, after)
    audit.record(told, actor=person, at=at)
    build_signed.send(sender=BuildRecord, assembly_ids=[assembly.pk], at=at)
    return held


def sign_batch(
    *, batch: BuildBatch, signing: Signing, person: Person, at: dt.datetime
) -> tuple[Signed, ...]:
    """Sign all pieces of a batch that are good; the others say why not. Each piece in a
    transaction of its own. Safe to repeat. Tags are drawn. Needs `build` at the site."""
    require(person, "build", batch.site_id)
    found = []
    for piece in batch.builds.filter(signed_at=None).order_by("place_in_batch"):
        try:
            sign_build(build=piece, seen=piece.version, signing=signing, person=person, at=at)
        except NotGood as refusal:
            found.append(Signed(piece.pk, piece.place_in_batch, refusal.obstacles))
        except Refused as refusal:
            found.append(Signed(piece.pk, piece.place_in_batch, (refusal.sentence,)))
        else:
            found.append(Signed(piece.pk, piece.place_in_batch))
    return tuple(found)


@transaction.atomic
def check_first_off(*, batch: BuildBatch, person: Person, at: dt.datetime) -> BuildBatch:
    """Say that the first piece of a batch was looked at and is right. Atomic; safe to repeat.

    Refuses: no_first_off, first_off_not_good (with what is wrong of its crimp). Needs `build`.
    """
    require(person, "build", batch.site_id)
    locked = BuildBatch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
    if locked.first_off_checked_at is not None:
        return locked
    first = first_off_of(locked)
    if first is None:
        raise Refused("no_first_off", "Every piece of this batch is scrapped: begin another.")
    faults = first_off_faults(first)
    if faults:
        raise Refused(
            "first_off_not_good",
            f"Piece {first.place_in_batch} is not right yet: {' '.join(faults)}",
        )
    locked.first_off_checked_at, locked.first_off_checked_by = at, person
    locked.save(update_fields=["first_off_checked_at", "first_off_checked_by"])
    after = {"piece": first.place_in_batch}
    told = audit.Deed("checked the first off", locked, locked.site, {}, after)
    audit.record(told, actor=person, at=at)
    return locked


def _signed_before(build: BuildRecord, person: Person) -> BuildRecord | None:
    """The piece as this person signed it before, where the answer was lost on its way."""
    found = BuildRecord.objects.filter(pk=build.pk, signed_by=person, scrapped_reason="").first()
    if found is not None:
        require(person, "build", found.site_id)
    return found


def _finished(
    held: BuildRecord, content: SheetContent, signing: Signing, person: Person, at: dt.datetime
) -> Assembly:
    """The assembly with its tag, its facts and its place."""
    rows = Assembly.objects.select_for_update(of=("self",)).select_related("site")
    assembly = rows.get(pk=held.assembly_id)
    typed = signing.tag.strip()
    tag = blank_tag(typed, held.site_id) if typed else new_tag()
    for name, value in {**_facts(held, content), "tag": tag}.items():
        setattr(assembly, name, value)
    assembly.condition = Assembly.Condition.USABLE
    assembly.version += 1
    try:
        with transaction.atomic():
            assembly.save()
    except IntegrityError as error:
        raise Refused("tag_used", f"The tag {tag} is on another hose.", field="tag") from error
    held.assembly = assembly
    if signing.to == Stay.Place.STORE:
        leave_bench(
            assembly=assembly,
            to=Stay.Place.STORE,
            removal=Stay.Removal.MOVED,
            store_place=signing.store_place.strip()[:60],
            person=person,
            at=at,
        )
    return assembly


def _facts(held: BuildRecord, content: SheetContent) -> dict[str, Any]:
    """What the assembly is, by its sheet and its reel."""
    near, far = content.ends
    revision = held.spec.hose.revisions.filter(state="approved").first()
    reel = held.reel
    made = ("made_earliest_on", "made_latest_on", "made_precision", "made_typed")
    return {
        "spec": held.spec,
        "hose": held.spec.hose,
        "hose_type": (content.hose.type_name or content.hose.product)[:40],
        "size_dn": revision.size_dn if revision else None,
        "size_typed": content.hose.size_name[:40],
        "length_mm": content.length.length_mm,
        "length_typed": f"{millimetres(content.length.length_mm)} {content.length.basis.value}",
        "working_pressure_bar": content.pressure.working_bar,
        "pressure_typed": bars(content.pressure.working_bar),
        "end_a": _end_words(near),
        "end_b": _end_words(far),
        "layline": reel.layline if reel else "",
        **({name: getattr(reel, name) for name in made} if reel else {}),
        "made_confirmed_by": reel.made_confirmed_by if reel else None,
        **{"built_earliest_on": held.built_on, "built_latest_on": held.built_on},
        **{"built_precision": "day", "built_typed": "", "built_confirmed_by": held.made_by},
    }


def _end_words(end: EndLine) -> str:
    return " ".join(part for part in (end.connection, end.size, end.form) if part)[:120]


def _take_from_stock(
    held: BuildRecord, ends: dict[str, BuildEnd], tag: str, person: Person, at: dt.datetime
) -> None:
    told: dict[str, Any] = {"reference": tag, "person": person, "at": at}
    if held.reel is not None and held.hose_used_m:
        use_from_reel(reel=held.reel, metres=held.hose_used_m, **told)
    lots = [lot for end in ends.values() for lot in (end.fitting_lot, end.shell_lot) if lot]
    by_id = {lot.pk: lot for lot in lots}
    for lot_id, pieces in sorted(Counter(lot.pk for lot in lots).items()):
        use_pieces(item=by_id[lot_id], pieces=pieces, **told)


def _seal(held: BuildRecord, judged: Judgement, person: Person, at: dt.datetime) -> None:
    held.judged = [asdict(line) for line in judged.lines]
    held.signed_at, held.signed_by = at, person
    held.version += 1
    held.save()
