"""One assembly's dates in words, from the very columns that decided them."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from scheduling.calc.columns import State, TriggerColumn
from scheduling.calc.due import DueTable
from scheduling.calc.due_words import (
    HOUR_TRIGGERS,
    TITLES,
    as_date,
    flag_sentences,
    hours_words,
    limit_words,
    rate_words,
)
from scheduling.calc.inputs import NONE, REPLACE_TRIGGERS, DueInputs, Flag, Place, Trigger

_NO_DATE: Final = {
    State.NO_LIMIT: "No rule sets this limit.",
    State.KEPT: "The hose was young enough when the assembly was built.",
    State.NOTHING_OPEN: "Nothing open.",
    State.AGE_KNOWN: "The age is known.",
    State.SCRAPPED: "Scrapped: no date.",
    State.TOO_FAR: "The date lies beyond the calendar.",
}


@dataclass(frozen=True)
class TriggerExplained:
    """One trigger in words: what counts from when, the sum, the dates, and whether it binds."""

    trigger: Trigger
    title: str
    binds: bool
    replaces: bool
    rule: int | None
    limit: str
    sentence: str
    early_on: dt.date | None
    likely_on: dt.date | None
    late_on: dt.date | None
    put_off_until: dt.date | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Cell:
    """One trigger of one row: plain numbers of the column, and the row's inputs."""

    trigger: Trigger
    state: State
    start_on: int
    limit: int
    likely: int
    until_on: int
    notes: int
    row: dict[str, int]


def explain(inputs: DueInputs, table: DueTable, index: int = 0) -> tuple[TriggerExplained, ...]:
    """Every trigger of one row in words: those that bind first, then by date.

    >>> import numpy as np
    >>> from scheduling.calc.due import DueInputs, Exemptions, RuleTable, due_table
    >>> hose = DueInputs.of(place=1, built_early_on=19_844, known_from_on=20_000)
    >>> nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> told = explain(hose, due_table(hose, RuleTable.of(rule=7, built_months=72), nobody))
    >>> told[0].binds, str(told[0].likely_on)
    (True, '2030-05-01')
    """
    binding = {
        int(table.result.replace_trigger[index]),
        int(table.result.inspect_trigger[index]),
    }
    row = inputs.row(index)
    told = [_told(column, index, row, binding) for column in table.columns]
    return tuple(
        sorted(told, key=lambda t: (not t.binds, t.likely_on or dt.date.max, int(t.trigger)))
    )


def _told(
    column: TriggerColumn, index: int, row: dict[str, int], binding: set[int]
) -> TriggerExplained:
    trigger, rule = column.trigger, int(column.rule[index])
    cell = _Cell(
        trigger=trigger,
        state=State(int(column.state[index])),
        start_on=int(column.start_on[index]),
        limit=int(column.limit[index]),
        likely=int(column.likely[index]),
        until_on=int(column.until_on[index]),
        notes=int(column.notes[index]),
        row=row,
    )
    return TriggerExplained(
        trigger=trigger,
        title=TITLES[trigger],
        binds=int(trigger) in binding,
        replaces=trigger in REPLACE_TRIGGERS,
        rule=None if rule == NONE else rule,
        limit=limit_words(trigger, cell.limit),
        sentence=_sentence(cell),
        early_on=as_date(int(column.early[index])),
        likely_on=as_date(cell.likely),
        late_on=as_date(int(column.late[index])),
        put_off_until=as_date(cell.until_on),
        notes=flag_sentences(cell.notes),
    )


def _sentence(cell: _Cell) -> str:
    if cell.state is State.KEPT and cell.notes & Flag.UNCERTAIN_DATE:
        return "The hose may have been too old when the assembly was built: its days aren't exact."
    if cell.state in _NO_DATE:
        return _NO_DATE[cell.state]
    if cell.state is State.ELSEWHERE:
        stored = cell.trigger is Trigger.STORAGE
        return "Counts off a machine only." if stored else "Counts on a machine only."
    if cell.state is State.NOT_KNOWN:
        return " ".join(flag_sentences(cell.notes))
    said = _hours_sentence(cell) if cell.trigger in HOUR_TRIGGERS else _days_sentence(cell)
    until = as_date(cell.until_on)
    return f"{said} An exemption runs until {until}: not before that day." if until else said


def _days_sentence(cell: _Cell) -> str:
    start, day = as_date(cell.start_on), as_date(cell.likely)
    if cell.trigger is Trigger.REEL_AGE:
        allowed = limit_words(cell.trigger, cell.limit)
        return f"Hose made {start}; {allowed} allowed until it is built: too old when built."
    if cell.limit == NONE:
        unseen = cell.trigger is Trigger.UNKNOWN_AGE
        known = f"Known since {start} and not inspected since: due from that day."
        return known if unseen else f"{TITLES[cell.trigger]} {start}."
    gives = "" if cell.likely == cell.until_on else f" = {day}"
    return f"{_start_words(cell)} {start} + {limit_words(cell.trigger, cell.limit)}{gives}."


def _start_words(cell: _Cell) -> str:
    """What the limit counts from."""
    row = cell.row
    if cell.trigger is Trigger.MADE or cell.notes & Flag.BUILT_FROM_MADE:
        return "Hose made"
    if cell.trigger in (Trigger.BUILT, Trigger.STORAGE):
        return "Assembly built"
    if cell.trigger is not Trigger.FITTED and row["inspected_on"] != NONE:
        return "Last inspected"
    if row["placed_early_on"] != NONE:
        return "Fitted"
    return "First known" if cell.start_on == row["known_from_on"] else "Assembly built"


def _hours_sentence(cell: _Cell) -> str:
    row, limit = cell.row, hours_words(cell.limit)
    earlier = row["earlier_tenths"] if cell.trigger is Trigger.HOURS_TOTAL else 0
    if row["place"] != Place.FITTED:
        return f"{hours_words(earlier)} run of {limit}: used up before it came off."
    if not cell.notes & Flag.ESTIMATED_FROM_DAYS:
        return _measured_sentence(cell, earlier)
    less = f" less {hours_words(earlier)} on earlier places" if earlier else ""
    rate = rate_words(row["rate_milli"] or row["class_rate_milli"])
    return f"{limit}{less} from {as_date(cell.start_on)} at {rate}: {_own_day(cell)}."


def _measured_sentence(cell: _Cell, earlier: int) -> str:
    row = cell.row
    base = row["placed_tenths"]
    if cell.trigger is Trigger.INSPECT_HOURS and row["inspected_on"] == cell.start_on:
        base = row["inspected_tenths"]
    run = row["meter_tenths"] - base + earlier
    left = cell.limit - run
    meter, start = hours_words(row["meter_tenths"]), hours_words(base)
    text = f"{meter} on {as_date(row['meter_on'])} less {start} at the start"
    text += f", and {hours_words(earlier)} on earlier places" if earlier else ""
    text += f": {hours_words(run)} run of {hours_words(cell.limit)}"
    rate = rate_words(row["rate_milli"])
    if cell.state is State.STANDING:
        return f"{text}, {hours_words(left)} left; the machine stands, so no date."
    if left > 0:
        return f"{text}, {hours_words(left)} left at {rate}: {_own_day(cell)}."
    return f"{text}, {hours_words(-left)} over at {rate}: reached on {_own_day(cell)}."


def _own_day(cell: _Cell) -> str:
    """The trigger's date before an exemption, where the exemption didn't replace it."""
    if cell.likely == cell.until_on:
        return "before the exemption's end"
    return str(as_date(cell.likely))
