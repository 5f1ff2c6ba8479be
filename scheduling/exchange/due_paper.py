"""The due list for print: lines from the list, grouped by machine, as the drawing wants them."""

import datetime as dt
from collections.abc import Iterable
from typing import Final

from scheduling.pdf.due_list import DueListContent, DueListMachine, DueListRow
from scheduling.queries.due_list import DueLine

_LOOSE: Final = "Not on a machine"
_STATE: Final = {"out": "take out now", "over": "overdue", "undated": "no date known"}


def due_paper(
    lines: Iterable[DueLine], *, site: str, as_of_on: dt.date, filtered: str
) -> DueListContent:
    """A printed due list. Machines by number, the hoses of each by day; loose hoses last."""
    groups: dict[str, list[DueLine]] = {}
    for line in lines:
        groups.setdefault(line.machine or _LOOSE, []).append(line)
    names = sorted(groups, key=lambda name: (name == _LOOSE, name))
    everything = [line for name in names for line in groups[name]]
    return DueListContent(
        site=site,
        as_of_on=as_of_on,
        filtered=filtered,
        summary=_summary(everything),
        machines=tuple(_machine(name, groups[name]) for name in names),
    )


def _machine(name: str, lines: list[DueLine]) -> DueListMachine:
    ordered = sorted(lines, key=lambda line: (line.due_on or dt.date.min, line.hose_id))
    return DueListMachine(name, lines[0].class_name, tuple(_row(line) for line in ordered))


def _row(line: DueLine) -> DueListRow:
    return DueListRow(
        position=line.place,
        tag=line.label,
        hose=line.words,
        early_on=line.replace_early_on,
        likely_on=line.replace_on,
        late_on=line.replace_late_on,
        inspect_on=line.inspect_on,
        binds=line.binds,
        consequence=line.consequence,
        state=_STATE.get(line.standing, ""),
    )


def _summary(lines: list[DueLine]) -> str:
    counts = [
        (len(lines), "hoses"),
        *((sum(line.standing == key for line in lines), word) for key, word in _STATE.items()),
    ]
    return ", ".join(f"{number:,} {word}" for number, word in counts if number or word == "hoses")
