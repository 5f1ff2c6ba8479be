"""Writing dues on PostgreSQL. Each function takes whole rows and returns how many it wrote."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from django.db import DataError

from scheduling.actions.due_table import (
    MANY,
    MATCHING,
    NAMES,
    SETTINGS,
    TABLE,
    TALLY,
    VALUES,
    WITH_BEFORE,
    WITH_KEY,
)
from scheduling.calc.calendar import Ints
from scheduling.queries.fast_columns import bound_cursor

_CHANGE: Final = f"UPDATE {TABLE} SET {SETTINGS} FROM"
# What is sent again and again, with PostgreSQL's own marks. Each is all or nothing: where a row is
# no longer as it was read, the last line divides by zero, and the database takes all of it back.
_ALL_OR_NONE: Final = "SELECT 1 / (count(*) = cardinality($1::bigint[]))::int FROM changed"

_WIDTH: Final = len(WITH_BEFORE)
_ARRAYS: Final = ", ".join(f"${at}::bigint[]" for at in range(1, _WIDTH + 1))
_FEW: Final = f"unnest({_ARRAYS}) AS w({', '.join(WITH_BEFORE)}) WHERE {MATCHING}"
_CHANGED: Final = f"changed AS ({_CHANGE} {_FEW} RETURNING 1)"
_TOLD: Final = (
    f"told AS (INSERT INTO {TALLY} (site_id, cells)"
    f" VALUES (${_WIDTH + 1}::bigint, ${_WIDTH + 2}::bytea))"
)
_CHANGE_FEW: Final = f"WITH {_CHANGED} {_ALL_OR_NONE}"
_CHANGE_AND_TALLY: Final = f"WITH {_CHANGED}, {_TOLD} {_ALL_OR_NONE}"
_BESIDE: Final = "pg_temp.dues_to_write"
_COPY_HEAD: Final = b"PGCOPY\n\xff\r\n\0" + bytes(8)
_COPY_FOOT: Final = b"\xff\xff"


def change(cursor: Any, rows: Ints) -> int:
    """Update rows: id, columns, and the fingerprint that must still stand there."""
    if not len(rows):
        return 0
    if len(rows) >= MANY:
        return change_ready(cursor, ready(rows))
    source, parameters = _unnested(WITH_BEFORE, rows)
    cursor.execute(f"{_CHANGE} {source} WHERE {MATCHING}", parameters)
    return int(cursor.rowcount)


def change_and_tally(connection: Any, rows: Ints, told: list[int | bytes]) -> bool:
    """Update a few rows, and write what that changes in one site's counts, if anything.

    One statement and so one journey, which outside a transaction is one of its own. False where a
    row is no longer as it was read: then nothing is written, and a transaction around it must end.
    """
    import psycopg

    sql = _CHANGE_AND_TALLY if told else _CHANGE_FEW
    try:
        with bound_cursor(connection, dollars=True) as bound:
            bound.execute(sql, [*_literals(rows), *told], prepare=True)
    except DataError as error:
        if isinstance(error.__cause__, psycopg.errors.DivisionByZero):
            return False
        raise
    return True


def add(cursor: Any, rows: Ints) -> int:
    """Insert rows: id and columns. One that stands already is left as it is."""
    if not len(rows):
        return 0
    source, parameters = _unnested(WITH_KEY, rows)
    insert = f"INSERT INTO {TABLE} ({NAMES}) SELECT {VALUES} FROM {source} ON CONFLICT DO NOTHING"
    cursor.execute(insert, parameters)
    return int(cursor.rowcount)


def remove(cursor: Any, rows: Ints) -> int:
    """Delete rows: id and the fingerprint that must still stand there."""
    if not len(rows):
        return 0
    source, parameters = _unnested(("assembly_id", "before"), rows)
    cursor.execute(f"DELETE FROM {TABLE} USING {source} WHERE {MATCHING}", parameters)
    return int(cursor.rowcount)


def _unnested(names: Sequence[str], rows: Ints) -> tuple[str, Sequence[str]]:
    """Columns sent as one array literal each, rebuilt as rows by the database."""
    arrays = ", ".join(["%s::bigint[]"] * len(names))
    return f"unnest({arrays}) AS w({', '.join(names)})", _literals(rows)


def _literals(rows: Ints) -> list[str]:
    """Each column as PostgreSQL writes an array: as Python writes a list, but for the brackets."""
    return [f"{{{str(column)[1:-1]}}}" for column in rows.T.tolist()]


def change_ready(cursor: Any, rows: bytes) -> int:
    """Update many rows that are ready to be sent, copied into a table of their own first."""
    columns = ", ".join(f"{name} bigint" for name in WITH_BEFORE)
    cursor.execute(
        f"CREATE TEMP TABLE IF NOT EXISTS dues_to_write ({columns}) ON COMMIT DELETE ROWS"
    )
    cursor.execute(f"TRUNCATE {_BESIDE}")
    with cursor.cursor.copy(f"COPY {_BESIDE} FROM STDIN (FORMAT BINARY)") as copy:
        copy.write(rows)
    cursor.execute(f"{_CHANGE} {_BESIDE} AS w WHERE {MATCHING}")
    return int(cursor.rowcount)


def ready(rows: Ints) -> bytes:
    """Many rows in COPY's binary form: how many columns, then each one's length and value."""
    width = rows.shape[1]
    fields: list[tuple[str, str]] = [("columns", ">i2")]
    for at in range(width):
        fields += [(f"length{at}", ">i4"), (f"value{at}", ">i8")]
    table = np.zeros(len(rows), dtype=fields)
    table["columns"] = width
    for at in range(width):
        table[f"length{at}"] = 8
        table[f"value{at}"] = rows[:, at]
    return _COPY_HEAD + table.tobytes() + _COPY_FOOT
