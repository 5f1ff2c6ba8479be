"""Keeping the dues: reads what changed, works it out, writes only the rows that differ.

Every chunk is a transaction of its own: readers see its old rows or its new ones, never none, and
a run that is killed leaves whole chunks behind it, to be finished by the next. What stands is read
before what it follows from, and a row is written over only if it is still as it was read; so a
slower run can't undo what a quicker one learnt meanwhile.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, nullcontext, suppress
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from django.db import connections, router, transaction

from assemblies.models import Assembly
from fleet.models import Site
from scheduling.actions.due_rows import (
    ChangedMeanwhile,
    Changes,
    changes_between,
    write_changes,
    write_few,
)
from scheduling.calc.calendar import Ints, beside
from scheduling.calc.due import DueInputs, DueResult, Flag, due_dates
from scheduling.calc.tally import Kind
from scheduling.models import Due
from scheduling.queries.due_columns import (
    STORED,
    One,
    Some,
    due_inputs,
    hoses_of_machines,
    read_one,
    stored_dues,
)
from scheduling.queries.rule_tables import Rulebook, rulebook

CHUNK = 50_000
MOST_TRIES = 5
_TAKE_OUT_NOW: Final = int(Flag.TAKE_OUT_NOW)
_OUT_NOW: Final = int(Kind.OUT_NOW)
FEW = 4  # so many machines or hoses are quicker one by one, each in two statements


@dataclass
class Refreshed:
    """What a refresh found: rows looked at, and those it changed, added and removed."""

    seen: int = 0
    changed: int = 0
    added: int = 0
    removed: int = 0
    examples: list[int] = field(default_factory=list)

    @property
    def written(self) -> int:
        return self.changed + self.added + self.removed

    def count(self, seen: int, changes: Changes) -> None:
        self.seen += seen
        self.changed += int(changes.changed.size)
        self.added += int(changes.added.size)
        self.removed += int(changes.removed.size)
        for differing in (changes.changed, changes.added, changes.removed):
            self.examples += differing[: max(0, 20 - len(self.examples))].tolist()


_STILL = "These dues were changed by others each time they were to be written."


class StillChanging(Exception):
    """Rows that others changed each time they were to be written."""


def refresh_all(
    *,
    check: bool = False,
    chunk: int = CHUNK,
    progress: Callable[[int, int], None] | None = None,
) -> Refreshed:
    """Work out the dues of every assembly; with `check` only say what would change.

    Safe to repeat and to kill. Chunks of ids in order, each its own transaction.
    """
    found = Refreshed()
    runs = list(_runs(chunk))
    for done, some in enumerate(runs, 1):
        _refresh(some, found, check=check)
        if progress:
            progress(done, len(runs))
    return found


def refresh_site(*, site: Site) -> Refreshed:
    """Work out the dues of a site's assemblies."""
    return refresh_assemblies(
        assembly_ids=Assembly.objects.filter(site=site).values_list("pk", flat=True)
    )


def refresh_machines(*, machine_ids: Iterable[int]) -> Refreshed:
    """Work out the dues of what is on some machines, and of what was when they were last kept.

    Quick enough to be done in the request that changed something.
    """
    ids = sorted(set(machine_ids))
    if len(ids) <= FEW:
        return _refresh_few([One(machine_id=one) for one in ids])
    return refresh_assemblies(assembly_ids=hoses_of_machines(tuple(ids)))


def refresh_assemblies(*, assembly_ids: Iterable[int]) -> Refreshed:
    """Work out the dues of some assemblies."""
    found, ids = Refreshed(), sorted(set(assembly_ids))
    if len(ids) <= FEW:
        return _refresh_few([One(assembly_id=one) for one in ids])
    for start in range(0, len(ids), 500):
        _refresh(Some(ids=tuple(ids[start : start + 500])), found)
    return found


def _refresh(some: Some, found: Refreshed, *, check: bool = False) -> None:
    for _ in range(MOST_TRIES):
        old_ids, old_values = stored_dues(some)
        book = rulebook()
        ids, values = worked_out(due_inputs(some, book), book)
        changes = changes_between(ids, values, old_ids, old_values)
        if check or write_changes(changes):
            found.count(ids.size, changes)
            return
    raise StillChanging(_STILL)


def _refresh_few(subjects: Iterable[One]) -> Refreshed:
    """Each read, worked out and written as one step."""
    found = Refreshed()
    for one in subjects:
        for _ in range(MOST_TRIES):
            with suppress(ChangedMeanwhile), _one_step():
                read = read_one(one)
                changes = changes_between(
                    *worked_out(read.inputs, read.book), read.ids, read.values
                )
                write_few(changes)
                found.count(read.inputs.size, changes)
                break
        else:
            raise StillChanging(_STILL)
    return found


def _one_step() -> AbstractContextManager[object]:
    """One transaction, or one step of the caller's.

    PostgreSQL needs none of its own: it reads in one statement and writes all or nothing, and what
    is read holds the write back where it is no longer so. Each end of a transaction is a journey.
    """
    connection = connections[router.db_for_write(Due)]
    if connection.vendor == "postgresql" and not connection.in_atomic_block:
        return nullcontext()
    return transaction.atomic(using=connection.alias)


def worked_out(inputs: DueInputs, book: Rulebook) -> tuple[Ints, Ints]:
    """Assembly ids in order, and their dues as they are stored, shape (n, len(STORED))."""
    exempt = book.exemptions_for(inputs.assembly, inputs.position)
    return inputs.assembly, stored_form(inputs, due_dates(inputs, book.rules, exempt))


def stored_form(inputs: DueInputs, result: DueResult) -> Ints:
    """A result as rows of the table's columns, in the order of `STORED`."""
    out_now = ((result.flags & _TAKE_OUT_NOW) != 0) * np.array(_OUT_NOW)
    columns = {
        "site": inputs.site,
        "machine": inputs.machine,
        "kinds": inputs.kinds | out_now,
        "due_on": result.due_on,
        "replace_early_on": result.replace_early,
        "replace_late_on": result.replace_late,
    }
    table = beside([columns[n] if n in columns else getattr(result, n) for n in STORED])
    return np.ascontiguousarray(table.T)


def _runs(chunk: int) -> Iterator[Some]:
    """Runs of ids with about `chunk` assemblies each, over all that have or had a due."""
    low, last = -1, _last_id()
    while low < last:
        above = Assembly.objects.filter(pk__gt=low).order_by("pk").values_list("pk", flat=True)
        high = next(iter(above[chunk - 1 : chunk]), last)
        yield Some(low=low, high=high)
        low = high


def _last_id() -> int:
    newest = Assembly.objects.order_by("-pk").values_list("pk", flat=True).first()
    return -1 if newest is None else int(newest)
