"""What falls due, narrowed and in order, a page at a time or all of it for a file."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Q, QuerySet

from assemblies.models import Position, Stay
from fleet.models import Person
from fleet.queries.keyset import Page
from scheduling.calc.due_words import TITLES
from scheduling.calc.inputs import Flag, Trigger
from scheduling.calc.standing import SOON_DAYS, Standing, standing, what_is_due
from scheduling.models import Due, Finding
from scheduling.queries.due_facts import (
    DATES_SHOWN,
    HOSE_SHOWN,
    dates_of,
    hose_label,
    hose_words,
    still_uncertain,
)

BY_DAY = ("due_on", "assembly_id")
BY_MACHINE = ("machine__number_key", "machine_id", "due_on", "assembly_id")
BY_ID = ("assembly_id",)
_PLACE_SHOWN = tuple(f"position__{n}" for n in ("place", "place_no", "circuit", "consequence"))
_SHOWN = (
    *DATES_SHOWN,
    *("replace_early_on", "replace_late_on", "replace_trigger", "inspect_trigger"),
    *("site__code", "machine__fleet_number", "machine__machine_class__name"),
    *(f"assembly__{name}" for name in HOSE_SHOWN),
)


@dataclass(frozen=True, slots=True)
class DueSought:
    """Which dues: every fact that is given must fit. `until_on` is the horizon."""

    site_id: int | None = None
    machine_class_id: int | None = None
    machine_id: int | None = None
    circuit: str = ""
    consequence: str = ""
    trigger: int | None = None
    standing: str = ""
    until_on: dt.date | None = None
    by_machine: bool = False

    @property
    def order(self) -> tuple[str, ...]:
        if self.standing == "undated":
            return BY_ID
        return BY_MACHINE if self.by_machine else BY_DAY


@dataclass(frozen=True, slots=True)
class DueLine:
    """One hose that falls due. Machine and place are empty for a hose that is not fitted."""

    hose_id: int
    label: str
    tag: str
    owner_mark: str
    words: str
    site_code: str
    machine_id: int | None
    machine: str
    class_name: str
    position_id: int | None
    place: str
    circuit: str
    consequence: str
    standing: Standing
    what: str
    due_on: dt.date | None
    replace_on: dt.date | None
    replace_early_on: dt.date | None
    replace_late_on: dt.date | None
    inspect_on: dt.date | None
    binds: str
    uncertain: bool


def due_list(
    person: Person | None,
    sought: DueSought,
    *,
    after: tuple[Any, ...] | None,
    size: int,
    today: dt.date,
) -> Page[DueLine]:
    """A page of what the person may see. Two queries, however many rows.

    `person` None is the register itself: a command that writes lists for every site.
    """
    found = _found(person, sought, today)
    if after is not None:
        found = found.filter(_beyond(sought.order, after))
    rows = list(found.order_by(*sought.order)[: size + 1])
    place = tuple(_value(rows[size - 1], name) for name in sought.order) if rows[size:] else None
    return Page(_lines(rows[:size], today), place)


def due_lines(
    person: Person | None, sought: DueSought, *, today: dt.date, chunk: int = 2000
) -> Iterator[DueLine]:
    """All of it in order, read a chunk at a time: memory does not grow with the list."""
    after: tuple[Any, ...] | None = None
    while True:
        page = due_list(person, sought, after=after, size=chunk, today=today)
        yield from page.rows
        if page.after is None:
            return
        after = page.after


def hoses_named(person: Person, ids: Sequence[int], *, today: dt.date) -> tuple[DueLine, ...]:
    """The dues of some hoses by id, those the person may see, by machine and day."""
    found = Due.objects.visible_to(person).filter(assembly__in=ids)
    return _lines(list(_joined(found).order_by(*BY_MACHINE)), today)


def _found(person: Person | None, sought: DueSought, today: dt.date) -> "QuerySet[Due]":
    seen = Due.objects.all() if person is None else Due.objects.visible_to(person)
    found = seen.filter(_fits(sought) & _stands(sought, today))
    if sought.circuit or sought.consequence:
        held = Q(assembly__stays__is_open=True)
        held &= Q(assembly__stays__position__circuit=sought.circuit) if sought.circuit else Q()
        if sought.consequence:
            held &= Q(assembly__stays__position__consequence=sought.consequence)
        found = found.filter(held)
    return _joined(found)


def _joined(found: "QuerySet[Due]") -> "QuerySet[Due]":
    joined = found.select_related("assembly__hose", "site", "machine__machine_class")
    return joined.only(*_SHOWN).annotate(number_key=F("machine__number_key"))


def _fits(sought: DueSought) -> Q:
    wanted = Q()
    if sought.site_id is not None:
        wanted &= Q(site=sought.site_id)
    if sought.machine_id is not None:
        wanted &= Q(machine=sought.machine_id)
    if sought.machine_class_id is not None:
        wanted &= Q(machine__machine_class=sought.machine_class_id)
    if sought.trigger is not None:
        wanted &= Q(replace_trigger=sought.trigger) | Q(inspect_trigger=sought.trigger)
    if sought.until_on is not None and sought.standing != "undated":
        wanted &= Q(due_on__lte=sought.until_on)
    if sought.by_machine:
        wanted &= Q(machine__isnull=False)
    return wanted


def _stands(sought: DueSought, today: dt.date) -> Q:
    until = today + dt.timedelta(days=SOON_DAYS)
    take_out = Finding.objects.filter(verdict=Finding.Verdict.OUT_NOW, dealt_with_at=None)
    return {
        "out": Q(due_on__isnull=False, assembly__in=take_out.values("assembly")),
        "over": Q(due_on__lt=today),
        "soon": Q(due_on__gte=today, due_on__lte=until),
        "fine": Q(due_on__gt=until),
        "undated": Q(due_on__isnull=True),
    }.get(sought.standing, Q(due_on__isnull=False))


def _beyond(order: Sequence[str], after: Sequence[Any]) -> Q:
    """Rows after a place. The first condition is implied, so that an index can be walked."""
    past = Q()
    for at, name in enumerate(order):
        same = dict(zip(order[:at], after[:at], strict=True))
        past |= Q(**same, **{f"{name}__gt": after[at]})
    return Q(**{f"{order[0]}__gte": after[0]}) & past


def _value(due: Due, name: str) -> Any:
    return getattr(due, "number_key" if name == "machine__number_key" else name)


def _lines(rows: Sequence[Due], today: dt.date) -> tuple[DueLine, ...]:
    stays = Stay.objects.filter(assembly__in=[due.assembly_id for due in rows], is_open=True)
    placed = stays.select_related("position").only("assembly", *_PLACE_SHOWN)
    held = {stay.assembly_id: stay.position for stay in placed}
    return tuple(_line(due, held.get(due.assembly_id), today) for due in rows)


def _line(due: Due, place: Position | None, today: dt.date) -> DueLine:
    hose, dates = due.assembly, dates_of(due)
    what = what_is_due(dates) if dates else ""
    return DueLine(
        hose_id=due.assembly_id,
        label=hose_label(hose),
        tag=hose.tag_id or "",
        owner_mark=hose.owner_mark,
        words=hose_words(hose),
        site_code=due.site.code,
        machine_id=due.machine_id,
        machine=due.machine.fleet_number if due.machine else "",
        class_name=due.machine.machine_class.name if due.machine else "",
        position_id=place.pk if place else None,
        place=str(place) if place else "",
        circuit=place.get_circuit_display() if place else "",
        consequence=place.get_consequence_display() if place else "",
        standing=standing(dates, today),
        what=what,
        due_on=due.due_on,
        replace_on=due.replace_on,
        replace_early_on=due.replace_early_on,
        replace_late_on=due.replace_late_on,
        inspect_on=due.inspect_on,
        binds=_binding_words(due, what),
        uncertain=still_uncertain(due),
    )


def _binding_words(due: Due, what: str) -> str:
    number = due.replace_trigger if what == "replace" else due.inspect_trigger
    if number in TITLES:
        return TITLES[Trigger(number)]
    return "No life rule" if due.flags & Flag.NO_RULE else "No date known"
