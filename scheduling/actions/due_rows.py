"""Writing dues: only the rows that changed, and none that someone else changed meanwhile."""

from contextlib import suppress
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np
from django.db import connections, router, transaction

from scheduling.actions import postgresql_rows, sqlite_rows
from scheduling.actions.due_table import MANY
from scheduling.actions.tallies import ONE_SITE, tally, tally_rows
from scheduling.calc.calendar import Ints, every
from scheduling.models import Due
from scheduling.queries.due_columns import STORED

_FINGERPRINT = STORED.index("fingerprint")


class ChangedMeanwhile(Exception):
    """Some rows were no longer what they had been when they were read."""


@dataclass(frozen=True)
class Changes:
    """Rows to write: ids of shape (n,), values of shape (n, len(STORED)), and what stood before.

    `before` holds what the rows to change or remove were when they were read.
    """

    changed: Ints
    changed_values: Ints
    changed_before: Ints
    added: Ints
    added_values: Ints
    removed: Ints
    removed_before: Ints

    @property
    def size(self) -> int:
        return int(self.changed.size + self.added.size + self.removed.size)

    @property
    def rows(self) -> Ints:
        """Those to change: id, values, and the fingerprint that must still stand there."""
        before = self.changed_before[:, _FINGERPRINT]
        return _rows(self.changed, self.changed_values, before)

    @property
    def old(self) -> Ints:
        """The rows that will be no more."""
        return np.concatenate([self.changed_before, self.removed_before])

    @property
    def new(self) -> Ints:
        """The rows that will be."""
        return np.concatenate([self.changed_values, self.added_values])


def changes_between(ids: Ints, values: Ints, old_ids: Ints, old_values: Ints) -> Changes:
    """What must be written so that `old` becomes new. Ids in order; values as stored.

    >>> old, new = np.full((2, len(STORED)), 7), np.full((2, len(STORED)), 7)
    >>> new[0, 0] = 8
    >>> found = changes_between(np.array([2, 3]), new, np.array([1, 2]), old)
    >>> found.changed.tolist(), found.added.tolist(), found.removed.tolist()
    ([2], [3], [1])
    """
    if np.array_equal(ids, old_ids):  # as it is nearly always
        return _between_the_same(ids, values, old_values)
    at = np.searchsorted(old_ids, ids)
    stood = at < old_ids.size
    stood[stood] = old_ids[at[stood]] == ids[stood]
    old_rows = at[stood]
    differs = (values[stood] != old_values[old_rows]).any(axis=1)
    gone = np.ones(old_ids.size, dtype=bool)
    gone[old_rows] = False
    return Changes(
        ids[stood][differs],
        values[stood][differs],
        old_values[old_rows[differs]],
        ids[~stood],
        values[~stood],
        old_ids[gone],
        old_values[gone],
    )


def _between_the_same(ids: Ints, values: Ints, old_values: Ints) -> Changes:
    differs = (values != old_values).any(axis=1)
    if not every(differs):
        ids, values, old_values = ids[differs], values[differs], old_values[differs]
    none, no_values = ids[:0], values[:0]
    return Changes(ids, values, old_values, none, no_values, none, no_values)


def write_changes(changes: Changes) -> bool:
    """Write all in one transaction of its own, or one step of the caller's; False where none.

    A row whose fingerprint is no longer the one that was read was changed by someone who knew
    something newer. Then nothing is written, and the caller reads again.
    """
    with suppress(ChangedMeanwhile), transaction.atomic(using=router.db_for_write(Due)):
        write_within(changes)
        return True
    return False


def write_within(changes: Changes) -> None:
    """Write within the caller's transaction. Raises `ChangedMeanwhile`: then it must end."""
    if not changes.size:
        return
    with connections[router.db_for_write(Due)].cursor() as cursor:
        done = _write(cursor, changes)
        tally(cursor, changes.old, changes.new)
    if done != changes.size:
        raise ChangedMeanwhile


def write_few(changes: Changes) -> None:
    """Write all or nothing: in the caller's transaction, or in one of its own.

    Raises `ChangedMeanwhile`: then nothing is written, and the caller's transaction must end. On
    PostgreSQL rows of one site go with their counts, since each journey is paid for.
    """
    connection = connections[router.db_for_write(Due)]
    if connection.vendor == "postgresql" and 0 < changes.changed.size == changes.size < MANY:
        told = tally_rows(changes.old, changes.new)
        if len(told) <= ONE_SITE:
            if not postgresql_rows.change_and_tally(connection, changes.rows, told):
                raise ChangedMeanwhile
            return
    with transaction.atomic(using=connection.alias, savepoint=False):
        write_within(changes)


def _write(cursor: Any, changes: Changes) -> int:
    to, done = writers(cursor.db.vendor), 0
    if changes.changed.size:
        done += to.change(cursor, changes.rows)
    if changes.added.size:
        done += to.add(cursor, _rows(changes.added, changes.added_values))
    if changes.removed.size:
        gone = changes.removed_before[:, _FINGERPRINT]
        done += to.remove(cursor, _rows(changes.removed, gone))
    return int(done)


def writers(vendor: str) -> ModuleType:
    """The module that writes to a kind of database."""
    return postgresql_rows if vendor == "postgresql" else sqlite_rows


def _rows(*columns: Ints) -> Ints:
    return np.column_stack(columns)
