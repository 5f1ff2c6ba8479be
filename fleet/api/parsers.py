"""Reading JSON from strangers: bounded in size, depth and numbers, and never twice the same key."""

import json
import re
from decimal import Decimal
from typing import IO, Any

from rest_framework.parsers import BaseParser

from fleet.api.problems import BadRequest

MOST_BYTES = 1_000_000
MOST_LEVELS = 20
MOST_DIGITS = 30
# An unclosed string runs to the end: looking for its end again at each quote would be quadratic.
_STRING = re.compile(r'"(?:[^"\\]|\\.)*(?:"|\\?\Z)', re.DOTALL)
_UNKEEPABLE = re.compile("[\0\ud800-\udfff]")
_BRACKET = re.compile(r"[\[\]{}]")
_EXPONENT = re.compile(r"[eE]([-+]?\d+)$")


class StrictJson(BaseParser):
    """JSON in UTF-8, or a refusal that says what is wrong with it."""

    media_type = "application/json"

    def parse(
        self, stream: IO[Any], media_type: Any = None, parser_context: Any = None
    ) -> dict[str, Any]:
        raw = stream.read(MOST_BYTES + 1)
        if len(raw) > MOST_BYTES:
            raise BadRequest(
                "too_large", f"The body is over {MOST_BYTES} bytes: send less.", status=413
            )
        return read_object(raw)


def read_object(raw: bytes) -> dict[str, Any]:
    """The JSON object in a body. Raises `BadRequest`."""
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise BadRequest("not_utf8", "The body is not UTF-8.") from error
    _refuse_depth(text)
    try:
        found = json.loads(
            text,
            parse_int=_whole,
            parse_float=_decimal,
            parse_constant=_no_number,
            object_pairs_hook=_pairs,
        )
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise BadRequest("not_json", f"The body is not JSON: {error.msg}, {where}.") from error
    if not isinstance(found, dict):
        raise BadRequest("not_an_object", "The body must be a JSON object: {…}.")
    return found


def _refuse_depth(text: str) -> None:
    """Before the reader recurses: it would give up the whole process's stack."""
    depth = 0
    for bracket in _BRACKET.finditer(_STRING.sub('""', text)):
        depth += 1 if bracket[0] in "[{" else -1
        if depth > MOST_LEVELS:
            raise BadRequest("too_deep", f"The body is over {MOST_LEVELS} levels deep.")


def _whole(digits: str) -> int:
    if len(digits) > MOST_DIGITS:
        raise BadRequest("number_too_long", f"A number has over {MOST_DIGITS} digits.")
    return int(digits)


def _decimal(digits: str) -> Decimal:
    exponent = _EXPONENT.search(digits)
    if len(digits) > MOST_DIGITS or (exponent and abs(int(exponent[1])) > MOST_DIGITS):
        raise BadRequest("number_too_long", f"A number has over {MOST_DIGITS} digits.")
    return Decimal(digits)


def _no_number(word: str) -> None:
    raise BadRequest("not_a_number", f"{word} is not a number.")


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        _refuse_signs(name, name)
        _refuse_signs(value, name)
        if name in found:
            raise BadRequest("written_twice", f"“{name}” is written twice.", field=name)
        found[name] = value
    return found


def _refuse_signs(value: Any, name: str) -> None:
    """No NUL and no half of a surrogate pair: no database keeps them."""
    if isinstance(value, list):
        for inner in value:
            _refuse_signs(inner, name)
    if isinstance(value, str) and _UNKEEPABLE.search(value):
        shown = name if name.isprintable() else ""
        raise BadRequest("unreadable_sign", "A text has a sign that can't be kept.", field=shown)
