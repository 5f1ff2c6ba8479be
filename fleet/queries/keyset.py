"""Reading a long list a page at a time by the last row seen: never by counting or skipping."""

from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.db.models import Model, Q, QuerySet

T = TypeVar("T")
M = TypeVar("M", bound=Model)


@dataclass(frozen=True, slots=True)
class Order:
    """The order of a list: a column, then the id, both up or both down."""

    column: str
    down: bool = False

    @property
    def columns(self) -> tuple[str, ...]:
        sign = "-" if self.down else ""
        names = (self.column,) if self.column == "id" else (self.column, "id")
        return tuple(f"{sign}{name}" for name in names)


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """Some rows, and the place after the last of them where there are more."""

    rows: tuple[T, ...]
    after: tuple[Any, ...] | None


def page_of(
    queryset: "QuerySet[M]", *, order: Order, after: tuple[Any, ...] | None, size: int
) -> Page[M]:
    """The next `size` rows after a place; one row more is read to know whether any follow."""
    found = queryset if after is None else queryset.filter(beyond(order, after))
    rows = list(found.order_by(*order.columns)[: size + 1])
    more = len(rows) > size
    return Page(tuple(rows[:size]), _place(order, rows[size - 1]) if more else None)


def beyond(order: Order, after: tuple[Any, ...]) -> Q:
    """The rows after a place.

    The first condition is implied by the second: by it the database can walk the index.
    """
    past, from_here = ("lt", "lte") if order.down else ("gt", "gte")
    if order.column == "id":
        return Q(**{f"id__{past}": after[0]})
    first, row_id = after
    return Q(**{f"{order.column}__{from_here}": first}) & (
        Q(**{f"{order.column}__{past}": first}) | Q(**{order.column: first, f"id__{past}": row_id})
    )


def _place(order: Order, row: Model) -> tuple[Any, ...]:
    if order.column == "id":
        return (row.pk,)
    return (getattr(row, order.column), row.pk)
