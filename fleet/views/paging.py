"""Pages of long lists: the place reached travels in the address, nothing is counted."""

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.http import HttpRequest

from fleet.queries.keyset import Page

T = TypeVar("T")
SIZE = 50
LARGEST_ID = 2**62


@dataclass(frozen=True)
class Shown(Generic[T]):
    """The rows of one page, and the addresses of the next and the first."""

    rows: Sequence[T]
    next_query: str
    first_query: str


def place_of(request: HttpRequest, *kinds: type) -> tuple[Any, ...] | None:
    """The place after which the page begins: one part of each kind, the id last.

    A place that can't be read is the beginning.
    """
    try:
        parts = json.loads(request.GET.get("after", "null"))
        place = tuple(_read(part) for part in parts or ())
    except (ValueError, TypeError):
        return None
    fits = len(place) == len(kinds) and all(map(isinstance, place, kinds))
    return place if fits and abs(place[-1]) < LARGEST_ID else None


def shown(request: HttpRequest, page: "Page[T]") -> "Shown[T]":
    """A page with the addresses that lead on from it, the filters kept."""
    query = request.GET.copy()
    began = query.pop("after", None) is not None
    first = query.urlencode() or "from=start"
    if page.after is not None:
        query["after"] = json.dumps([_written(part) for part in page.after])
    return Shown(
        page.rows,
        query.urlencode() if page.after is not None else "",
        first if began else "",
    )


def _written(part: Any) -> Any:
    return f"day:{part.isoformat()}" if isinstance(part, dt.date) else part


def _read(part: Any) -> Any:
    if isinstance(part, str) and part.startswith("day:"):
        return dt.date.fromisoformat(part[4:])
    return part
