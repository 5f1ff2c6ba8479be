"""What falls due, narrowed and in order, a page at a time or all of it for a file."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, NamedTuple

from django.db.models import Q, QuerySet

from assemblies.models import Position, Stay
from fleet.models import Person
from fleet.models.compiled import Fixed, compiled
from fleet.queries.keyset import Page
from fleet.queries.narrowing import site_codes
from scheduling.calc.due_words import TITLES
from scheduling.calc.inputs import Flag, Trigger
from scheduling.calc.standing import SOON_DAYS, Dates, Standing, standing, what_is_due
from scheduling.models import Due, Finding
from scheduling.queries.due_facts import label_of, uncertain_by, words_of

BY_DAY = ("due_on", "assembly_id")
BY_MACHINE = ("machine__number_key", "machine_id", "due_on", "assembly_id")
BY_ID = ("assembly_id",)
_CIRCUITS: Final = dict(Position.Circuit.choices)
_CONSEQUENCES: Final = dict(Position.Consequence.choices)
_NO_RULE: Final = int(Flag.NO_RULE)


class _Row(NamedTuple):
    """The columns of one due and its hose, each by its path."""

    assembly_id: int
    assembly__tag: str | None
    assembly__owner_mark: str
    assembly__hose_type: str
    assembly__hose__code: str | None
    assembly__size_dn: int | None
    assembly__size_typed: str
    assembly__length_mm: Decimal | None
    site_id: int
    machine_id: int | None
    machine__fleet_number: str | None
    machine__machine_class__name: str | None
    machine__number_key: str | None
    due_on: dt.date | None
    replace_on: dt.date | None
    replace_early_on: dt.date | None
    replace_late_on: dt.date | None
    inspect_on: dt.date | None
    replace_trigger: int
    inspect_trigger: int
    flags: int


class _Place(NamedTuple):
    """Where a hose is fitted."""

    position_id: int
    position__place: str
    position__place_no: int
    position__circuit: str
    position__consequence: str


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
    rows = [_Row(*row) for row in _asked(person, sought, after or (), size + 1, today)]
    last = rows[size - 1] if rows[size:] else None
    place = tuple(getattr(last, name) for name in sought.order) if last else None
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
    rows = found.order_by(*BY_MACHINE).values_list(*_Row._fields)
    return _lines([_Row(*row) for row in rows], today)


def _asked(
    person: Person | None, sought: DueSought, after: tuple[Any, ...], most: int, today: dt.date
) -> list[Any]:
    fixed = Fixed(sought.standing), Fixed(sought.by_machine), Fixed(most)
    since_on, last_on = _window(sought, today)
    return _found(
        person,
        *fixed,
        since_on,
        last_on,
        sought.site_id,
        sought.machine_class_id,
        sought.machine_id,
        sought.circuit or None,
        sought.consequence or None,
        sought.trigger,
        *after,
    )


def _window(sought: DueSought, today: dt.date) -> tuple[dt.date | None, dt.date | None]:
    """The first and the last day on which a due counts, None where there is none."""
    if sought.standing == "undated":
        return None, None
    soon, day = today + dt.timedelta(days=SOON_DAYS), dt.timedelta(days=1)
    since, last = {
        "over": (None, today - day),
        "soon": (today, soon),
        "fine": (soon + day, None),
    }.get(sought.standing, (None, None))
    ends = [one for one in (last, sought.until_on) if one is not None]
    return since, min(ends, default=None)


@compiled
def _found(  # noqa: PLR0917  # a compiled question takes what it is asked for in order
    person: Person | None,
    stands: Fixed[str],
    by_machine: Fixed[bool],
    most: Fixed[int],
    since_on: dt.date | None,
    last_on: dt.date | None,
    site_id: int | None,
    machine_class_id: int | None,
    machine_id: int | None,
    circuit: str | None,
    consequence: str | None,
    trigger: int | None,
    *after: Any,
) -> "QuerySet[Due, Any]":
    given = {
        "due_on__gte": since_on,
        "due_on__lte": last_on,
        "site": site_id,
        "machine": machine_id,
        "machine__machine_class": machine_class_id,
    }
    wanted = Q(**{name: one for name, one in given.items() if one is not None})
    wanted &= Q(due_on__isnull=stands.value == "undated")
    if trigger is not None:
        wanted &= Q(replace_trigger=trigger) | Q(inspect_trigger=trigger)
    if by_machine.value:
        wanted &= Q(machine__isnull=False)
    if stands.value == "out":
        grave = Finding.objects.filter(verdict=Finding.Verdict.OUT_NOW, dealt_with_at=None)
        wanted &= Q(assembly__in=grave.values("assembly"))
    seen = Due.objects.all() if person is None else Due.objects.visible_to(person)
    found = seen.filter(wanted).filter(_held(circuit, consequence))
    order = DueSought(standing=stands.value, by_machine=by_machine.value).order
    if after:
        found = found.filter(_beyond(order, after))
    return found.order_by(*order).values_list(*_Row._fields)[: most.value]


def _held(circuit: str | None, consequence: str | None) -> Q:
    """That the hose is on a position of a circuit, or where a failure would do so much."""
    on = "assembly__stays__position__"
    given = {f"{on}circuit": circuit, f"{on}consequence": consequence}
    wanted = {name: one for name, one in given.items() if one is not None}
    return Q(assembly__stays__is_open=True, **wanted) if wanted else Q()


def _beyond(order: Sequence[str], after: Sequence[Any]) -> Q:
    """Rows after a place. The first condition is implied, so that an index can be walked."""
    past = Q()
    for at, name in enumerate(order):
        same = dict(zip(order[:at], after[:at], strict=True))
        past |= Q(**same, **{f"{name}__gt": after[at]})
    return Q(**{f"{order[0]}__gte": after[0]}) & past


def _lines(rows: Sequence[_Row], today: dt.date) -> tuple[DueLine, ...]:
    placed = _places([row.assembly_id for row in rows])
    held = {hose_id: _Place(*place) for hose_id, *place in placed if place[0] is not None}
    codes = dict(site_codes())
    return tuple(_line(row, held.get(row.assembly_id), codes[row.site_id], today) for row in rows)


@compiled
def _places(hose_ids: list[int]) -> "QuerySet[Stay, Any]":
    stays = Stay.objects.filter(assembly__in=hose_ids, is_open=True)
    return stays.values_list("assembly_id", *_Place._fields)


def _line(row: _Row, place: _Place | None, site_code: str, today: dt.date) -> DueLine:
    dates = Dates(row.due_on, row.replace_on, row.inspect_on, row.flags)
    code = row.assembly__hose_type or row.assembly__hose__code or ""
    size_and_length = row.assembly__size_dn, row.assembly__size_typed, row.assembly__length_mm
    what = what_is_due(dates)
    return DueLine(
        hose_id=row.assembly_id,
        label=label_of(row.assembly_id, row.assembly__tag, row.assembly__owner_mark),
        tag=row.assembly__tag or "",
        owner_mark=row.assembly__owner_mark,
        words=words_of(code, *size_and_length),
        site_code=site_code,
        machine_id=row.machine_id,
        machine=row.machine__fleet_number or "",
        class_name=row.machine__machine_class__name or "",
        position_id=place.position_id if place else None,
        place=Position.named(place.position__place, place.position__place_no) if place else "",
        circuit=_CIRCUITS.get(place.position__circuit, "") if place else "",
        consequence=_CONSEQUENCES.get(place.position__consequence, "") if place else "",
        standing=standing(dates, today),
        what=what,
        due_on=row.due_on,
        replace_on=row.replace_on,
        replace_early_on=row.replace_early_on,
        replace_late_on=row.replace_late_on,
        inspect_on=row.inspect_on,
        binds=_binding_words(row, what),
        uncertain=uncertain_by(row.flags),
    )


def _binding_words(row: _Row, what: str) -> str:
    number = row.replace_trigger if what == "replace" else row.inspect_trigger
    if number in TITLES:
        return TITLES[Trigger(number)]
    return "No life rule" if row.flags & _NO_RULE else "No date known"
