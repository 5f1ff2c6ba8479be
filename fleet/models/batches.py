"""Many rows of one table at once: whole numbers and texts straight into the columns.

The rows do not pass through model instances, so nothing is validated or completed here except
the columns that are not named, which get the field's default. Constraints and triggers hold as
ever. Values are as the database keeps them: days and decimals as whole numbers, moments and JSON
as `moment_value` and `json_value` make them.
"""

import datetime as dt
import json
from collections.abc import Iterable, Sequence
from itertools import islice
from json.encoder import encode_basestring
from typing import Any

from django.db import connections, models, router

BATCH = 5_000

_Values = Sequence[Any]
_encode = json.JSONEncoder(ensure_ascii=False).encode


def reserve_ids(model: type[models.Model], count: int) -> Sequence[int]:
    """Ids that no other row of the table has or will get. Call inside a transaction.

    On PostgreSQL they come from the table's sequence; on SQLite the transaction is the only
    writer, and the ids go on from the last that was ever given.
    """
    connection = connections[router.db_for_write(model)]
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
                [table, count],
            )
            return [row[0] for row in cursor.fetchall()]
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        row = cursor.fetchone()
    first = (row[0] if row else 0) + 1
    return range(first, first + count)


def insert_rows(model: type[models.Model], columns: Sequence[str], rows: Iterable[_Values]) -> None:
    """Insert rows given by the values of the named columns. Call inside a transaction.

    What makes the rows must not ask the database meanwhile: the connection is busy with them.
    """
    connection = connections[router.db_for_write(model)]
    constants = _constants(model, columns, connection)
    names = ", ".join(f'"{column}"' for column in (*columns, *constants))
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            same = tuple(constants.values())
            with cursor.copy(f'COPY "{table}" ({names}) FROM STDIN') as copy:
                for row in rows:
                    copy.write_row((*row, *same))
            return
        marks = ", ".join([*(["%s"] * len(columns)), *map(_literal, constants.values())])
        sql = f'INSERT INTO "{table}" ({names}) VALUES ({marks})'
        waiting = iter(rows)
        while batch := list(islice(waiting, BATCH)):
            cursor.executemany(sql, batch)


def update_rows(model: type[models.Model], columns: Sequence[str], rows: Iterable[_Values]) -> None:
    """Set the named columns of rows; each row's values end with its id."""
    connection = connections[router.db_for_write(model)]
    settings = ", ".join(f'"{column}" = %s' for column in columns)
    sql = f'UPDATE "{model._meta.db_table}" SET {settings} WHERE "id" = %s'
    with connection.cursor() as cursor:
        cursor.executemany(sql, list(rows))


def moment_value(model: type[models.Model], at: dt.datetime) -> Any:
    """A moment as the database of the model takes it."""
    connection = connections[router.db_for_write(model)]
    return (
        at
        if connection.vendor == "postgresql"
        else str(connection.ops.adapt_datetimefield_value(at))
    )


def json_value(value: Any) -> str:
    """JSON as both databases take it."""
    return _encode(value)


def json_text(text: str) -> str:
    """A text as it stands within JSON, its quote marks with it."""
    return encode_basestring(text)


def _constants(
    model: type[models.Model], named: Sequence[str], connection: Any
) -> dict[str, str | int]:
    """The columns that are not named and are not empty, with the default of each."""
    missing = [
        field
        for field in model._meta.concrete_fields
        if field.column not in named and not field.primary_key
    ]
    values = {
        str(field.column): _plain(field.get_db_prep_save(field.get_default(), connection))
        for field in missing
    }
    return {column: value for column, value in values.items() if value is not None}


def _plain(value: Any) -> Any:
    """A prepared JSON default comes wrapped for psycopg: its text serves both."""
    return json_value(value.obj) if hasattr(value, "obj") else value


def _literal(value: str | int) -> str:
    """A default as SQL: what is the same in every row is not sent with every row."""
    if isinstance(value, int):
        return str(int(value))
    quoted = str(value).replace("'", "''").replace("%", "%%")
    return f"'{quoted}'"
