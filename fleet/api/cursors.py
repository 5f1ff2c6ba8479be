"""Cursors: where a page of a list ended, as a text that a program hands back unread."""

import base64
import binascii
import datetime as dt
import json
from typing import Any

from fleet.api.problems import BadRequest

LONGEST = 600
_LARGEST_ID = 2**63 - 1


def cursor_of(order: str, after: tuple[Any, ...] | None) -> str | None:
    """The cursor of a place in a list of that order; None at the end of the list."""
    if after is None:
        return None
    place = [value.isoformat() if isinstance(value, dt.date) else value for value in after]
    raw = json.dumps([order, *place], separators=(",", ":")).encode("ascii")
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode("ascii")


def place_of(cursor: str, order: str, kinds: tuple[type, ...]) -> tuple[Any, ...] | None:
    """The place that a cursor tells, each value of its kind. Raises `BadRequest`."""
    if not cursor:
        return None
    try:
        raw = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        told, *values = json.loads(raw)
    except (binascii.Error, UnicodeError, ValueError, TypeError, RecursionError) as error:
        raise _unreadable() from error
    if told != order:
        raise BadRequest(
            "cursor_of_another_list", "This cursor is of another order: begin anew.", field="cursor"
        )
    if len(values) != len(kinds):
        raise _unreadable()
    return tuple(_value(value, kind) for value, kind in zip(values, kinds, strict=True))


def _value(value: Any, kind: type) -> Any:
    if kind is dt.date and isinstance(value, str):
        try:
            return dt.date.fromisoformat(value)
        except ValueError as error:
            raise _unreadable() from error
    if type(value) is not kind:
        raise _unreadable()
    if isinstance(value, int) and abs(value) > _LARGEST_ID:
        raise _unreadable()
    if isinstance(value, str) and ("\0" in value or not value.isprintable()):
        raise _unreadable()
    return value


def _unreadable() -> BadRequest:
    return BadRequest(
        "cursor_unreadable",
        "This cursor can't be read: hand back “next” unchanged.",
        field="cursor",
    )
