"""Writing dues: only the rows that changed, and none that someone else changed meanwhile."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db import connections, router, transaction

from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE
from scheduling.models import Due
from scheduling.queries.due_columns import STORED

_COLUMNS = tuple(f"{name}_id" if name in ("site", "machine") else name for name in STORED)
_TABLE = Due._meta.db_table
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
    write = _on_postgresql if connection.vendor == "postgresql" else _on_sqlite
    with transaction.atomic(using=using), connection.cursor() as cursor:
        return bool(write(cursor, changes) == changes.size)


def _on_sqlite(cursor: Any, changes: Changes) -> int:
    settings = ", ".join(f'"{column}" = %s' for column in _COLUMNS)
    marks = ", ".join(["%s"] * (len(_COLUMNS) + 1))
    names = ", ".join(f'"{column}"' for column in ("assembly_id", *_COLUMNS))
    guard = 'WHERE "assembly_id" = %s AND "fingerprint" = %s'
    return sum(
        _many(cursor, sql, rows)
        for sql, rows in (
            (
                f'UPDATE "{_TABLE}" SET {settings} {guard}',
                np.column_stack([changes.changed_values, changes.changed, changes.changed_before]),
            ),
            (
                f'INSERT INTO "{_TABLE}" ({names}) VALUES ({marks}) ON CONFLICT DO NOTHING',
                np.column_stack([changes.added, changes.added_values]),
            ),
            (
                f'DELETE FROM "{_TABLE}" {guard}',
                np.column_stack([changes.removed, changes.removed_before]),
            ),
        )
    )


def _many(cursor: Any, sql: str, rows: Ints) -> int:
    if not rows.size:
        return 0
    cursor.executemany(sql, _with_nulls(rows))
    return int(cursor.rowcount)


def _with_nulls(rows: Ints) -> Sequence[Sequence[int | None]]:
    table = rows.astype(object)
    table[rows == NONE] = None
    plain: list[list[int | None]] = table.tolist()
    return plain


def _on_postgresql(cursor: Any, changes: Changes) -> int:
    settings = ", ".join(f'"{column}" = v."{column}"' for column in _COLUMNS)
    names = ", ".join(f'"{column}"' for column in ("assembly_id", *_COLUMNS))
    match = 'd."assembly_id" = v."assembly_id" AND d."fingerprint" = v.before'
    written = 0
    if changes.changed.size:
        source = _unnested(("assembly_id", *_COLUMNS, "before"))
        rows = [changes.changed, *changes.changed_values.T, changes.changed_before]
        sql = f'UPDATE "{_TABLE}" AS d SET {settings} FROM {source} WHERE {match}'
        written += _once(cursor, sql, rows)
    if changes.added.size:
        source = _unnested(("assembly_id", *_COLUMNS))
        sql = (
            f'INSERT INTO "{_TABLE}" ({names}) SELECT {names} FROM {source} ON CONFLICT DO NOTHING'
        )
        written += _once(cursor, sql, [changes.added, *changes.added_values.T])
    if changes.removed.size:
        source = _unnested(("assembly_id", "before"))
        sql = f'DELETE FROM "{_TABLE}" AS d USING {source} WHERE {match}'
        written += _once(cursor, sql, [changes.removed, changes.removed_before])
    return written


def _unnested(names: Sequence[str]) -> str:
    """Columns sent as one array each, rebuilt as rows by the database."""
    arrays = ", ".join(["%s::bigint[]"] * len(names))
    return f"unnest({arrays}) AS v({', '.join(names)})"


def _once(cursor: Any, sql: str, columns: Sequence[Ints]) -> int:
    cursor.execute(sql, [_array(column) for column in columns])
    return int(cursor.rowcount)


def _array(column: Ints) -> str:
    """An array literal: much faster to make than a list of adapted numbers."""
    return "{" + ",".join(["NULL" if n == NONE else str(n) for n in column.tolist()]) + "}"
