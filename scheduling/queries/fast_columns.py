"""Whole-number columns of many rows, read straight into numpy on both databases.

The SQL is compiled from the ORM's own querysets, once: compiling costs more than running it for the
hoses of one machine. What it is asked for is then filled in.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from typing import Any, Final

import numpy as np
from django.db import connections, router
from django.db.models import (
    BigIntegerField,
    BooleanField,
    Case,
    Expression,
    F,
    Func,
    Model,
    Q,
    QuerySet,
    TextField,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce

from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE

Codes = tuple[tuple[str, int], ...]  # texts with the numbers that stand for them

_LOW: Final = -9_000_000_000_000_001  # stand where the wanted ids are filled in
_HIGH: Final = -9_000_000_000_000_002
_IDS: Final = "the ids wanted"


@dataclass(frozen=True)
class Some:
    """Which rows: a run of ids (above `low`, up to `high`), or the ids named."""

    low: int = 0
    high: int = 0
    ids: tuple[int, ...] | None = None


class Among(Func):
    """Whether a column is one of the ids given as one parameter, however many they are."""

    output_field = BooleanField()

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        template = "%(expressions)s)"
        joined = " IN (SELECT value FROM json_each("
        return self._written(compiler, connection, template + ")", joined, **extra)

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return self._written(compiler, connection, "%(expressions)s::bigint[])", " = ANY(", **extra)

    def _written(
        self, compiler: Any, connection: Any, template: str, joined: str, **extra: Any
    ) -> Any:
        return self.as_sql(compiler, connection, template=template, arg_joiner=joined, **extra)


@dataclass(frozen=True)
class Wanted:
    """The condition on a path that is compiled in; its values come with each reading."""

    named: bool

    def on(self, path: str) -> Q:
        if self.named:
            return Q(Among(F(path), Value(_IDS, output_field=TextField())))
        return Q(**{f"{path}__gt": _LOW, f"{path}__lte": _HIGH})


Query = Callable[[Wanted, Codes], tuple["QuerySet[Any, Any]", tuple[str, ...]]]


def whole(path: str) -> Expression:
    """A column as the database keeps it, `NONE` where it is empty."""
    return Coalesce(Cast(F(path), BigIntegerField()), Value(NONE), output_field=BigIntegerField())


def coded(path: str, codes: Codes) -> Expression:
    """A text column as the code of its value; 0 for a value without one, `NONE` where empty."""
    whens = [When(**{path: text}, then=Value(code)) for text, code in codes]
    empty = When(**{f"{path}__isnull": True}, then=Value(NONE))
    return Case(empty, *whens, default=Value(0), output_field=BigIntegerField())


def read_columns(query: Query, some: Some, codes: Codes = ()) -> Ints:
    """The whole-number columns of a query for some ids, shape (n, columns), in no stated order.

    PostgreSQL sends all rows as one binary value, because unpacking row by row costs more than the
    query; SQLite's rows go straight into the array. No row passes through a model.
    """
    sql, params, width, using = _compiled(query, some.ids is not None, codes)
    connection = connections[using]
    filled = _filled(params, some, connection.vendor)
    return _numbers(fetch_raw(connection, sql, filled, width), width)


def read_together(queries: tuple[Query, ...], some: Some, codes: Codes) -> list[Ints]:
    """What several queries say of some ids that are named: on PostgreSQL in one statement.

    There it is one journey and one plan, which is kept; the rows of each query are numbered by its
    place and filled up to the width of the widest. SQLite is in this process: it answers several
    short questions sooner than one long one.
    """
    sql, params, widths, using = _compiled_together(queries, codes)
    connection = connections[using]
    if connection.vendor != "postgresql":
        return [read_columns(query, some, codes) for query in queries]
    width = max(widths) + 1
    filled = _filled(params, some, connection.vendor)
    table = _numbers(fetch_raw(connection, sql, filled, width, keep_plan=True), width)
    return [table[table[:, 0] == at, 1 : own + 1] for at, own in enumerate(widths)]


@lru_cache(maxsize=64)
def _compiled_together(
    queries: tuple[Query, ...], codes: Codes
) -> tuple[str, tuple[Any, ...], tuple[int, ...], str]:
    told = [_compiled(query, True, codes) for query in queries]
    widths = tuple(width for _, _, width, _ in told)
    rows = " UNION ALL ".join(
        f"SELECT {at}, q{at}.*{', 0' * (max(widths) - width)} FROM ({sql}) AS q{at}"
        for at, (sql, _, width, _) in enumerate(told)
    )
    params = tuple(param for _, own, *_ in told for param in own)
    return rows, params, widths, told[0][3]


@lru_cache(maxsize=256)
def _compiled(query: Query, named: bool, codes: Codes) -> tuple[str, tuple[Any, ...], int, str]:
    queryset, names = query(Wanted(named), codes)
    using = queryset.db
    wanted = queryset.order_by().values_list(*names)
    sql, params = wanted.query.get_compiler(using=using).as_sql()
    mark = "%s" if connections[using].vendor == "postgresql" else "?"
    sql, left = _with_numbers(sql, params, mark)
    return sql, left, len(names), using


def _with_numbers(sql: str, params: Sequence[Any], mark: str) -> tuple[str, tuple[Any, ...]]:
    """A statement with its constant numbers written in, and the params that are left."""
    first, *parts = sql.split("%s")
    left = [p for p in params if not isinstance(p, int) or p in {_LOW, _HIGH}]
    marks = (
        mark if not isinstance(param, int) or param in {_LOW, _HIGH} else str(int(param))
        for param in params
    )
    return first + "".join(f"{m}{part}" for m, part in zip(marks, parts, strict=True)), tuple(left)


def _filled(params: tuple[Any, ...], some: Some, vendor: str) -> list[Any]:
    ids = ",".join(map(str, some.ids or ()))
    values = {
        _LOW: some.low,
        _HIGH: some.high,
        _IDS: f"{{{ids}}}" if vendor == "postgresql" else f"[{ids}]",
    }
    return [values.get(param, param) for param in params]


def fetch_raw(
    connection: Any, sql: str, params: Any, width: int, *, keep_plan: bool = False
) -> Any:
    """What the database sends: rows from SQLite, one run of bytes from PostgreSQL.

    `keep_plan`: the statement comes again and again and its plan never hangs on its values.
    """
    if connection.vendor == "postgresql":
        return _bytes_from_postgresql(connection, sql, params, width, keep_plan)
    connection.ensure_connection()
    with connection.wrap_database_errors:
        # Past Django's cursor: to put its marks into so long a statement takes longer than to run.
        return connection.connection.execute(sql, params).fetchall()


def _bytes_from_postgresql(
    connection: Any, sql: str, params: Any, width: int, keep_plan: bool
) -> bytes:
    columns = [f"c{i}" for i in range(width)]
    sent = "||".join(f"int8send({column}::int8)" for column in columns)
    packed = f"SELECT string_agg({sent}, ''::bytea) FROM ({sql}) AS t({', '.join(columns)})"
    with bound_cursor(connection) as cursor:
        cursor.execute(packed, params, binary=True, prepare=keep_plan)
        found = cursor.fetchone()
    return found[0] if found and found[0] is not None else b""


@contextmanager
def bound_cursor(connection: Any) -> Iterator[Any]:
    """A cursor of PostgreSQL that sends values apart from the statement, so that plans are kept.

    Its errors are Django's.
    """
    import psycopg

    connection.ensure_connection()
    with connection.wrap_database_errors, psycopg.Cursor(connection.connection) as cursor:
        yield cursor


def _numbers(raw: Any, width: int) -> Ints:
    if isinstance(raw, bytes):
        return np.frombuffer(raw, dtype=">i8").astype(np.int64).reshape(-1, width)
    flat = np.fromiter(chain.from_iterable(raw), dtype=np.int64, count=len(raw) * width)
    return flat.reshape(-1, width)


@lru_cache(maxsize=64)
def _compiled_rows(query: Callable[[], "QuerySet[Any, Any]"]) -> tuple[str, tuple[Any, ...]]:
    queryset = query()
    sql, params = queryset.query.get_compiler(using=queryset.db).as_sql()
    return sql, tuple(params)


def read_rows(
    query: Callable[[], "QuerySet[Any, Any]"], model: type[Model]
) -> list[tuple[Any, ...]]:
    """The rows of a small `values_list`, as the database gives them, compiled once."""
    sql, params = _compiled_rows(query)
    with connections[router.db_for_read(model)].cursor() as cursor:
        cursor.execute(sql, params)
        return list(cursor.fetchall())
