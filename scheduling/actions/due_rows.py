"""Writing dues: only the rows that changed, and none that someone else changed meanwhile."""

from dataclasses import dataclass
from types import ModuleType

import numpy as np
from django.db import connections, router, transaction

from scheduling.actions import postgresql_rows, sqlite_rows
from scheduling.calc.calendar import Ints
from scheduling.models import Due
from scheduling.queries.due_columns import STORED

_FINGERPRINT = STORED.index("fingerprint")


@dataclass(frozen=True)
class Changes:
    """Rows to write: ids of shape (n,), values of shape (n, len(STORED)), and what stood before.

    `before` holds the fingerprints that the rows to change or remove had when they were read.
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
        old_values[old_rows[differs], _FINGERPRINT],
        ids[~stood],
        values[~stood],
        old_ids[gone],
        old_values[gone, _FINGERPRINT],
    )


def write_changes(changes: Changes) -> bool:
    """Write in one transaction of its own, or one step of the caller's. True where all stuck.

    A row whose fingerprint is no longer the one that was read is left alone: whoever changed it
    knew something newer. Then False is returned, and the caller reads again.
    """
    if not changes.size:
        return True
    using = router.db_for_write(Due)
    connection = connections[using]
    to = writers(connection.vendor)
    with transaction.atomic(using=using), connection.cursor() as cursor:
        done = (
            to.change(
                cursor, _rows(changes.changed, changes.changed_values, changes.changed_before)
            ),
            to.add(cursor, _rows(changes.added, changes.added_values)),
            to.remove(cursor, _rows(changes.removed, changes.removed_before)),
        )
    return bool(sum(done) == changes.size)


def writers(vendor: str) -> ModuleType:
    """The module that writes to a kind of database."""
    return postgresql_rows if vendor == "postgresql" else sqlite_rows


def _rows(*columns: Ints) -> Ints:
    return np.column_stack(columns)
