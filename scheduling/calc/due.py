"""When each assembly falls due, and what binds: whole numbers in, whole numbers out.

All matching rules apply; the strictest limit wins, trigger by trigger; the earliest date wins over
triggers; equal dates go to the first trigger in the order of `Trigger`, equal limits to the lowest
rule id. The result never depends on today: the same inputs give the same dates. The same columns
that decide a million rows explain one (`scheduling.calc.explain`).

made, built, fitted   the day + calendar months; built counts storage, fitted this fitting only
storage               the built day + months, while in store or on the bench
hours                 of this fitting, or in all: see `scheduling.calc.hours`
reel age              built later than hose made + months: due on the day it was built
take out now, replace by, release: their own day
inspection            months or hours from the last one, else fitted, else built, else first known
recheck               the finding's day
unknown age           neither made nor built known: see `scheduling.calc.findings`

A month has no day 31: the month's last day stands for it. Early and likely count from the earliest
day of an uncertain date, late from its latest. Where the built day is missing the hose's own made
day stands in for it (cautious, flagged); the reverse is never done. An exemption moves a trigger's
dates to its own last day where they are earlier, never a finding that says take out now. A scrapped
assembly has no dates. An assembly that no rule matches, or whose dates can't be worked out, is
flagged: no date is never the same as in order.
"""

from dataclasses import dataclass, fields

import numpy as np

from scheduling.calc.ages import months_columns, reel_age_column
from scheduling.calc.calendar import Ints, beside
from scheduling.calc.columns import Rows, State, TriggerColumn, noted
from scheduling.calc.findings import (
    given_day_columns,
    recheck_column,
    unknown_age_column,
)
from scheduling.calc.fingerprint import mix, mixed
from scheduling.calc.hour_triggers import hours_columns
from scheduling.calc.inputs import (
    INSPECT_TRIGGERS,
    NONE,
    REPLACE_TRIGGERS,
    DueInputs,
    Exemptions,
    Flag,
    Place,
    RuleTable,
    Trigger,
)

__all__ = [
    "NONE",
    "DueInputs",
    "DueResult",
    "DueTable",
    "Exemptions",
    "Flag",
    "Place",
    "RuleTable",
    "State",
    "Trigger",
    "due_dates",
    "due_table",
]

_HOUR_INPUTS = (
    "placed_tenths",
    "meter_tenths",
    "meter_on",
    "earlier_tenths",
    "earlier_missing",
    "rate_low_milli",
    "rate_milli",
    "rate_high_milli",
    "class_rate_milli",
    "inspected_tenths",
)
_DAY_INPUTS = (
    "site",
    "machine",
    "kinds",
    "place",
    "made_early_on",
    "made_late_on",
    "built_early_on",
    "built_late_on",
    "placed_early_on",
    "placed_late_on",
    "known_from_on",
    "inspected_on",
    "recheck_on",
    "replace_by_on",
    "take_out_on",
    "release_on",
)


@dataclass(frozen=True)
class DueResult:
    """What is stored, shape (n,) each; `NONE` for no date, trigger 0 where nothing binds."""

    replace_early: Ints
    replace_on: Ints
    replace_late: Ints
    replace_trigger: Ints
    replace_rule: Ints
    inspect_on: Ints
    inspect_trigger: Ints
    inspect_rule: Ints
    flags: Ints
    fingerprint: Ints

    @property
    def due_on(self) -> Ints:
        """The earlier of replacing and inspecting."""
        return np.minimum(self.replace_on, self.inspect_on)

    def row(self, index: int) -> dict[str, int]:
        """One row as plain numbers."""
        return {field.name: int(getattr(self, field.name)[index]) for field in fields(self)}


@dataclass(frozen=True)
class DueTable:
    """Every trigger of every row, and what follows from them."""

    columns: tuple[TriggerColumn, ...]
    result: DueResult

    def column(self, trigger: Trigger) -> TriggerColumn:
        return self.columns[trigger - 1]


def due_dates(inputs: DueInputs, rules: RuleTable, exemptions: Exemptions) -> DueResult:
    """The dates of n assemblies. See the module for what they mean.

    >>> row = dict.fromkeys(DueInputs.names(), NONE)
    >>> row |= {"place": Place.FITTED, "built_early_on": 19_844, "known_from_on": 20_000}
    >>> six_years = dict.fromkeys(RuleTable.names(), NONE) | {"rule": 7, "built_months": 72}
    >>> result = due_dates(
    ...     DueInputs.from_rows(np.array([list(row.values())])),
    ...     RuleTable.from_rows(np.array([list(six_years.values())])),
    ...     Exemptions.from_rows(np.array([], dtype=np.int64)),
    ... )
    >>> int(result.replace_on[0]), int(result.replace_rule[0])  # 2024-05-01 + 6 years = 2030-05-01
    (22035, 7)
    """
    return due_table(inputs, rules, exemptions).result


def due_table(inputs: DueInputs, rules: RuleTable, exemptions: Exemptions) -> DueTable:
    """The dates with the trigger columns that they were decided from."""
    rows = Rows(inputs, rules, exemptions)
    *ages, inspection_months = months_columns(rows)
    *hours, inspection_hours = hours_columns(rows)
    columns = (
        *ages,
        *hours,
        reel_age_column(rows),
        *given_day_columns(rows),
        inspection_months,
        inspection_hours,
        recheck_column(rows),
        unknown_age_column(rows),
    )
    return DueTable(columns, _decided(rows, columns))


def _decided(rows: Rows, columns: tuple[TriggerColumn, ...]) -> DueResult:
    replace = [columns[trigger - 1] for trigger in REPLACE_TRIGGERS]
    inspect = [columns[trigger - 1] for trigger in INSPECT_TRIGGERS]
    replace_on, replace_trigger, replace_rule = _binding(rows, replace)
    inspect_on, inspect_trigger, inspect_rule = _binding(rows, inspect)
    return DueResult(
        _earliest(rows, [column.early for column in replace if not column.empty]),
        replace_on,
        _earliest(rows, [column.late for column in replace if not column.empty]),
        replace_trigger,
        replace_rule,
        inspect_on,
        inspect_trigger,
        inspect_rule,
        _flags(rows, columns),
        _fingerprint(rows),
    )


def _binding(rows: Rows, columns: list[TriggerColumn]) -> tuple[Ints, Ints, Ints]:
    """The earliest likely date, the first trigger that gives it, and its rule."""
    given = [column for column in columns if not column.empty]
    if not given:
        return rows.nothing, rows.zero, rows.nothing
    likely = beside([column.likely for column in given])
    first, row = likely.argmin(axis=0), np.arange(rows.inputs.size)
    day = likely[first, row]
    binds = day != NONE
    triggers = np.array([int(column.trigger) for column in given])
    rule = beside([column.rule for column in given])[first, row]
    return day, np.where(binds, triggers[first], 0), np.where(binds, rule, NONE)


def _earliest(rows: Rows, days: list[Ints]) -> Ints:
    earliest: Ints = beside(days).min(axis=0) if days else rows.nothing
    return earliest


def _flags(rows: Rows, columns: tuple[TriggerColumn, ...]) -> Ints:
    no_rule = rows.limits.any_rule == 0
    flags = noted(no_rule & rows.alive, Flag.NO_RULE)
    for column in columns:
        if not column.empty:
            flags |= column.notes
    return flags


def _fingerprint(rows: Rows) -> Ints:
    """All that the dates follow from. Hours count only where some rule limits them."""
    inputs, limits = rows.inputs, rows.limits
    columns = [*(getattr(inputs, name) for name in _DAY_INPUTS), limits.digest]
    counts_hours = any(name.endswith("_tenths") for name in limits.names)
    if counts_hours:
        columns += [getattr(inputs, name) for name in _HOUR_INPUTS]
    table = beside(columns)
    if counts_hours:
        np.copyto(table[-len(_HOUR_INPUTS) :], NONE, where=limits.counts_hours == 0)
    state = mixed(table)
    for trigger, until in sorted(rows.until.items()):
        granted = until != NONE
        moved = state.copy()
        mix(moved, until * len(Trigger) + trigger)
        np.copyto(state, moved, where=granted)
    return state.view(np.int64)
