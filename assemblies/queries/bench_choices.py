"""What a fitter can choose from at the bench: reels, lots, tools, people; the setting to dial."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db.models import Q

from assemblies.calc.sheet import SheetContent
from assemblies.models import (
    BuildEnd,
    BuildRecord,
    Crimper,
    Instrument,
    Reel,
    StockItem,
)
from assemblies.queries.stock import lots_for, reels_for
from assemblies.queries.trials import learnt_dial
from fleet.models import Person, Site


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to choose, and how it is called in the list."""

    thing: Any
    words: str

    @property
    def id(self) -> int:
        return int(self.thing.pk)


@dataclass(frozen=True, slots=True)
class BenchChoices:
    """What may be named in a piece's boxes; lots by box (`a_fitting_lot`, `b_shell_lot`)."""

    reels: tuple[Choice, ...] = ()
    crimpers: tuple[Choice, ...] = ()
    instruments: tuple[Choice, ...] = ()
    makers: tuple[Choice, ...] = ()
    lots: dict[str, tuple[Choice, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Proposal:
    """The setting to dial for an OD, and where that comes from."""

    setting_mm: Decimal | None
    words: str


def bench_choices(person: Person, build: BuildRecord, ends: dict[str, BuildEnd]) -> BenchChoices:
    """What may be chosen for a piece at its site; what is chosen already is always among it."""
    site = build.site
    tools = tuple(_tool(row) for row in _in_use(Instrument, site, _named(build, ends)))
    return BenchChoices(
        reels=_reels(person, build),
        crimpers=tuple(_tool(row) for row in _in_use(Crimper, site, [build.crimper])),
        instruments=tools,
        makers=tuple(Choice(one, str(one)) for one in makers_at(site)),
        lots=_lots(person, build, ends),
    )


def makers_at(site: Site) -> list[Person]:
    """The people who may build at a site, by name."""
    posted = Q(postings__ended_at=None) & (Q(postings__site=site) | Q(postings__site=None))
    rights = Q(postings__role__permissions__codename="build")
    found = Person.objects.filter(posted & rights, is_active=True).distinct()
    return sorted(found, key=str)


def proposal(crimper: Crimper | None, die_set: str, od_mm: Decimal) -> Proposal:
    """What to dial for an OD, from what the crimper's own presses taught of its dial."""
    if crimper is None:
        return Proposal(None, "Name and save the crimper: what its dial is off is learnt.")
    dial = learnt_dial(crimper, die_set)
    if dial is None:
        die = f" with die {die_set}" if die_set else ""
        return Proposal(
            None,
            f"The dial of {crimper}{die} is not learnt yet: begin well above, measure, close.",
        )
    setting = dial.setting_for(od_mm)
    return Proposal(
        setting,
        f"Dial {setting} mm for {od_mm} mm: {crimper} reads off by {dial.difference_mm} mm, spread "
        f"{dial.spread_mm}, learnt from {dial.presses} presses. The OD counts, not the dial.",
    )


def proposals(
    build: BuildRecord, ends: dict[str, BuildEnd], content: SheetContent
) -> dict[str, Proposal]:
    """The setting to dial at each end that has a crimp."""
    found = {}
    for end in content.ends:
        if end.crimp is not None:
            die = ends[end.label].die_set or end.crimp.die
            found[end.label] = proposal(build.crimper, die, end.crimp.crimp_od_mm)
    return found


def _reels(person: Person, build: BuildRecord) -> tuple[Choice, ...]:
    offered = reels_for(person, site=build.site, hose=build.spec.hose, on=build.built_on)
    rows = Reel.objects.in_bulk([one.reel_id for one in offered])
    found = [Choice(rows[one.reel_id], _reel_words(one)) for one in offered]
    held = build.reel
    if held is not None and held.pk not in rows:
        found.append(Choice(held, f"{held}: nothing left, withdrawn, or of another hose"))
    return tuple(found)


def _reel_words(one: Any) -> str:
    old = f" – {one.too_old}" if one.too_old else ""
    return f"{one.code}: {one.metres_left.normalize():f} m left, {one.age_words}{old}"


def _lots(
    person: Person, build: BuildRecord, ends: dict[str, BuildEnd]
) -> dict[str, tuple[Choice, ...]]:
    """Lots of the parts that the spec names, by box."""
    found: dict[str, tuple[Choice, ...]] = {}
    for part in build.spec.ends.select_related("fitting", "shell"):
        for name, item in (("fitting", part.fitting), ("shell", part.shell)):
            if item is None:
                continue
            box = f"{part.which.lower()}_{name}_lot"
            held = getattr(ends[part.which], f"{name}_lot")
            found[box] = _lots_of(person, build.site, name, item, held)
    return found


def _lots_of(
    person: Person, site: Site, name: str, item: Any, held: StockItem | None
) -> tuple[Choice, ...]:
    asked: dict[str, Any] = {name: item}
    offered = lots_for(person, site=site, **asked)
    rows = StockItem.objects.select_related("fitting", "shell").in_bulk(
        [one.item_id for one in offered]
    )
    found = [
        Choice(rows[one.item_id], f"{one.lot or 'no lot'}: {one.pieces.normalize():f} left")
        for one in offered
    ]
    if held is not None and held.pk not in rows:
        found.append(Choice(held, f"{held.lot or held}: nothing left, or withdrawn"))
    return tuple(found)


def _named(build: BuildRecord, ends: dict[str, BuildEnd]) -> list[Instrument | None]:
    return [build.gauge, *(end.instrument for end in ends.values())]


def _in_use(kind: Any, site: Site, held: Iterable[Any]) -> list[Any]:
    rows = list(kind.objects.filter(site=site, withdrawn_at=None))
    there = {row.pk for row in rows}
    return [*rows, *{one.pk: one for one in held if one and one.pk not in there}.values()]


def _tool(row: Any) -> Choice:
    about = f", {row.description}" if row.description else ""
    due = row.calibration_due_on
    until = f", in calibration until {due.isoformat()}" if due else ", no day of calibration"
    return Choice(row, f"{row.code}{about}{until}")
