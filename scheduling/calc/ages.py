"""Triggers that count calendar months: made, built, fitted, storage, inspection, reel age."""

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

import numpy as np

from scheduling.calc.calendar import Bools, Ints, add_months, beside, some
from scheduling.calc.columns import (
    Rows,
    Span,
    State,
    TriggerColumn,
    not_counted,
    noted,
    sealed,
    sealed_together,
    without_date,
)
from scheduling.calc.inputs import NONE, Flag, Trigger


class Asked(NamedTuple):
    """One trigger that counts calendar months.

    `counts` says in which rows the clock runs; `unknown` is noted where it runs from no known day;
    `notes` stand beside a date.
    """

    trigger: Trigger
    limit_name: str
    start: Span
    unknown: Flag
    counts: Bools
    notes: Ints


def _made(rows: Rows) -> Asked:
    return Asked(Trigger.MADE, "made_months", rows.made, Flag.MADE_UNKNOWN, rows.alive, rows.zero)


def _built(rows: Rows) -> Asked:
    notes = noted(rows.stand_in, Flag.BUILT_FROM_MADE)
    return Asked(Trigger.BUILT, "built_months", rows.built, Flag.BUILT_UNKNOWN, rows.alive, notes)


def _fitted(rows: Rows) -> Asked:
    unknown = Flag.FITTED_UNKNOWN
    return Asked(Trigger.FITTED, "fitted_months", rows.placed, unknown, rows.fitted, rows.zero)


def _stored(rows: Rows) -> Asked:
    return _built(rows)._replace(
        trigger=Trigger.STORAGE, limit_name="storage_months", counts=rows.loose
    )


def _inspected(rows: Rows) -> Asked:
    """Calendar months since the last inspection, while on a machine."""
    return Asked(
        Trigger.INSPECT_MONTHS,
        "inspect_months",
        rows.inspection_base,
        Flag.FITTED_UNKNOWN,
        rows.fitted,
        noted(rows.inputs.inspected_on == NONE, Flag.NEVER_INSPECTED),
    )


# In the order in which the limits are laid beside each other.
_ASKED: Final[tuple[tuple[Trigger, str, Callable[[Rows], Asked]], ...]] = (
    (Trigger.MADE, "made_months", _made),
    (Trigger.BUILT, "built_months", _built),
    (Trigger.FITTED, "fitted_months", _fitted),
    (Trigger.STORAGE, "storage_months", _stored),
    (Trigger.INSPECT_MONTHS, "inspect_months", _inspected),
)


def months_columns(rows: Rows) -> list[TriggerColumn]:
    """Made, built, fitted and storage age, and the inspection interval, in that order.

    The start + a limit in calendar months; late counts from its latest day.

    >>> from scheduling.calc.inputs import DueInputs, Exemptions, RuleTable
    >>> nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> hose = DueInputs.of(place=1, built_early_on=19_844, known_from_on=20_000)
    >>> built = months_columns(Rows(hose, RuleTable.of(rule=7, built_months=72), nobody))[1]
    >>> int(built.likely[0])  # 2024-05-01 + 72 months = 2030-05-01
    22035
    """
    asked = [ask(rows) for _, name, ask in _ASKED if name in rows.limits.names]
    found = {column.trigger: column for column in _together(rows, asked)} if asked else {}
    return [found.get(trigger) or without_date(rows, trigger) for trigger, *_ in _ASKED]


def _together(rows: Rows, asked: Sequence[Asked]) -> list[TriggerColumn]:
    """Those that some rule limits, worked out at once, shape (triggers, n)."""
    limit, rule = rows.limits.together([one.limit_name for one in asked])
    early_on, late_on = (beside([one.start[at] for one in asked]) for at in (0, 1))
    wanted = (limit != NONE) & beside([one.counts for one in asked])
    dated = wanted & (early_on != NONE)
    dates: tuple[Ints, ...] = (
        add_months(early_on, limit),
    )  # of no meaning where it is not dated, and not shown
    notes = np.where(dated, beside([one.notes for one in asked]), 0)
    spread = dated & (late_on != early_on)
    if some(spread):
        late = dates[0].copy()
        late[spread] = add_months(late_on[spread], limit[spread])
        dates = (dates[0], dates[0], late)
        notes |= noted(spread, Flag.UNCERTAIN_DATE)
    undated = wanted & ~dated
    if some(undated):
        notes |= np.where(undated, np.array([[int(one.unknown)] for one in asked]), 0)
    return sealed_together(
        rows,
        [one.trigger for one in asked],
        _state(limit, wanted, dated),
        start_on=early_on,
        limit=limit,
        rule=rule,
        dates=dates,
        notes=notes,
    )


def _state(limit: Ints, wanted: Bools, dated: Bools) -> Ints:
    """Why an age has a day or none: wanted where a limit's clock runs, dated where its start is."""
    idle = np.where(wanted, int(State.NOT_KNOWN), not_counted(limit))
    return np.where(dated, int(State.DATED), idle)


def reel_age_column(rows: Rows) -> TriggerColumn:
    """A hose that was too old when it was built into an assembly is due on the day it was built.

    Too old: built after hose made + limit (on that day itself is in time). Early where that may be
    (made at its earliest, built at its latest), likely with both at their earliest, late where it
    is certain. The built day must be the assembly's own.
    """
    found = rows.limits.of("reel_age_months")
    if found is None:
        return without_date(rows, Trigger.REEL_AGE)
    limit, rule = found
    wanted = limit != NONE
    made, built = rows.made, rows.own_built
    no_made, no_built = wanted & (made.early == NONE), wanted & (built.early == NONE)
    unknown = no_made | no_built
    dates, unsure = _too_old(rows, limit, wanted & ~unknown)
    state = np.where(dates[1] != NONE, int(State.DATED), int(State.KEPT))
    state = np.where(unknown, int(State.NOT_KNOWN), state)
    return sealed(
        rows,
        Trigger.REEL_AGE,
        np.where(wanted, state, int(State.NO_LIMIT)),
        start_on=made.early,
        limit=limit,
        rule=rule,
        dates=dates,
        notes=unsure | noted(no_made, Flag.MADE_UNKNOWN) | noted(no_built, Flag.BUILT_UNKNOWN),
    )


def _too_old(rows: Rows, limit: Ints, known: Bools) -> tuple[tuple[Ints, Ints, Ints], Ints]:
    """Early, likely and late day of a reel that was too old, and where that is not certain."""
    made, built = rows.made, rows.own_built
    last_day = add_months(made.early, limit)
    possible = known & (built.late > last_day)
    if not some(possible):
        return (rows.nothing, rows.nothing, rows.nothing), rows.zero
    certain = known & (built.early > add_months(made.late, limit))
    dates = (
        np.where(possible, built.early, NONE),
        np.where(known & (built.early > last_day), built.early, NONE),
        np.where(certain, built.late, NONE),
    )
    unsure = possible & ((made.late != made.early) | (built.late != built.early))
    return dates, noted(unsure, Flag.UNCERTAIN_DATE)
