"""Frozen content: one text for one content, whatever made it."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

import pytest

from fleet.calc.frozen import checksum, from_json, to_json


class Colour(StrEnum):
    DARK = "dark"


@dataclass(frozen=True)
class Inner:
    size_mm: Decimal | None


@dataclass(frozen=True)
class Outer:
    name: str
    made_on: date
    inner: tuple[Inner, ...]
    colour: Colour = Colour.DARK


OUTER = Outer("Ж <b> & \ud800", date(2026, 2, 28), (Inner(Decimal("1E+2")), Inner(None)))


def test_writes_sorted_keys_plain_decimals_and_ascii() -> None:
    expected = (
        '{"colour":"dark","inner":[{"size_mm":"100"},{"size_mm":null}],'
        '"made_on":"2026-02-28","name":"\\u0416 <b> & \\ud800"}'
    )
    assert to_json(OUTER) == expected


def test_reads_back_what_it_wrote() -> None:
    back = from_json(Outer, to_json(OUTER))
    assert back == OUTER
    assert back.colour is Colour.DARK


def test_tells_places_apart() -> None:
    assert checksum(Inner(Decimal("26.5"))) != checksum(Inner(Decimal("26.50")))


def test_refuses_a_binary_float() -> None:
    with pytest.raises(TypeError, match="float has no canonical text"):
        to_json(Inner(26.5))  # type: ignore[arg-type]  # that is the point


def test_refuses_a_word_that_is_not_of_the_enumeration() -> None:
    text = to_json(OUTER).replace("dark", "red")
    with pytest.raises(ValueError, match=r"Outer\.colour: 'red' is not a Colour"):
        from_json(Outer, text)
