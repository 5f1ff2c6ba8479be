"""Writing dues: only the rows that changed, and none that someone else changed meanwhile."""

from contextlib import suppress
from dataclasses import dataclass
from types import ModuleType

import numpy as np
from django.db import connections, router, transaction

from scheduling.actions import postgresql_rows, sqlite_rows
from scheduling.actions.tallies import tally
from scheduling.calc.calendar import Ints
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


def changes_between(ids: Ints, values: Ints, old_ids: Ints, old_values: Ints) -> Changes:
    """What must be written so that `old` becomes new. Ids in order; values as stored.

    >>> old, new = np.full((2, len(STORED)), 7), np.full((2, len(STORED)), 7)
    >>> new[0, 0] = 8
    >>> found = changes_between(np.array([2, 3]), new, np.array([1, 2]), old)
    >>> found.changed.tolist(), found.added.tolist(), found.removed.tolist()
    ([2], [3], [1])
    """
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
    connection = connections[router.db_for_write(Due)]
    to = writers(connection.vendor)
    before, gone = changes.changed_before, changes.removed_before
    with connection.cursor() as cursor:
        done = (
            to.change(
                cursor, _rows(changes.changed, changes.changed_values, before[:, _FINGERPRINT])
            ),
            to.add(cursor, _rows(changes.added, changes.added_values)),
            to.remove(cursor, _rows(changes.removed, gone[:, _FINGERPRINT])),
        )
        if sum(done) != changes.size:
            raise ChangedMeanwhile
        old = np.concatenate([before, gone])
        tally(cursor, old, np.concatenate([changes.changed_values, changes.added_values]))


def writers(vendor: str) -> ModuleType:
    """The module that writes to a kind of database."""
    return postgresql_rows if vendor == "postgresql" else sqlite_rows


def _rows(*columns: Ints) -> Ints:
    return np.column_stack(columns)
