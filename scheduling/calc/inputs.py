"""What the due calculation reads: whole-number columns, one row an assembly.

Days are counted from 1970-01-01, hours in tenths, rates in thousandths of an hour a day, limits in
calendar months or tenths of an hour. `NONE` stands for "not known" in what is read and for "no such
date" in what is written; being later than every date, it never wins a comparison for the earliest.
"""

from dataclasses import dataclass, fields
from enum import IntEnum, IntFlag
from functools import cache, cached_property
from typing import Any, Final, Self

import numpy as np

from scheduling.calc.calendar import Ints

NONE: Final = 2_147_483_647
LAST_DAY: Final = 2_932_896  # 9999-12-31: a date beyond it is no date
_INT64: Final = np.dtype(np.int64)


class Place(IntEnum):
    """Where an assembly is."""

    FITTED = 1
    STORE = 2
    BENCH = 3
    SCRAPPED = 4


class Trigger(IntEnum):
    """What can make a date, in the order that decides between equal days."""

    MADE = 1
    BUILT = 2
    FITTED = 3
    STORAGE = 4
    HOURS_FITTING = 5
    HOURS_TOTAL = 6
    REEL_AGE = 7
    TAKE_OUT = 8
    REPLACE_BY = 9
    RELEASE = 10
    INSPECT_MONTHS = 11
    INSPECT_HOURS = 12
    RECHECK = 13
    UNKNOWN_AGE = 14


REPLACE_TRIGGERS: Final = tuple(t for t in Trigger if t <= Trigger.RELEASE)
INSPECT_TRIGGERS: Final = tuple(t for t in Trigger if t > Trigger.RELEASE)


class Flag(IntFlag):
    """What must be said beside the dates."""

    NO_RULE = 1
    UNKNOWN_AGE = 2
    BUILT_FROM_MADE = 4
    UNCERTAIN_DATE = 8
    MADE_UNKNOWN = 16
    BUILT_UNKNOWN = 32
    FITTED_UNKNOWN = 64
    HOURS_UNKNOWN = 128
    EARLIER_HOURS_UNKNOWN = 256
    ESTIMATED_FROM_DAYS = 512
    METER_BEHIND = 1024
    STANDING = 2048
    NEVER_INSPECTED = 4096
    EXEMPTED = 8192
    TAKE_OUT_NOW = 16384
    RELEASED = 32768


SCOPES: Final = (
    "site",
    "machine_class",
    "machine",
    "circuit",
    "hose_type",
    "consequence",
    "exposure",
)
LIMITS: Final = (
    "made_months",
    "built_months",
    "fitted_months",
    "storage_months",
    "reel_age_months",
    "fitting_tenths",
    "total_tenths",
    "inspect_months",
    "inspect_tenths",
)


@dataclass(frozen=True)
class _Columns:
    """Columns of equal length, all int64; read row-wise with `from_rows`."""

    def __post_init__(self) -> None:
        shapes = set()
        for name in self.names():
            column = getattr(self, name)
            if column.dtype != _INT64 or column.ndim != 1:
                raise ValueError(f"{name} must be a flat column of whole numbers (int64).")
            shapes.add(column.shape)
        if len(shapes) > 1:
            raise ValueError(f"Columns differ in length: {sorted(shapes)}.")

    @classmethod
    @cache  # asked for at every turn, and slow to gather
    def names(cls) -> tuple[str, ...]:
        """The columns in their order."""
        return tuple(field.name for field in fields(cls))

    @classmethod
    def from_rows(cls, rows: Ints) -> Self:
        """Columns of an array of shape (n, columns), in the order of `names`."""
        table = np.ascontiguousarray(
            np.asarray(rows, dtype=np.int64).reshape(-1, len(cls.names())).T
        )
        return cls(*table)

    @classmethod
    def of(cls, **said: int) -> Self:
        """One row of what is said, `NONE` where nothing is.

        >>> rule = RuleTable.of(rule=7, built_months=72)
        >>> rule.size, int(rule.built_months[0]), int(rule.made_months[0]) == NONE
        (1, 72, True)
        """
        row = dict.fromkeys(cls.names(), NONE) | said
        return cls.from_rows(np.array([list(row.values())], dtype=np.int64))

    @property
    def size(self) -> int:
        return int(getattr(self, self.names()[0]).size)

    def row(self, index: int) -> dict[str, int]:
        """One row as plain numbers."""
        return {name: int(getattr(self, name)[index]) for name in self.names()}


@dataclass(frozen=True)
class DueInputs(_Columns):
    """All that decides one assembly's dates, shape (n,) each.

    Scope columns hold any stable whole number for a site, class, machine and so on. `placed_*` is
    the first day of the present stay: on a position, the fitted day. `placed_tenths` is what the
    position's counter showed then; `meter_tenths` what it showed on `meter_on`, the last accepted
    reading; both are cumulative over meter changes. `earlier_tenths` are the hours of earlier
    stays as far as known, `earlier_missing` how many of those stays have no hours. Rates are the
    machine's own with their bounds, or the class's where it has too few readings;
    `class_rate_milli` is used where hours must be guessed for a machine that stands now.
    `inspected_on` is the last inspection, `inspected_tenths` the counter then, if that was during
    this stay. A day whose earliest bound is not known counts as not known; one without a latest
    bound counts as exact. `kinds` (`calc.tally.Kind`) says what the hose is counted as: it decides
    nothing, and is kept beside the dates.
    """

    assembly: Ints
    position: Ints
    site: Ints
    machine_class: Ints
    machine: Ints
    circuit: Ints
    hose_type: Ints
    consequence: Ints
    exposure: Ints
    place: Ints
    made_early_on: Ints
    made_late_on: Ints
    built_early_on: Ints
    built_late_on: Ints
    placed_early_on: Ints
    placed_late_on: Ints
    known_from_on: Ints
    placed_tenths: Ints
    meter_tenths: Ints
    meter_on: Ints
    earlier_tenths: Ints
    earlier_missing: Ints
    rate_low_milli: Ints
    rate_milli: Ints
    rate_high_milli: Ints
    class_rate_milli: Ints
    inspected_on: Ints
    inspected_tenths: Ints
    recheck_on: Ints
    replace_by_on: Ints
    take_out_on: Ints
    release_on: Ints
    kinds: Ints

    def __post_init__(self) -> None:
        super().__post_init__()
        unknown = (self.known_from_on == NONE).nonzero()[0]
        if unknown.size:
            raise ValueError(
                f"Assembly {self.assembly[unknown[0]]} has no known_from day: the register must say"
                " since when it has known of an assembly."
            )


@dataclass(frozen=True)
class RuleTable(_Columns):
    """Life rules, a row an approved revision: scope (`NONE` is any), limits (`NONE` is none)."""

    rule: Ints
    site: Ints
    machine_class: Ints
    machine: Ints
    circuit: Ints
    hose_type: Ints
    consequence: Ints
    exposure: Ints
    made_months: Ints
    built_months: Ints
    fitted_months: Ints
    storage_months: Ints
    reel_age_months: Ints
    fitting_tenths: Ints
    total_tenths: Ints
    inspect_months: Ints
    inspect_tenths: Ints

    @cached_property
    def in_order(self) -> Ints:
        """The rows in the order of their rules' ids."""
        return np.argsort(self.rule, kind="stable")

    @cached_property
    def named(self) -> dict[str, Ints]:
        """Per scope that some rule names, the values named, in order."""
        found = {scope: np.unique(getattr(self, scope)) for scope in SCOPES}
        told = {scope: values[values != NONE] for scope, values in found.items()}
        return {scope: values for scope, values in told.items() if values.size}

    @cached_property
    def limited(self) -> tuple[str, ...]:
        """The limits that some rule sets."""
        return tuple(name for name in LIMITS if (getattr(self, name) != NONE).any())

    @cached_property
    def kept(self) -> dict[str, Any]:
        """What others have worked out of these rules alone, kept as long as they are."""
        return {}


@dataclass(frozen=True)
class Exemptions(_Columns):
    """Days to which a trigger is put off: for an assembly, a position or a scope (`NONE` is any).

    `triggers` is a sum of 2**trigger; 0 means all of them.
    """

    assembly: Ints
    position: Ints
    site: Ints
    machine_class: Ints
    machine: Ints
    circuit: Ints
    hose_type: Ints
    consequence: Ints
    exposure: Ints
    triggers: Ints
    until_on: Ints
