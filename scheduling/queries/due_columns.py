"""What dues are worked out from, read for many assemblies at once, and what is stored of them."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    Expression,
    F,
    FilteredRelation,
    Max,
    Min,
    Q,
    QuerySet,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce

from assemblies.models import Assembly, ConditionalRelease, Position, Stay
from assemblies.queries.stay_hours import BEGAN_H, ENDED_H, NOT_KNOWN
from fleet.models import Machine
from scheduling.calc.calendar import Ints, every
from scheduling.calc.inputs import NONE, DueInputs, Place
from scheduling.calc.tally import Kind
from scheduling.models import Due, Finding, Inspection
from scheduling.queries.fast_columns import (
    Codes,
    OfTheOne,
    Query,
    Selection,
    Some,
    Wanted,
    coded,
    read_columns,
    read_together,
    whole,
)
from scheduling.queries.rule_tables import (
    Rulebook,
    approved_numbers,
    exemptions_there,
    kept_rulebook,
    rulebook,
)

__all__ = ["STORED", "One", "Some", "due_inputs", "hoses_of_machines", "read_one", "stored_dues"]

_PLACES: Final[Codes] = (
    ("position", int(Place.FITTED)),
    ("store", int(Place.STORE)),
    ("bench", int(Place.BENCH)),
    ("scrapped", int(Place.SCRAPPED)),
)
_MACHINE: Final = "here__position__machine"
_WHOLE: Final = {
    "assembly": "pk",
    "site": "site_id",
    "position": "here__position_id",
    "machine_class": f"{_MACHINE}__machine_class_id",
    "machine": f"{_MACHINE}_id",
    "made_early_on": "made_earliest_on",
    "made_late_on": "made_latest_on",
    "built_early_on": "built_earliest_on",
    "built_late_on": "built_latest_on",
    "placed_early_on": "here__from_earliest_on",
    "placed_late_on": "here__from_latest_on",
    "known_from_on": "known_from_on",
    "placed_tenths": "here__from_machine_h",
    "meter_tenths": "usage__machine_h",
    "meter_on": "usage__as_of_on",
    "earlier_tenths": "earlier_h",
    "rate_low_milli": "usage__low_h_per_day",
    "rate_milli": "usage__rate_h_per_day",
    "rate_high_milli": "usage__high_h_per_day",
    "class_rate_milli": f"{_MACHINE}__machine_class__hours_per_day",
}
_TEXT: Final = {
    "circuit": "here__position__circuit",
    "hose_type": "hose_type",
    "consequence": "here__position__consequence",
    "exposure": "here__position__exposure",
}
_MAIN: Final = (*_WHOLE, "place", *_TEXT, "kinds", "gone")
_GONE: Final = _MAIN.index("gone")
# Earlier hours and all rates stand next to each other.
_ZERO_WHERE_EMPTY: Final = slice(_MAIN.index("earlier_tenths"), _MAIN.index("class_rate_milli") + 1)
_FOUND: Final = ("recheck_on", "replace_by_on", "take_out_on")
STORED: Final = (
    *("site", "machine", "kinds", "due_on", "replace_early_on", "replace_on", "replace_late_on"),
    *("inspect_on", "replace_trigger", "replace_rule", "inspect_trigger", "inspect_rule"),
    *("flags", "fingerprint"),
)
# Two numbers below 2**32 as one, so that one MAX keeps them together.
_BITS: Final = 32
_SHIFT: Final = 1 << _BITS
_LOWER: Final = _SHIFT - 1
_SHIFT_VALUE: Final = Value(_SHIFT, output_field=BigIntegerField())


@dataclass(frozen=True)
class One:
    """One machine with what it carries and carried when its dues were kept, or one assembly."""

    machine_id: int = 0
    assembly_id: int = 0


@dataclass(frozen=True)
class Read:
    """What is stored of some assemblies, what their dues follow from, and the rules of then."""

    ids: Ints
    values: Ints
    inputs: DueInputs
    book: Rulebook


def stored_dues(some: Some) -> tuple[Ints, Ints]:
    """Assembly ids in order, shape (n,), and what is stored of them, shape (n, len(STORED))."""
    return _stored_in_order(read_columns(_stored, some))


def read_one(one: One) -> Read:
    """All of one machine or assembly, the rules with it: on PostgreSQL one statement.

    A machine is first read by its own id, which costs least; that is all of it where no hose has
    come or gone since its dues were kept. Else the hoses are read that are there or were.
    """
    if not one.machine_id:
        return _read(Some(ids=(one.assembly_id,)), _BY_IDS)
    machine = Some(ids=(one.machine_id,))
    read = _read(machine, _BY_MACHINE, (_due_on_machines,))
    if np.array_equal(read.ids, read.inputs.assembly):
        return read
    return _read(machine, _BY_IDS, (_on_machines, _due_on_machines))


def _read(some: Some, ways: tuple[Query, Query], naming: tuple[Query, ...] = ()) -> Read:
    """What is stored and what it follows from, asked in two ways, with all beside it.

    The rules that this process kept are used only where the statement says that they still are
    the approved ones, number for number; else they are read anew.
    """
    book = kept_rulebook()
    while True:
        stored_way, main_way = ways
        asked = (stored_way, approved_numbers, exemptions_there, main_way, *_asked_beside(book))
        stored, rules, exempt, *parts = read_together(asked, some, book.texts, naming)
        if book.holds(rules) and (book.is_whole or not exempt.size):
            return Read(*_stored_in_order(stored), _inputs(parts), book)
        book = rulebook()


def _stored_in_order(rows: Ints) -> tuple[Ints, Ints]:
    rows = rows[np.argsort(rows[:, 0], kind="stable")]
    return rows[:, 0], rows[:, 1:]


def due_inputs(some: Some, book: Rulebook) -> DueInputs:
    """The inputs of those assemblies that can fall due, in the order of their ids.

    Left out: scrapped ones, and those on a machine that was sold or withdrawn.
    """
    return _inputs([read_columns(query, some, book.texts) for query in _asked(book)])


def _asked(book: Rulebook) -> tuple[Query, ...]:
    """What is asked for the inputs."""
    return _main, *_asked_beside(book)


def _asked_beside(book: Rulebook) -> tuple[Query, ...]:
    """All but the main rows; earlier stays only where some rule counts all hours."""
    usual = (_last_inspections, _open_findings, _last_releases)
    return (*usual, _stays_without_hours) if book.counts_all_hours else usual


def _inputs(parts: list[Ints]) -> DueInputs:
    """The answers to `_asked`, laid beside each other."""
    main, seen, found, released, *missing = parts
    rows = _main_rows(main)
    ids = rows["assembly"]
    tenths = (seen[:, 1] & _LOWER) - 1
    looked = np.stack([seen[:, 1] >> _BITS, np.where(tenths < 0, NONE, tenths)])
    rows["inspected_on"], rows["inspected_tenths"] = _beside(ids, seen[:, 0], looked)
    for name, days in zip(_FOUND, _beside(ids, found[:, 0], found[:, 1:].T), strict=True):
        rows[name] = days
    (rows["release_on"],) = _beside(ids, released[:, 0], released[:, 1:].T & _LOWER)
    rows["earlier_missing"] = np.zeros(ids.size, dtype=np.int64)
    for known in missing:
        (rows["earlier_missing"],) = _beside(ids, known[:, 0], known[:, 1:].T, empty=0)
    return DueInputs(**{name: rows[name] for name in DueInputs.names()})


def hoses_of_machines(machine_ids: tuple[int, ...]) -> set[int]:
    """What is on some machines, and what was when their dues were last kept."""
    now, then = read_together((_on_machines, _due_on_machines), Some(ids=machine_ids), ())
    return {*now[:, 0].tolist(), *then[:, 0].tolist()}


def _main_rows(table: Ints) -> dict[str, Ints]:
    """All columns that stand on the assembly, its open stay, position, machine and usage."""
    here = table[:, _GONE] == 0
    if not every(here):
        table = table[here]
    table = np.ascontiguousarray(table[table[:, 0].argsort(kind="stable")].T)
    np.copyto(table[_ZERO_WHERE_EMPTY], 0, where=table[_ZERO_WHERE_EMPTY] == NONE)
    rows = dict(zip(_MAIN, table, strict=True))
    np.copyto(rows["place"], int(Place.BENCH), where=rows["place"] == NONE)
    return rows


def _beside(assemblies: Ints, keys: Ints, values: Ints, empty: int = NONE) -> Ints:
    """Values by assembly id, laid beside the assemblies, which are in order; `empty` elsewhere.

    Values of shape (columns, keys) give (columns, assemblies).
    """
    table = np.full((len(values), assemblies.size), empty)
    if keys.size and assemblies.size:
        at = np.minimum(assemblies.searchsorted(keys), assemblies.size - 1)
        found = assemblies[at] == keys
        if every(found):
            table[:, at] = values
        else:
            table[:, at[found]] = values[:, found]
    return table


# ---- the queries, compiled once ---------------------------------------------------------------


def _stored(wanted: Wanted, _codes: Codes) -> Selection:
    return _stored_among(Due.objects.filter(wanted.on("assembly_id")))


def _stored_on_machine(wanted: Wanted, _codes: Codes) -> Selection:
    return _stored_among(Due.objects.filter(wanted.on("machine_id")))


def _stored_among(dues: "QuerySet[Due]") -> Selection:
    paths = ("assembly_id", *(f"{n}_id" if n in ("site", "machine") else n for n in STORED))
    columns = {f"v{at}": whole(path) for at, path in enumerate(paths)}
    return dues.annotate(**columns), tuple(columns)


def _main(wanted: Wanted, texts: Codes) -> Selection:
    return _main_where(wanted.on("pk"), texts)


def _main_on_machine(wanted: Wanted, texts: Codes) -> Selection:
    # The place says nothing new. It has SQLite begin with the machine's positions.
    return _main_where(wanted.on(_MACHINE) & Q(here__place=Stay.Place.POSITION), texts)


def _main_where(wanted: Q, texts: Codes) -> Selection:
    columns: dict[str, Expression] = {f"x_{n}": whole(path) for n, path in _WHOLE.items()}
    columns["x_place"] = coded("here__place", _PLACES)
    for name, path in _TEXT.items():
        own = tuple((t.split(":", 1)[1], n) for t, n in texts if t.startswith(f"{name}:"))
        columns[f"x_{name}"] = coded(path, own)
    columns["x_kinds"] = _kinds()
    columns["x_gone"] = _gone()
    here = FilteredRelation("stays", condition=Q(stays__is_open=True))
    usages = f"{_MACHINE}__usages"
    counter = Q(**{f"{usages}__counts": F("here__position__counts")})
    living = Assembly.objects.annotate(here=here).filter(wanted, withdrawn_at=None)
    joined = living.annotate(usage=FilteredRelation(usages, condition=counter))
    return joined.annotate(**columns), tuple(columns)


def _kinds() -> Expression:
    """What the hose is counted as, as far as that follows from where it is and its tag."""
    danger = Position.Consequence.HURTS
    hurts = When(here__position__consequence=danger, then=Value(int(Kind.HURTS)))
    fitted = Q(here__place=Stay.Place.POSITION, tag__isnull=True)
    untagged = When(fitted, then=Value(int(Kind.UNTAGGED)))
    return _or_zero(hurts) + _or_zero(untagged)


def _or_zero(when: When) -> Case:
    return Case(when, default=Value(0), output_field=BigIntegerField())


def _gone() -> Expression:
    """1 where the machine was sold or withdrawn: its hoses went with it."""
    sold = Q(**{f"{_MACHINE}__status": Machine.Status.SOLD})
    withdrawn = Q(**{f"{_MACHINE}__withdrawn_at__isnull": False})
    return _or_zero(When(sold | withdrawn, then=Value(1)))


def _big(path: str) -> Expression:
    return Cast(F(path), BigIntegerField())


def _last_inspections(wanted: Wanted, _codes: Codes) -> Selection:
    """Day and hours of the last inspection that saw the hose, as one number."""
    both = _big("inspected_on") * _SHIFT_VALUE + Coalesce(_big("machine_h") + 1, 0)
    seen = Inspection.objects.filter(wanted.on("assembly_id"), not_seen=False, taken_back_at=None)
    last = Max(both, output_field=BigIntegerField())
    return seen.values("assembly_id").annotate(last=last), ("assembly_id", "last")


def _open_findings(wanted: Wanted, _codes: Codes) -> Selection:
    """The earliest day of each verdict among findings that have not been dealt with."""

    def first(verdict: str, day: str) -> Expression:
        own = Case(When(verdict=verdict, then=_big(day)), output_field=BigIntegerField())
        return Coalesce(Min(own), Value(NONE), output_field=BigIntegerField())

    named = {
        "recheck": first("recheck", "by_on"),
        "replace": first("replace", "by_on"),
        "take_out": first("out_now", "found_on"),
    }
    found = Finding.objects.filter(wanted.on("assembly_id"), dealt_with_at=None)
    grouped = found.exclude(verdict="keep").values("assembly_id").annotate(**named)
    return grouped, ("assembly_id", *named)


def _last_releases(wanted: Wanted, _codes: Codes) -> Selection:
    """The day of the latest conditional release, with its id above it, as one number."""
    latest = _big("id") * _SHIFT_VALUE + _big("replace_by_on")
    releases = ConditionalRelease.objects.filter(wanted.on("assembly_id"))
    last = Max(latest, output_field=BigIntegerField())
    return releases.values("assembly_id").annotate(last=last), ("assembly_id", "last")


def _stays_without_hours(wanted: Wanted, _codes: Codes) -> Selection:
    """How many earlier stays on a machine have no hours, or hours that run backwards."""
    closed = Stay.objects.filter(wanted.on("assembly_id"), is_open=False, place="position")
    missing = closed.alias(begin_h=BEGAN_H, end_h=ENDED_H).filter(NOT_KNOWN)
    return missing.values("assembly_id").annotate(number=Count("pk")), ("assembly_id", "number")


def _on_machines(wanted: Wanted, _codes: Codes) -> Selection:
    held = Position.objects.filter(wanted.on("machine_id"), stays__is_open=True)
    return held, ("stays__assembly_id",)


def _due_on_machines(wanted: Wanted, _codes: Codes) -> Selection:
    return Due.objects.filter(wanted.on("machine_id")), ("assembly_id",)


# How what is stored and the main rows are asked for.
_BY_IDS: Final[tuple[Query, Query]] = (_stored, _main)
_BY_MACHINE: Final[tuple[Query, Query]] = (
    OfTheOne(_stored_on_machine),
    OfTheOne(_main_on_machine),
)
