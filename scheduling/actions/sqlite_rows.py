"""Writing dues on SQLite. Each function takes whole rows and returns how many it wrote."""

from typing import Any, Final

from scheduling.actions.due_table import (
    COLUMNS,
    MANY,
    MATCHING,
    NAMES,
    SETTINGS,
    TABLE,
    WITH_BEFORE,
    WITH_KEY,
)
from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE

_BESIDE: Final = "temp.dues_to_write"


def change(cursor: Any, rows: Ints) -> int:
    """Update rows: id, columns, and the fingerprint that must still stand there.

    Many are first laid into a table of their own: one UPDATE from it walks the indexes in order.
    """
    if len(rows) < MANY:
        return _change_one_by_one(cursor, rows)
    return change_ready(cursor, ready(rows))


def ready(rows: Ints) -> list[list[int]]:
    """Many rows to change, made ready to be sent."""
    return rows.tolist()  # type: ignore[no-any-return]  # a list of rows


def change_ready(cursor: Any, rows: list[list[int]]) -> int:
    """Update many rows that are ready to be sent."""
    columns = ", ".join(f'"{name}" INTEGER' for name in WITH_BEFORE)
    keyed = columns.replace("INTEGER", "INTEGER PRIMARY KEY", 1)
    cursor.execute(f"CREATE TEMP TABLE IF NOT EXISTS dues_to_write ({keyed})")
    cursor.execute(f"DELETE FROM {_BESIDE}")
    cursor.executemany(f"INSERT INTO {_BESIDE} VALUES ({_marks(len(WITH_BEFORE))})", rows)
    cursor.execute(f"UPDATE {TABLE} SET {SETTINGS} FROM {_BESIDE} AS w WHERE {MATCHING}")
    written = int(cursor.rowcount)
    cursor.execute(f"DELETE FROM {_BESIDE}")
    return written


def _change_one_by_one(cursor: Any, rows: Ints) -> int:
    settings = ", ".join(f'"{name}" = NULLIF(%s, {NONE})' for name in COLUMNS)
    guard = 'WHERE "assembly_id" = %s AND "fingerprint" = %s'
    reordered = [[*row[1:-1], row[0], row[-1]] for row in rows.tolist()]
    return _many(cursor, f"UPDATE {TABLE} SET {settings} {guard}", reordered)


def add(cursor: Any, rows: Ints) -> int:
    """Insert rows: id and columns. One that stands already is left as it is."""
    marks = ", ".join([f"NULLIF(%s, {NONE})"] * len(WITH_KEY))
    insert = f"INSERT INTO {TABLE} ({NAMES}) VALUES ({marks}) ON CONFLICT DO NOTHING"
    return _many(cursor, insert, rows.tolist())


def remove(cursor: Any, rows: Ints) -> int:
    """Delete rows: id and the fingerprint that must still stand there."""
    guard = 'WHERE "assembly_id" = %s AND "fingerprint" = %s'
    return _many(cursor, f"DELETE FROM {TABLE} {guard}", rows.tolist())


def _many(cursor: Any, sql: str, rows: list[list[int]]) -> int:
    if not rows:
        return 0
    cursor.executemany(sql, rows)
    return int(cursor.rowcount)


def _marks(number: int) -> str:
    return ", ".join(["%s"] * number)
