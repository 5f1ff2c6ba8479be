"""Frozen content: a dataclass written as canonical text, read back the same, and summed."""

import hashlib
import json
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")


def to_json(content: object) -> str:
    """Write a frozen dataclass as canonical JSON: the same content gives the same text.

    Keys are sorted, there is no space between signs, decimals keep their places as text, dates
    are ISO 8601, and every sign outside ASCII is escaped, so the text survives any store.

    Parameters: content, a dataclass of texts, whole numbers, decimals, dates, enumerations,
    other such dataclasses and tuples of them. Raises TypeError for any other value (a binary
    float among them: it has no fixed places).

    >>> from dataclasses import dataclass
    >>> @dataclass(frozen=True)
    ... class Cut:
    ...     length_mm: Decimal
    >>> to_json(Cut(Decimal("1092.50")))
    '{"length_mm":"1092.50"}'
    """
    return json.dumps(_plain(content), sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def checksum(content: object) -> str:
    """Sum a frozen dataclass: SHA-256 of its canonical JSON, 64 hexadecimal digits.

    Parameters: content as for `to_json`. Source: FIPS 180-4.

    >>> from dataclasses import dataclass
    >>> @dataclass(frozen=True)
    ... class Nothing:
    ...     pass
    >>> checksum(Nothing())[:16]
    '44136fa355b3678a'
    """
    return hashlib.sha256(to_json(content).encode("ascii")).hexdigest()


def from_json(kind: type[T], text: str) -> T:
    """Read back what `to_json` wrote.

    Parameters: kind, the dataclass; text, its JSON. A key that is missing takes the field's
    default, so that content frozen before a field was added can still be read. Raises
    ValueError with the place and the reason for anything that does not fit.

    >>> from dataclasses import dataclass
    >>> @dataclass(frozen=True)
    ... class Cut:
    ...     length_mm: Decimal
    >>> from_json(Cut, '{"length_mm":"1092.50"}')
    Cut(length_mm=Decimal('1092.50'))
    """
    made: T = _build(kind, json.loads(text), kind.__name__)
    return made


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    raise TypeError(f"{type(value).__name__} has no canonical text: {value!r}")


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _build(kind: Any, value: Any, place: str) -> Any:
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        return _build_optional(kind, value, place)
    if origin is tuple:
        return _build_tuple(kind, value, place)
    if is_dataclass(kind):
        return _build_dataclass(kind, value, place)
    return _build_leaf(kind, value, place)


def _build_optional(kind: Any, value: Any, place: str) -> Any:
    inner = [option for option in get_args(kind) if option is not NoneType]
    if value is None:
        return None
    return _build(inner[0], value, place)


def _build_tuple(kind: Any, value: Any, place: str) -> Any:
    if not isinstance(value, list):
        raise ValueError(f"{place}: a list was expected")
    item_kinds = get_args(kind)
    if item_kinds[-1] is Ellipsis:
        return tuple(_build(item_kinds[0], item, f"{place}[{n}]") for n, item in enumerate(value))
    if len(item_kinds) != len(value):
        raise ValueError(f"{place}: {len(item_kinds)} entries were expected, not {len(value)}")
    pairs = zip(item_kinds, value, strict=True)
    return tuple(_build(item_kind, item, f"{place}[]") for item_kind, item in pairs)


def _build_dataclass(kind: Any, value: Any, place: str) -> Any:
    if not isinstance(value, dict):
        raise ValueError(f"{place}: an object was expected")
    known = {field.name: field for field in fields(kind)}
    strange = sorted(set(value) - set(known))
    if strange:
        raise ValueError(f"{place}: not a field of this content: {', '.join(strange)}")
    hints = _hints(kind)
    missing = [name for name, field in known.items() if name not in value and _must_stand(field)]
    if missing:
        raise ValueError(f"{place}: missing: {', '.join(missing)}")
    return kind(**{n: _build(hints[n], value[n], f"{place}.{n}") for n in known if n in value})


def _must_stand(field: Field[Any]) -> bool:
    return field.default is MISSING and field.default_factory is MISSING


def _build_leaf(kind: Any, value: Any, place: str) -> Any:
    expected: type = str if kind in (Decimal, date, datetime) else kind
    if isinstance(kind, type) and issubclass(kind, Enum):
        expected = str
    if not isinstance(value, expected) or (expected is int and isinstance(value, bool)):
        raise ValueError(f"{place}: {kind.__name__} was expected, not {value!r}")
    try:
        if kind in (date, datetime):
            return kind.fromisoformat(value)
        return kind(value)
    except (ValueError, ArithmeticError) as error:
        raise ValueError(f"{place}: {value!r} is not a {kind.__name__}") from error
