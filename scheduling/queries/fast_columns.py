"""Whole-number columns of many rows, read straight into numpy on both databases."""

from itertools import chain
from typing import Any

import numpy as np
from django.db import connections
from django.db.models import BigIntegerField, Case, Expression, F, QuerySet, Value, When
from django.db.models.functions import Cast, Coalesce

from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE


def whole(path: str) -> Expression:
    """A column as the database keeps it, `NONE` where it is empty."""
    return Coalesce(Cast(F(path), BigIntegerField()), Value(NONE), output_field=BigIntegerField())


def coded(path: str, codes: dict[str, int]) -> Expression:
    """A text column as the code of its value; 0 for a value without one, `NONE` where empty."""
    whens = [When(**{path: text}, then=Value(code)) for text, code in codes.items()]
    empty = When(**{f"{path}__isnull": True}, then=Value(NONE))
    return Case(empty, *whens, default=Value(0), output_field=BigIntegerField())


def read_columns(queryset: "QuerySet[Any, Any]", names: tuple[str, ...]) -> Ints:
    """The named whole-number columns of a queryset, shape (n, names), in no stated order.

    The SQL is the queryset's own; only the transport differs. PostgreSQL sends all rows as one
    binary value, because unpacking row by row costs more than the query; SQLite's rows go straight
    into the array. No row passes through a model.
    """
    wanted = queryset.order_by().values_list(*names)
    sql, params = wanted.query.get_compiler(using=wanted.db).as_sql()
    connection = connections[wanted.db]
    fetch = _from_postgresql if connection.vendor == "postgresql" else _from_sqlite
    return fetch(connection, sql, params, len(names))


def _from_sqlite(connection: Any, sql: str, params: Any, width: int) -> Ints:
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        rows = cursor.fetchall()
    flat = np.fromiter(chain.from_iterable(rows), dtype=np.int64, count=len(rows) * width)
    return flat.reshape(-1, width)


def _from_postgresql(connection: Any, sql: str, params: Any, width: int) -> Ints:
    import psycopg

    columns = [f"c{i}" for i in range(width)]
    sent = "||".join(f"int8send({column}::int8)" for column in columns)
    packed = f"SELECT string_agg({sent}, ''::bytea) FROM ({sql}) AS t({', '.join(columns)})"
    connection.ensure_connection()
    with psycopg.Cursor(connection.connection) as cursor:
        cursor.execute(packed, params, binary=True)
        found = cursor.fetchone()
    data = found[0] if found and found[0] is not None else b""
    return np.frombuffer(data, dtype=">i8").astype(np.int64).reshape(-1, width)
