"""Whole-number columns of many rows, read straight into numpy on both databases.

The SQL is compiled from the ORM's own querysets, once: compiling costs more than running it for the
hoses of one machine. What it is asked for is then filled in.
"""

from collections.abc import Callable, Iterator
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
_ONE: Final = -9_000_000_000_000_003
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
    """The condition on a path that is compiled in; its values come with each reading.

    `one`: the path is the one id that is named, and not those that were found for it.
    """

    named: bool
    one: bool = False

    def on(self, path: str) -> Q:
        if self.one:
            return Q(**{path: _ONE})
        if self.named:
            return Q(Among(F(path), Value(_IDS, output_field=TextField())))
        return Q(**{f"{path}__gt": _LOW, f"{path}__lte": _HIGH})


Selection = tuple["QuerySet[Any, Any]", tuple[str, ...]]
Query = Callable[[Wanted, Codes], Selection]


@dataclass(frozen=True)
class OfTheOne:
    """A query among others that is asked of the one id named, and not of those found for it."""

    query: Query

    def __call__(self, _wanted: Wanted, codes: Codes) -> Selection:
        return self.query(Wanted(named=False, one=True), codes)


def whole(path: str) -> Expression:
    """A column as the database keeps it, `NONE` where it is empty."""
    return Coalesce(Cast(F(path), BigIntegerField()), Value(NONE), output_field=BigIntegerField())


def coded(path: str, codes: Codes) -> Expression:
    """A text column as the code of its value; 0 for a value without one, `NONE` where empty."""
    whens = [When(**{path: text}, then=Value(code)) for text, code in codes]
    empty = When(**{f"{path}__isnull": True}, then=Value(NONE))
    return Case(empty, *whens, default=Value(0), output_field=BigIntegerField())


@dataclass(frozen=True)
class Ready:
    """A statement as its database takes it, the params to fill in, and each query's columns."""

    sql: str
    params: tuple[Any, ...]
    widths: tuple[int, ...]
    using: str


def read_columns(query: Query, some: Some, codes: Codes = ()) -> Ints:
    """The whole-number columns of a query for some ids, shape (n, columns), in no stated order.

    PostgreSQL sends all rows as one binary value, because unpacking row by row costs more than the
    query; SQLite's rows go straight into the array. No row passes through a model.
    """
    ready = _ready((query,), some.ids is not None, codes)
    connection = connections[ready.using]
    raw = fetch_raw(connection, ready.sql, _filled(ready, _values(connection, some)))
    return _numbers(raw, ready.widths[0])


def read_together(
    queries: tuple[Query, ...], some: Some, codes: Codes, naming: tuple[Query, ...] = ()
) -> list[Ints]:
    """What several queries say of some ids that are named: on PostgreSQL in one statement.

    Where there are queries `naming`, the ids are those that they find for the one that is named;
    then a query may be `OfTheOne`. There it is one journey and one plan, which is kept. SQLite is
    in this process: it answers several short questions sooner than one long one.
    """
    connection = connections[_compiled(queries[0], True, codes)[3]]
    if connection.vendor != "postgresql":
        values = _values(connection, some)
        if naming:
            found = _one_by_one(connection, naming, values, ())
            ids = tuple(sorted({one for ids in found for one in ids[:, 0].tolist()}))
            values |= {_IDS: _values(connection, Some(ids=ids))[_IDS]}
        return _one_by_one(connection, queries, values, codes)
    ready = _ready(queries, True, codes, naming)
    filled = _filled(ready, _values(connection, some))
    packed = _fetch_packed(connection, ready.sql, filled, keep_plan=True)
    return [_numbers(raw, width) for raw, width in zip(packed, ready.widths, strict=True)]


def _one_by_one(
    connection: Any, queries: tuple[Query, ...], values: dict[Any, Any], codes: Codes
) -> list[Ints]:
    return [
        _numbers(fetch_raw(connection, ready.sql, _filled(ready, values)), ready.widths[0])
        for ready in _each_ready(queries, codes)
    ]


@lru_cache(maxsize=64)
def _each_ready(queries: tuple[Query, ...], codes: Codes) -> tuple[Ready, ...]:
    return tuple(_ready((query,), True, codes) for query in queries)


@lru_cache(maxsize=256)
def _ready(
    queries: tuple[Query, ...], named: bool, codes: Codes, naming: tuple[Query, ...] = ()
) -> Ready:
    told = [_compiled(query, named, codes) for query in queries]
    widths = tuple(width for _, _, width, _ in told)
    params = tuple(param for _, own, *_ in told for param in own)
    sql, *_, using = told[0]
    if connections[using].vendor != "postgresql":
        return Ready(sql.replace("%s", "?"), params, widths, using)
    each = ", ".join(f"({_packed(sql, width)})" for sql, _, width, _ in told)
    packed, params = _in_postgresqls_marks(f"SELECT {each}", params)
    if naming:
        # As one array, found once: the plan does not hang on a guess of how many there are. And
        # of one subject, not of several: only then is the plan for any the plan for this one.
        first = " UNION ".join(_compiled(query, True, (), one=True)[0] for query in naming)
        ids = first.replace("%s", "$1")
        packed = packed.replace("$1::bigint[]", "(SELECT ids FROM named)::bigint[]")
        packed = f"WITH named(ids) AS MATERIALIZED (SELECT ARRAY({ids})) {packed}"
        params = (_ONE, *params[1:])
    return Ready(packed, params, widths, using)


def _packed(sql: str, width: int) -> str:
    """All rows as one run of bytes; nothing where there is none."""
    columns = [f"c{at}" for at in range(width)]
    sent = "||".join(f"int8send({column}::int8)" for column in columns)
    return f"SELECT string_agg({sent}, ''::bytea) FROM ({sql}) AS t({', '.join(columns)})"


def _in_postgresqls_marks(sql: str, params: tuple[Any, ...]) -> tuple[str, tuple[Any, ...]]:
    """`$1`, `$2` … for `%s`: the driver's own way from one to the other costs a statement's time.

    The ids, which may stand in many places, are sent once.
    """
    first, *parts = sql.split("%s")
    sent: list[Any] = [_IDS] if _IDS in params else []
    for param, at in zip(params, range(len(parts)), strict=True):
        if param != _IDS:
            sent.append(param)
        parts[at] = f"${1 if param == _IDS else len(sent)}{parts[at]}"
    return (first + "".join(parts)).replace("%%", "%"), tuple(sent)


@lru_cache(maxsize=256)
def _compiled(
    query: Query, named: bool, codes: Codes, *, one: bool = False
) -> tuple[str, tuple[Any, ...], int, str]:
    """The SQL with `%s` for each param, its constant numbers written in."""
    queryset, names = query(Wanted(named, one), codes)
    using = queryset.db
    wanted = queryset.order_by().values_list(*names)
    sql, params = wanted.query.get_compiler(using=using).as_sql()
    first, *parts = sql.split("%s")
    asked = [not isinstance(param, int) or param in {_LOW, _HIGH, _ONE} for param in params]
    marks = ("%s" if ask else str(int(p)) for p, ask in zip(params, asked, strict=True))
    whole = first + "".join(f"{mark}{part}" for mark, part in zip(marks, parts, strict=True))
    left = tuple(param for param, ask in zip(params, asked, strict=True) if ask)
    return whole, left, len(names), using


def _values(connection: Any, some: Some) -> dict[Any, Any]:
    """What stands for the marks of what is wanted."""
    ids = ",".join(map(str, some.ids or ()))
    return {
        _LOW: some.low,
        _HIGH: some.high,
        _ONE: some.ids[0] if some.ids else 0,
        _IDS: f"{{{ids}}}" if connection.vendor == "postgresql" else f"[{ids}]",
    }


def _filled(ready: Ready, values: dict[Any, Any]) -> list[Any]:
    return [values.get(param, param) for param in ready.params]


def fetch_raw(connection: Any, sql: str, params: Any) -> Any:
    """What the database sends: rows from SQLite, one run of bytes from PostgreSQL."""
    if connection.vendor == "postgresql":
        return _fetch_packed(connection, sql, params, keep_plan=False)[0]
    connection.ensure_connection()
    with connection.wrap_database_errors:
        # Past Django's cursor: to put its marks into so long a statement takes longer than to run.
        return connection.connection.execute(sql, params).fetchall()


def _fetch_packed(connection: Any, sql: str, params: Any, *, keep_plan: bool) -> list[bytes]:
    """What each query of a statement found, packed.

    `keep_plan`: the statement comes again and again and its plan never hangs on its values.
    """
    with bound_cursor(connection, dollars=True) as cursor:
        cursor.execute(sql, params, binary=True, prepare=keep_plan)
        return [packed or b"" for packed in cursor.fetchone()]


@contextmanager
def bound_cursor(connection: Any, *, dollars: bool = False) -> Iterator[Any]:
    """A cursor of PostgreSQL that sends values apart from the statement, so that plans are kept.

    `dollars`: the statement has PostgreSQL's own marks. Its errors are Django's.
    """
    import psycopg

    connection.ensure_connection()
    kind = psycopg.RawCursor if dollars else psycopg.Cursor
    with connection.wrap_database_errors, kind(connection.connection) as cursor:
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
