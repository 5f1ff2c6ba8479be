"""What dues are worked out from, read for many assemblies at once, and what is stored of them."""

from dataclasses import dataclass

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

from assemblies.models import Assembly, ConditionalRelease, Stay
from fleet.models import Machine
from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE, DueInputs, Place
from scheduling.models import Due, Finding, Inspection
from scheduling.queries.fast_columns import coded, read_columns, whole
from scheduling.queries.rule_tables import Rulebook

_PLACES = {
    "position": int(Place.FITTED),
    "store": int(Place.STORE),
    "bench": int(Place.BENCH),
    "scrapped": int(Place.SCRAPPED),
}
_MACHINE = "here__position__machine"
_WHOLE = {
    "assembly": "pk",
    "assembly_site": "site_id",
    "position": "here__position_id",
    "machine_class": f"{_MACHINE}__machine_class_id",
    "machine": f"{_MACHINE}_id",
    "made_early_on": "made_earliest_on",
    "made_late_on": "made_latest_on",
    "built_early_on": "built_earliest_on",
    "built_late_on": "built_latest_on",
    "placed_early_on": "here__from_earliest_on",
    "placed_late_on": "here__from_latest_on",
    "known_on": "known_from_on",
    "placed_tenths": "here__from_machine_h",
    "meter_tenths": "usage__machine_h",
    "meter_on": "usage__as_of_on",
    "earlier_tenths": "earlier_h",
    "rate_low_milli": "usage__low_h_per_day",
    "rate_milli": "usage__rate_h_per_day",
    "rate_high_milli": "usage__high_h_per_day",
    "class_rate_milli": f"{_MACHINE}__machine_class__hours_per_day",
}
_TEXT = {
    "circuit": "here__position__circuit",
    "hose_kind": "hose_type",
    "consequence": "here__position__consequence",
    "exposure": "here__position__exposure",
}
_RENAMED = {"assembly_site": "site", "known_on": "known_from_on", "hose_kind": "hose_type"}
_ZERO_WHERE_EMPTY = (
    *("earlier_tenths", "rate_low_milli", "rate_milli", "rate_high_milli", "class_rate_milli"),
)
STORED = (
    *("site", "machine", "due_on", "replace_early_on", "replace_on", "replace_late_on"),
    *("inspect_on", "replace_trigger", "replace_rule", "inspect_trigger", "inspect_rule"),
    *("flags", "fingerprint"),
)
# Two numbers below 2**32 as one, so that one MAX keeps them together.
_SHIFT = 1 << 32
_SHIFT_VALUE = Value(_SHIFT, output_field=BigIntegerField())


@dataclass(frozen=True)
class Some:
    """Which assemblies: a run of ids (above `low`, up to `high`), or the ids named."""

    low: int = 0
    high: int = 0
    ids: tuple[int, ...] | None = None

    def where(self, path: str) -> Q:
        if self.ids is not None:
            return Q(**{f"{path}__in": self.ids})
        return Q(**{f"{path}__gt": self.low, f"{path}__lte": self.high})


def stored_dues(some: Some) -> tuple[Ints, Ints]:
    """Assembly ids in order, shape (n,), and what is stored of them, shape (n, len(STORED))."""
    names = tuple(f"{name}_id" if name in ("site", "machine") else name for name in STORED)
    columns = {f"v{i}": whole(name) for i, name in enumerate(names)}
    rows = read_columns(
        Due.objects.filter(some.where("assembly_id")).annotate(key=whole("assembly_id"), **columns),
        ("key", *columns),
    )
    rows = rows[np.argsort(rows[:, 0], kind="stable")]
    return rows[:, 0], rows[:, 1:]


def due_inputs(some: Some, book: Rulebook) -> DueInputs:
    """The inputs of those assemblies that can fall due, in the order of their ids.

    Left out: scrapped ones, and those on a machine that was sold or withdrawn.
    """
    rows = _main_rows(some, book)
    rows |= _last_inspections(some, rows["assembly"])
    rows |= _open_findings(some, rows["assembly"])
    release = _last_releases(some)
    rows["release_on"] = _placed(rows["assembly"], release[:, 0], release[:, 1] % _SHIFT)
    rows["earlier_missing"] = _stays_without_hours(some, rows["assembly"], book)
    return DueInputs(**{name: rows[name] for name in DueInputs.names()})


def _main_rows(some: Some, book: Rulebook) -> dict[str, Ints]:
    """All columns that stand on the assembly, its open stay, position, machine and usage."""
    columns: dict[str, Expression] = {f"x_{n}": whole(path) for n, path in _WHOLE.items()}
    columns["x_place"] = coded("here__place", _PLACES)
    for name, path in _TEXT.items():
        columns[f"x_{name}"] = coded(path, book.codes[_RENAMED.get(name, name)])
    columns["x_gone"] = _gone()
    table = read_columns(_joined(some).annotate(**columns), tuple(columns))
    table = table[table[:, -1] == 0]
    table = np.ascontiguousarray(table[np.argsort(table[:, 0], kind="stable")].T)
    rows = {_RENAMED.get(n[2:], n[2:]): table[i] for i, n in enumerate(columns)}
    rows["place"] = np.where(rows["place"] == NONE, int(Place.BENCH), rows["place"])
    for name in _ZERO_WHERE_EMPTY:
        rows[name] = np.where(rows[name] == NONE, 0, rows[name])
    return rows


def _joined(some: Some) -> "QuerySet[Assembly]":
    here = FilteredRelation("stays", condition=Q(stays__is_open=True))
    usages = f"{_MACHINE}__usages"
    counter = Q(**{f"{usages}__counts": F("here__position__counts")})
    living = Assembly.objects.filter(some.where("pk"), withdrawn_at=None).annotate(here=here)
    return living.annotate(usage=FilteredRelation(usages, condition=counter))


def _gone() -> Expression:
    """1 where the machine was sold or withdrawn: its hoses went with it."""
    sold = Q(**{f"{_MACHINE}__status": Machine.Status.SOLD})
    withdrawn = Q(**{f"{_MACHINE}__withdrawn_at__isnull": False})
    whens = When(sold | withdrawn, then=Value(1))
    return Case(whens, default=Value(0), output_field=BigIntegerField())


def _placed(assemblies: Ints, keys: Ints, values: Ints, empty: int = NONE) -> Ints:
    """Values by assembly id, laid beside the assemblies (both in order); `empty` elsewhere."""
    column = np.full(assemblies.size, empty, dtype=np.int64)
    order = np.argsort(keys, kind="stable")
    keys, values = keys[order], values[order]
    at = np.searchsorted(assemblies, keys)
    found = at < assemblies.size
    found[found] = assemblies[at[found]] == keys[found]
    column[at[found]] = values[found]
    return column


def _big(expression: F) -> Expression:
    return Cast(expression, BigIntegerField())


def _last_inspections(some: Some, assemblies: Ints) -> dict[str, Ints]:
    """Day and hours of the last inspection that saw the hose."""
    both = _big(F("inspected_on")) * _SHIFT_VALUE + Coalesce(_big(F("machine_h")) + 1, 0)
    seen = Inspection.objects.filter(some.where("assembly_id"), not_seen=False)
    rows = read_columns(
        seen.values("assembly_id").annotate(last=Max(both, output_field=BigIntegerField())),
        ("assembly_id", "last"),
    )
    tenths = rows[:, 1] % _SHIFT - 1
    return {
        "inspected_on": _placed(assemblies, rows[:, 0], rows[:, 1] // _SHIFT),
        "inspected_tenths": _placed(assemblies, rows[:, 0], np.where(tenths < 0, NONE, tenths)),
    }


def _open_findings(some: Some, assemblies: Ints) -> dict[str, Ints]:
    """The earliest day of each verdict among findings that have not been dealt with."""

    def first(verdict: str, day: str) -> Expression:
        own = Case(When(verdict=verdict, then=_big(F(day))), output_field=BigIntegerField())
        return Coalesce(Min(own), Value(NONE), output_field=BigIntegerField())

    findings = Finding.objects.filter(some.where("assembly_id"), dealt_with_at=None)
    named = {
        "recheck_on": first("recheck", "by_on"),
        "replace_by_on": first("replace", "by_on"),
        "take_out_on": first("out_now", "found_on"),
    }
    grouped = findings.exclude(verdict="keep").values("assembly_id").annotate(**named)
    rows = read_columns(grouped, ("assembly_id", *named))
    return {name: _placed(assemblies, rows[:, 0], rows[:, i]) for i, name in enumerate(named, 1)}


def _last_releases(some: Some) -> Ints:
    """Assembly and, with the id above it, the day of its latest conditional release."""
    latest = _big(F("id")) * _SHIFT_VALUE + _big(F("replace_by_on"))
    releases = ConditionalRelease.objects.filter(some.where("assembly_id"))
    grouped = releases.values("assembly_id").annotate(
        last=Max(latest, output_field=BigIntegerField())
    )
    return read_columns(grouped, ("assembly_id", "last"))


def _stays_without_hours(some: Some, assemblies: Ints, book: Rulebook) -> Ints:
    """How many earlier stays on a machine have no hours; asked only where a rule counts them."""
    if not book.counts_all_hours:
        return np.zeros(assemblies.size, dtype=np.int64)
    closed = Stay.objects.filter(some.where("assembly_id"), is_open=False, place="position")
    missing = closed.filter(Q(from_machine_h__isnull=True) | Q(to_machine_h__isnull=True))
    grouped = missing.values("assembly_id").annotate(number=Count("pk"))
    rows = read_columns(grouped, ("assembly_id", "number"))
    return _placed(assemblies, rows[:, 0], rows[:, 1], empty=0)
