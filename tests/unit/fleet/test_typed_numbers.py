"""Numbers as typed: every way to read one, and signs brought to plain ones."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calc.typed_numbers import NumberError, parse_fraction, plain, readings


@pytest.mark.parametrize(
    ("typed", "signs"),
    [
        ("１２，５", "12,5"),
        ("1½", "1 1/2"),
        ("3′ 6″", "3' 6\""),
        ("3’6”", "3'6\""),
        ("12\u2009450", "12 450"),
        ("−8", "-8"),
        ("kg/cm²", "kg/cm2"),
        ("10²", "10²"),
        ("①", "①"),
    ],
)
def test_signs_are_brought_to_plain_ones(typed: str, signs: str) -> None:
    assert plain(typed) == signs


@pytest.mark.parametrize(
    ("number", "values"),
    [
        ("1234", ["1234"]),
        ("1,234", ["1234", "1.234"]),
        ("1.234", ["1234", "1.234"]),
        ("1 234", ["1234"]),
        ("1'234.5", ["1234.5"]),
        ("1.234.567,8", ["1234567.8"]),
        ("12,45", ["12.45"]),
        ("0,500", ["0.500"]),
    ],
)
def test_every_reading_of_a_number_is_given(number: str, values: list[str]) -> None:
    assert [str(reading.value) for reading in readings(number)] == values


@pytest.mark.parametrize("number", ["", "1,23,4", "1,234,5", "1.2.3", "12,", ",5", "1  234", "nan"])
def test_refuses_what_is_no_number(number: str) -> None:
    with pytest.raises(NumberError, match="is not a number"):
        readings(number)


@given(st.integers(1, 10**12), st.sampled_from([",", ".", " ", "'"]))
def test_a_grouped_number_has_its_value_among_the_readings(value: int, group: str) -> None:
    number = f"{value:,}".replace(",", group)
    assert Decimal(value) in [reading.value for reading in readings(number)]


@given(st.integers(0, 9), st.sampled_from([2, 4, 8, 16, 32, 64]), st.data())
def test_a_mixed_number_is_read_back(whole: int, under: int, data: st.DataObject) -> None:
    over = data.draw(st.integers(0, under // 2 - 1)) * 2 + 1
    for joint in (" ", "-", ".", " - "):
        text = f"{whole}{joint}{over}/{under}" if whole else f"{over}/{under}"
        assert parse_fraction(text) == whole + Fraction(over, under)


@pytest.mark.parametrize("text", ["6/8", "2/2", "11/2", "1/3", "0/8", "1/1", "3", "1/2/4", "1/0"])
def test_no_fraction_of_an_inch_is_none(text: str) -> None:
    assert parse_fraction(text) is None
