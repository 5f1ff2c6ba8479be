"""Questions that are asked again and again, compiled to SQL once.

Building a queryset and compiling it costs Django several times what the database takes to answer a
question about one machine. A function that is marked `@compiled` says its queryset in the ORM's own
words; the first call has the ORM compile it with stand-ins for what is asked, and later calls put
in the values and run it. Rows come out as the queryset would give them.

    @compiled
    def _looks_at(hose_id: int) -> QuerySet[Inspection]:
        return Inspection.objects.filter(assembly=hose_id).order_by("-inspected_on", "-id")[:20]

    _looks_at(7)        # a list

What may be asked for: a whole number, several (a tuple, list or set, never changed by the
question), a text compared as it is, a day for a `DayField`, a `Person` (for `visible_to`). None, a
flag, a member of an enumeration and what is `Fixed` belong to the question itself. A question must
not look at what a stand-in is, only compare a column with it. While `COMPILED_QUESTIONS_CHECKED` is
set, as in tests, each call compiles the queryset anew with the true values and refuses to go on
where that says anything else.
"""

import datetime as dt
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from enum import Enum
from functools import update_wrapper
from itertools import count
from threading import Lock
from typing import Any, Final, Generic, ParamSpec, TypeVar

from django.conf import settings
from django.core.exceptions import EmptyResultSet
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import QuerySet, prefetch_related_objects
from django.db.models.query import (
    FlatValuesListIterable,
    ModelIterable,
    ValuesListIterable,
    get_related_populators,
)

from .fields import EPOCH

P = ParamSpec("P")
Row = TypeVar("Row")

# Two sets of stand-ins, each within the least column: what differs between them is what was asked.
_FIRST_NUMBERS: Final = (31_000, 29_000)
_DAYS_AHEAD: Final = (dt.date(9000, 1, 1) - EPOCH).days
_FAR: Final = 2**62  # numbers beyond are left to the ORM, which knows what fits no column
_MOST_SHAPES: Final = 256  # of one question; beyond, the ORM is asked each time
_MOST_VALUES: Final = 100


@dataclass(frozen=True, slots=True)
class Fixed(Generic[Row]):
    """A value that belongs to the question: how many rows, which order. Few are asked for."""

    value: Row


@dataclass(frozen=True, slots=True)
class _Ready:
    """A compiled question: its SQL, where each param comes from, and how a row becomes one."""

    sql: str
    params: tuple[Any, ...]
    places: tuple[tuple[int, int], ...]  # of a param, and of the value that goes there
    as_rows: Callable[[Any, list[Any]], list[Any]]
    prefetched: tuple[Any, ...]


class Compiled(Generic[P, Row]):
    """A question in the ORM's words, answered without them from the second time on."""

    def __init__(self, ask: Callable[P, "QuerySet[Any, Row]"]) -> None:
        update_wrapper(self, ask)
        self.ask = ask
        self._ready: dict[Any, _Ready | None] = {}
        self._lock = Lock()

    def __call__(self, *asked: P.args, **named: P.kwargs) -> list[Row]:
        """The rows. Raises TypeError for what is named, or of a kind that can't be put in."""
        if named:
            raise TypeError("What a compiled question asks for is given in order, not named.")
        shape, values = _taken_apart(asked)
        if not _all_plain(values):
            return list(self.ask(*asked, **named))
        if shape in self._ready:
            ready = self._ready[shape]
        elif len(self._ready) < _MOST_SHAPES:
            ready = self._prepare(shape, asked)
        else:
            return list(self.ask(*asked, **named))
        if settings.COMPILED_QUESTIONS_CHECKED:
            _check(self.ask(*asked, **named), ready, values)
        return [] if ready is None else _answer(ready, values)

    def first(self, *asked: P.args, **named: P.kwargs) -> Row | None:
        """The first row, or None: for a question about one thing, or one cut to one row."""
        found = self(*asked, **named)
        return found[0] if found else None

    def _prepare(self, shape: Any, asked: tuple[Any, ...]) -> _Ready | None:
        with self._lock:
            if shape not in self._ready:
                self._ready[shape] = _compile(self.ask, asked)
            return self._ready[shape]


def compiled(ask: Callable[P, "QuerySet[Any, Row]"]) -> Compiled[P, Row]:
    """Mark a function that says a queryset as a question that is compiled once."""
    return Compiled(ask)


def _taken_apart(asked: tuple[Any, ...]) -> tuple[tuple[Any, ...], list[Any]]:
    """What of the things asked for is the question's own, and the values to be put in."""
    shape: list[Any] = []
    values: list[Any] = []
    for one in asked:
        kind = type(one)
        if kind is int or kind is str:
            shape.append(kind)
            values.append(one)
        elif kind is dt.date:
            shape.append(kind)
            values.append((one - EPOCH).days)
        elif one is None or kind is bool or isinstance(one, Enum | Fixed):
            shape.append(one)
        elif _is_person(one):
            sites = None if one.sees_every_site else one.seen_site_ids
            shape.append(("person", one.is_active, None if sites is None else len(sites)))
            values.extend(sites or ())
        elif isinstance(one, tuple | list | set | frozenset):
            several = dict.fromkeys(one)
            shape.append((len(several), *{type(value) for value in several}))
            values.extend(several)
        else:
            raise TypeError(f"A compiled question can't be asked for {kind.__name__}.")
    return tuple(shape), values


def _is_person(one: Any) -> bool:
    return hasattr(one, "seen_site_ids")  # a `Person`, whose model stands on this module


def _all_plain(values: list[Any]) -> bool:
    """Whether all can be put in as they are, and are not too many."""
    if len(values) > _MOST_VALUES:
        return False
    for value in values:
        kind = type(value)
        if kind is int:
            if not -_FAR < value < _FAR:
                return False
        elif kind is not str:
            return False
    return True


class _StandIns:
    """Values in the place of what is asked for, each another; the same order as the values."""

    def __init__(self, first: int) -> None:
        self._numbers = count(first)
        self._days = count(_DAYS_AHEAD + first)
        self.drawn: list[int | str] = []

    def for_all(self, asked: tuple[Any, ...]) -> list[Any]:
        return [self._for(one) for one in asked]

    def _for(self, one: Any) -> Any:
        if _is_person(one):
            return self._person(one)
        if isinstance(one, tuple | list | set | frozenset):
            return tuple(self._draw(type(value)) for value in dict.fromkeys(one))
        if type(one) is dt.date:
            return self._day()
        return self._draw(type(one)) if type(one) in {int, str} else one

    def _draw(self, kind: type) -> int | str:
        number = next(self._numbers)
        drawn = number if kind is int else f"\ue000{number}\ue000"
        self.drawn.append(drawn)
        return drawn

    def _day(self) -> dt.date:
        number = next(self._days)
        self.drawn.append(number)  # as a DayField keeps it
        return EPOCH + dt.timedelta(days=number)

    def _person(self, person: Any) -> Any:
        """Someone of as many sites. What they may do is nobody's: a question must not ask it."""
        stand_in = person.__class__(is_active=person.is_active)  # `type` of the request's is a veil
        every = person.sees_every_site
        seen = [] if every else [self._draw(int) for _ in person.seen_site_ids]
        stand_in.__dict__.update(sees_every_site=every, seen_site_ids=seen)
        return stand_in


def _compile(ask: Callable[..., "QuerySet[Any, Any]"], asked: tuple[Any, ...]) -> _Ready | None:
    """The question ready to be put; None where it can have no rows."""
    told = [_said(ask, asked, _StandIns(first)) for first in _FIRST_NUMBERS]
    if None in told:
        if told != [None, None]:
            raise TypeError("A compiled question must not look at what is asked.")
        return None
    (one, found), (other, _) = told  # type: ignore[misc]  # neither is None
    if (one.sql, one.places) != (other.sql, other.places) or _constants(one) != _constants(other):
        raise TypeError("A compiled question must not look at what is asked.")
    return found()


@dataclass(frozen=True, slots=True)
class _Said:
    """What the ORM says of a question with stand-ins in it."""

    sql: str
    params: tuple[Any, ...]
    places: tuple[tuple[int, int], ...]


def _said(
    ask: Callable[..., "QuerySet[Any, Any]"], asked: tuple[Any, ...], stand_ins: _StandIns
) -> tuple[_Said, Callable[[], _Ready]] | None:
    queryset: Any = ask(*stand_ins.for_all(asked))
    if queryset._known_related_objects:
        raise TypeError("A compiled question starts at a model's manager, not at a row's.")
    compiler = queryset.query.get_compiler(using=DEFAULT_DB_ALIAS)
    try:
        sql, params = compiler.as_sql()
    except EmptyResultSet:
        return None
    at = {drawn: place for place, drawn in enumerate(stand_ins.drawn)}
    places = tuple(
        (n, at[param])
        for n, param in enumerate(params)
        if isinstance(param, int | str) and param in at
    )
    if len({place for _, place in places}) < len(at):
        raise TypeError("A compiled question compares each value as it is: one is not in the SQL.")
    said = _Said(sql, tuple(params), places)
    prefetched = tuple(queryset._prefetch_related_lookups)
    return said, lambda: _Ready(
        said.sql, said.params, said.places, _rows_of(queryset, compiler), prefetched
    )


def _constants(said: _Said) -> list[Any]:
    """The params that are the question's own."""
    asked = {n for n, _ in said.places}
    return [param for n, param in enumerate(said.params) if n not in asked]


def _rows_of(
    queryset: "QuerySet[Any, Any]", compiler: Any
) -> Callable[[Any, list[Any]], list[Any]]:
    """What makes of the database's rows what the queryset would give."""
    if compiler.has_composite_fields([one[0] for one in compiler.select]):
        raise TypeError("A compiled question can't give composite fields.")
    width = compiler.col_count
    converters = list(compiler.get_converters([one[0] for one in compiler.select[:width]]).items())
    kind = queryset._iterable_class

    def plain(connection: Any, rows: list[Any]) -> list[Any]:
        cut = [row[:width] for row in rows] if compiler.has_extra_select else rows
        return list(_converted(connection, cut, converters)) if converters else cut

    if kind is FlatValuesListIterable:
        return lambda connection, rows: [row[0] for row in plain(connection, rows)]
    if kind is ValuesListIterable:
        return lambda connection, rows: [tuple(row) for row in plain(connection, rows)]
    if kind is ModelIterable:
        models = _models_of(compiler)
        return lambda connection, rows: models(plain(connection, rows))
    raise TypeError("A compiled question gives model rows or a values list.")


def _converted(
    connection: Any, rows: list[Any], converters: list[tuple[int, Any]]
) -> Iterator[list[Any]]:
    for row in map(list, rows):
        for place, (steps, expression) in converters:
            value = row[place]
            for step in steps:
                value = step(value, expression, connection)
            row[place] = value
        yield row


def _models_of(compiler: Any) -> Callable[[list[Any]], list[Any]]:
    """As Django's own iterable makes model rows, with those that they were selected with."""
    told = compiler.klass_info
    model, fields = told["model"], told["select_fields"]
    start, end = fields[0], fields[-1] + 1
    names = [one[0].target.attname for one in compiler.select[start:end]]
    populators: Any = get_related_populators
    related = [one.populate for one in populators(told, compiler.select, DEFAULT_DB_ALIAS)]
    added = list(compiler.annotation_col_map.items())

    def made(rows: list[Any]) -> list[Any]:
        found = []
        for row in rows:
            one = model.from_db(DEFAULT_DB_ALIAS, names, row[start:end])
            for populate in related:
                populate(row, one)
            for name, place in added:
                setattr(one, name, row[place])
            found.append(one)
        return found

    return made


def _answer(ready: _Ready, values: list[Any]) -> list[Any]:
    connection = connections[DEFAULT_DB_ALIAS]
    with connection.cursor() as cursor:
        cursor.execute(ready.sql, _filled(ready, values))
        rows = cursor.fetchall()
    found = ready.as_rows(connection, rows) if rows else []
    if ready.prefetched and found:
        prefetch_related_objects(found, *ready.prefetched)
    return found


def _filled(ready: _Ready, values: Collection[Any]) -> tuple[Any, ...]:
    params = list(ready.params)
    told = list(values)
    for at, place in ready.places:
        params[at] = told[place]
    return tuple(params)


def _check(queryset: "QuerySet[Any, Any]", ready: _Ready | None, values: list[Any]) -> None:
    """Raise RuntimeError where the ORM would now ask anything else."""
    try:
        sql, params = queryset.query.get_compiler(using=DEFAULT_DB_ALIAS).as_sql()
    except EmptyResultSet:
        told = None
    else:
        told = sql, tuple(params)
    if told != (None if ready is None else (ready.sql, _filled(ready, values))):
        raise RuntimeError(f"A compiled question is not what the ORM would ask: {told}")
