"""Typed pressures, lengths, hours and temperatures: what is read, and what is refused in words."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.calc.units import (
    AmbiguousNumber,
    NotANumber,
    OutOfRange,
    UnitError,
    UnitMissing,
    UnknownUnit,
    parse_hours,
    parse_length,
    parse_pressure,
    parse_temperature,
)

PARSERS: list[Callable[[str], Any]] = [
    parse_pressure,
    parse_length,
    parse_hours,
    parse_temperature,
]


@pytest.mark.parametrize(
    ("typed", "bar", "unit"),
    [
        ("350bar", "350.00", "bar"),
        (" 350 Bar. ", "350.00", "bar"),
        ("３５０ bar", "350.00", "bar"),
        ("3,000 psi", "206.84", "psi"),
        ("5 000\u00a0psi", "344.74", "psi"),
        ("35,000 kPa", "350.00", "kPa"),
        ("34,5 MPa", "345.00", "MPa"),
        ("350,000 bar", "350.00", "bar"),
        ("20,685 MPa", "206.85", "MPa"),
        ("100 kg/cm²", "98.07", "kg/cm2"),
        ("0 bar", "0.00", "bar"),
    ],
)
def test_reads_a_pressure(typed: str, bar: str, unit: str) -> None:
    pressure = parse_pressure(typed)
    assert (str(pressure.bar), pressure.unit, pressure.typed) == (bar, unit, typed.strip())


def test_a_bare_pressure_needs_the_agreed_unit() -> None:
    assert parse_pressure("350", default_unit="bar").bar == 350
    with pytest.raises(UnitMissing, match="has no unit: write bar, psi"):
        parse_pressure("350")


def test_a_typed_unit_stands_above_the_agreed_one() -> None:
    assert parse_pressure("35 MPa", default_unit="psi").bar == 350


def test_refuses_an_agreed_unit_that_is_none() -> None:
    with pytest.raises(UnknownUnit, match="agreed unit “mm” is none of bar"):
        parse_pressure("350", default_unit="mm")


@pytest.mark.parametrize("typed", ["1,250 bar", "3.000 psi", "1,200 mm", "12.450 h"])
def test_refuses_a_figure_that_reads_two_ways_and_names_both(typed: str) -> None:
    parse: dict[str, Callable[[str], Any]] = {
        "bar": parse_pressure,
        "psi": parse_pressure,
        "mm": parse_length,
        "h": parse_hours,
    }
    with pytest.raises(AmbiguousNumber, match=r"could be \d+ \w+ or \d+\.\d{3} \w+") as refused:
        parse[typed.split()[1]](typed)
    assert refused.value.readings[0] == 1000 * refused.value.readings[1]


@pytest.mark.parametrize(
    ("typed", "error", "words"),
    [
        ("", NotANumber, "Nothing is written"),
        ("bar", NotANumber, "write one figure and its unit"),
        ("nan bar", NotANumber, "write one figure"),
        ("35² bar", UnknownUnit, "after the figure stands none of"),
        ("1e5 bar", UnknownUnit, "after the figure stands none of"),
        ("350 bar (5000 psi)", UnknownUnit, "after the figure stands none of"),
        ("210/3000 bar", NotANumber, "is not a number"),
        ("1,23,4 bar", NotANumber, "its commas, points or spaces do not fit"),
        ("12,450,5 bar", NotANumber, "do not fit"),
        ("-5 bar", OutOfRange, "below nothing"),
        ("10001 bar", OutOfRange, "bigger than anything"),
        ("9" * 70 + " bar", NotANumber, "is not a number"),
    ],
)
def test_refuses_a_pressure_with_the_reason(typed: str, error: type[UnitError], words: str) -> None:
    with pytest.raises(error, match=words):
        parse_pressure(typed)


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("1200 mm", "1200.00"),
        ("1.2m", "1200.00"),
        ("1,200 m", "1200.00"),
        ("120 cm", "1200.00"),
        ('47 1/4"', "1200.15"),
        ("47-1/4 in", "1200.15"),
        ("½″", "12.70"),
        ("1½ in", "38.10"),
        ("3' 6 1/2\"", "1079.50"),
        ("3 ft 6 in", "1066.80"),
        ("3.5 ft", "1066.80"),
        ("3'", "914.40"),
        ("1 200 mm", "1200.00"),
    ],
)
def test_reads_a_length(typed: str, mm: str) -> None:
    assert str(parse_length(typed).mm) == mm


@pytest.mark.parametrize(
    "typed", ["3' 14\"", "3' 6 mm", "6/8 in", "1/3 in", "1001 m", "9999999'6\""]
)
def test_refuses_a_length_that_is_none(typed: str) -> None:
    with pytest.raises(UnitError, match="“"):
        parse_length(typed)


@pytest.mark.parametrize(
    ("typed", "tenths"),
    [
        ("12,450", 124500),
        ("12450 h", 124500),
        ("12 450,5 hrs", 124505),
        ("12'450", 124500),
        ("1.234,5", 12345),
        ("1,234.5", 12345),
        ("1,234,567.8", None),
        ("12,45", 124),
        ("12.35", 124),
        ("0", 0),
        ("0,500", 5),
        ("12450.0", 124500),
    ],
)
def test_reads_meter_hours(typed: str, tenths: int | None) -> None:
    if tenths is None:
        with pytest.raises(OutOfRange):
            parse_hours(typed)
    else:
        assert parse_hours(typed).tenths == tenths


@pytest.mark.parametrize(
    ("typed", "celsius"),
    [("100 °C", "100.0"), ("−40 °F", "-40.0"), ("-40C", "-40.0"), ("80 ºC", "80.0")],
)
def test_reads_a_temperature(typed: str, celsius: str) -> None:
    assert str(parse_temperature(typed).celsius) == celsius


@pytest.mark.parametrize("typed", ["-300 °C", "3000 °C", "100", "100 K", "--5 C", "5 °C to 80 °C"])
def test_refuses_a_temperature_that_is_none(typed: str) -> None:
    with pytest.raises(UnitError, match="“"):
        parse_temperature(typed)


@given(st.integers(0, 100_000), st.sampled_from(["bar", "psi", "MPa", "kPa", "kg/cm2"]))
def test_a_written_pressure_is_read_back(tenths: int, unit: str) -> None:
    typed = f"{Decimal(tenths) / 10} {unit}"
    try:
        pressure = parse_pressure(typed)
    except OutOfRange:
        assert unit == "MPa"
    else:
        assert parse_pressure(f"{pressure.bar} bar").bar == pressure.bar


@given(st.integers(0, 9_999_999))
def test_written_tenths_of_an_hour_are_read_back(tenths: int) -> None:
    assert parse_hours(f"{tenths // 10}.{tenths % 10}").tenths == tenths
    assert parse_hours(f"{tenths // 10:,}.{tenths % 10} h").tenths == tenths


@settings(max_examples=400)
@given(st.text(max_size=80) | st.from_regex(r"[-+]?[0-9]{0,6}[., '/][0-9]{0,4} ?[a-z°\"']{0,5}"))
def test_any_text_is_read_or_refused_with_a_sentence(text: str) -> None:
    for parse in PARSERS:
        assert len(refusal_or_sentence(parse, text)) > 10


def refusal_or_sentence(parse: Callable[[str], Any], text: str) -> str:
    """What was read, or why it was not; any other error goes on up."""
    try:
        return repr(parse(text))
    except UnitError as error:
        return str(error)
