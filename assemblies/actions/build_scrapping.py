"""A failed piece is scrapped and stays on record; a signed one is only ever added to."""

import datetime as dt
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from assemblies.actions.bench_stays import leave_bench
from assemblies.actions.build_writing import locked_build
from assemblies.actions.stock import scrap_from_reel, scrap_pieces
from assemblies.models import Amendment, Assembly, BuildEnd, BuildRecord, Reel, Stay, StockItem
from assemblies.queries.build_facts import ends_of, judgement_of
from assemblies.signals import assembly_changed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import require


@dataclass(frozen=True, slots=True)
class Scrap:
    """Why a piece is scrapped, and what went with it: hose, and the ends already crimped on."""

    reason: str
    hose_used_m: Decimal | None
    ends_crimped: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Scrapped:
    """A scrapped piece, and what its reel has left."""

    build: BuildRecord
    used_m: Decimal
    left_m: Decimal | None

    @property
    def sentence(self) -> str:
        """How much hose is gone, for the person who scrapped it."""
        if not self.used_m or self.left_m is None:
            return "Scrapped. No hose was taken off a reel for it."
        return (
            f"Scrapped. {self.used_m.normalize():f} m of {self.build.reel} are gone; "
            f"{self.left_m.normalize():f} m are left on it."
        )


@transaction.atomic
def scrap_piece(
    *, build: BuildRecord, scrap: Scrap, seen: int, person: Person, at: dt.datetime
) -> Scrapped:
    """Scrap a piece on the bench: the record stays, signed for as scrap. Atomic; sealed.

    Its hose and the parts of its crimped ends are written off. Refuses: build_signed,
    changed_meanwhile, reason_missing, hose_missing, reel_missing, lot_missing, end_unknown, and
    what stock is refused for. Sends `assembly_changed`. Needs `build` at the site.
    """
    held = locked_build(build, person)
    ends = ends_of(held)
    _refuse(held, ends, scrap, seen)
    used = scrap.hose_used_m or Decimal(0)
    _write_off(held, ends, scrap, person, at)
    judged = judgement_of(held, ends)
    held.judged = [asdict(line) for line in judged.lines] if judged else []
    held.hose_used_m, held.scrapped_reason = used, scrap.reason.strip()[:500]
    held.signed_at, held.signed_by = at, person
    held.version += 1
    held.save()
    _scrap_assembly(held, person, at)
    after = {"hose_used_m": used, "reel": held.reel, "ends": ", ".join(scrap.ends_crimped)}
    told = audit.Deed("scrapped a build", held, held.site, {}, after, held.scrapped_reason)
    audit.record(told, actor=person, at=at)
    assembly_changed.send(sender=Assembly, assembly_ids=[held.assembly_id], at=at)
    return Scrapped(held, used, _left(held.reel))


@transaction.atomic
def amend_build(
    *, build: BuildRecord, text: str, reason: str, person: Person, at: dt.datetime
) -> Amendment:
    """Add to a signed build what was forgotten or is known better. Atomic; sealed at once.

    The same words by the same person are added once. Refuses: build_open, text_missing,
    reason_missing. Needs `build` at the site.
    """
    held = BuildRecord.objects.select_for_update(of=("self",)).get(pk=build.pk)
    require(person, "build", held.site_id)
    if held.signed_at is None:
        raise Refused("build_open", "This piece is not signed yet: change the record itself.")
    said, why = text.strip(), reason.strip()
    if not said:
        raise Refused("text_missing", "Write what is to be added.", field="text")
    if not why:
        raise Refused("reason_missing", "Say why it is added.", field="reason")
    facts: dict[str, Any] = {"text": said[:1000], "reason": why[:500], "made_by": person}
    there = Amendment.objects.filter(build=held, **facts).first()
    if there is not None:
        return there
    amendment = Amendment.objects.create(build=held, made_at=at, **facts)
    told = audit.Deed("amended a build", held, held.site, {}, {"text": said}, why)
    audit.record(told, actor=person, at=at)
    return amendment


def _refuse(held: BuildRecord, ends: dict[str, BuildEnd], scrap: Scrap, seen: int) -> None:
    if seen != held.version:
        raise Refused("changed_meanwhile", "This piece was changed meanwhile: look at it again.")
    if not scrap.reason.strip():
        raise Refused("reason_missing", "Say why it is scrapped.", field="reason")
    if scrap.hose_used_m is None:
        raise Refused(
            "hose_missing",
            "Say how many metres of hose are gone; 0 where none was cut.",
            field="scrap_hose_m",
        )
    if scrap.hose_used_m and held.reel is None:
        raise Refused(
            "reel_missing",
            "Name and save the reel it was cut from: its stock is less by what is gone.",
            field="scrap_hose_m",
        )
    for which in scrap.ends_crimped:
        _refuse_end(ends, which)


def _refuse_end(ends: dict[str, BuildEnd], which: str) -> None:
    end = ends.get(which)
    if end is None:
        raise Refused("end_unknown", f"There is no end {which}.", field="ends_crimped")
    if end.fitting_lot is None:
        raise Refused(
            "lot_missing",
            f"Name and save the lot of the fitting at end {which}: a crimped one is never used "
            "again.",
            field="ends_crimped",
        )


def _write_off(
    held: BuildRecord,
    ends: dict[str, BuildEnd],
    scrap: Scrap,
    person: Person,
    at: dt.datetime,
) -> None:
    told: dict[str, Any] = {"reference": f"scrapped build {held.pk}", "person": person, "at": at}
    if held.reel is not None and scrap.hose_used_m:
        scrap_from_reel(reel=held.reel, metres=scrap.hose_used_m, **told)
    for which in sorted(set(scrap.ends_crimped)):
        for lot in (ends[which].fitting_lot, ends[which].shell_lot):
            if lot is not None:
                scrap_pieces(item=lot, pieces=1, **told)


def _scrap_assembly(held: BuildRecord, person: Person, at: dt.datetime) -> None:
    rows = Assembly.objects.select_for_update(of=("self",)).select_related("site")
    assembly = rows.get(pk=held.assembly_id)
    leave_bench(
        assembly=assembly,
        to=Stay.Place.SCRAPPED,
        removal=Stay.Removal.FOUND_BAD,
        note=held.scrapped_reason,
        person=person,
        at=at,
    )
    assembly.condition = Assembly.Condition.SCRAP
    assembly.withdrawn_at, assembly.withdrawn_by = at, person
    assembly.withdrawal_reason = held.scrapped_reason
    assembly.save()
    held.assembly = assembly


def _left(reel: Reel | None) -> Decimal | None:
    item = StockItem.objects.filter(reel=reel).first() if reel else None
    return item.balance if item else None
