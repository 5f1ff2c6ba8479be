"""Pressures, lengths, hours and temperatures as typed, with their unit, and in one unit each."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from fleet.calc.typed_measures import (
    AmbiguousNumber,
    NotANumber,
    OutOfRange,
    UnitError,
    UnitMissing,
    UnknownUnit,
    one_value,
    quoted,
    refuse_negative,
    rounded,
    split_measure,
)
from fleet.calc.typed_numbers import parse_fraction, plain

__all__ = [
    "AmbiguousNumber",
    "Hours",
    "Length",
    "NotANumber",
    "OutOfRange",
    "Pressure",
    "Temperature",
    "UnitError",
    "UnitMissing",
    "UnknownUnit",
    "parse_hours",
    "parse_length",
    "parse_pressure",
    "parse_temperature",
    "psi_from_bar",
]

MM_PER_INCH = Decimal("25.4")
"""Exact: the international inch (1959)."""
BAR_PER_PSI = Decimal("0.06894757")
"""1 psi = 6894.757 Pa (NIST SP 811, appendix B.8, to seven figures)."""
BAR_PER_UNIT: Mapping[str, Decimal] = {
    "bar": Decimal(1),
    "psi": BAR_PER_PSI,
    "MPa": Decimal(10),
    "kPa": Decimal("0.01"),
    "kg/cm2": Decimal("0.980665"),
}
MM_PER_UNIT: Mapping[str, Decimal] = {
    "mm": Decimal(1),
    "cm": Decimal(10),
    "m": Decimal(1000),
    "in": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
}

PRESSURE_LIMIT_BAR = Decimal(10_000)
LENGTH_LIMIT_MM = Decimal(1_000_000)
HOURS_LIMIT = Decimal(1_000_000)
TEMPERATURE_LIMITS_C = (Decimal("-273.1"), Decimal(2_000))

_PRESSURE_WORDS = {
    "bar": "bar", "bars": "bar", "barg": "bar", "bar(g)": "bar",
    "psi": "psi", "psig": "psi", "psi(g)": "psi", "lb/in2": "psi", "lbf/in2": "psi",
    "mpa": "MPa", "n/mm2": "MPa", "kpa": "kPa",
    "kg/cm2": "kg/cm2", "kgf/cm2": "kg/cm2", "kp/cm2": "kg/cm2", "kg/cm^2": "kg/cm2",
}  # fmt: skip
_LENGTH_WORDS = {
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "cm": "cm",
    "m": "m", "mtr": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "in": "in", "ins": "in", "inch": "in", "inches": "in", '"': "in",
    "ft": "ft", "foot": "ft", "feet": "ft", "'": "ft",
}  # fmt: skip
_TEMPERATURE_WORDS = {
    "°c": "°C", "c": "°C", "degc": "°C", "deg c": "°C", "celsius": "°C",
    "°f": "°F", "f": "°F", "degf": "°F", "deg f": "°F", "fahrenheit": "°F",
}  # fmt: skip
_HOUR_WORDS = dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), "h")
_FEET_AND_INCHES = re.compile(r"(\d+) ?(?:'|ft\.?|feet|foot),? ?-? ?([0-9].*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Pressure:
    """A pressure in bar (two places), beside what was typed and its unit."""

    bar: Decimal
    typed: str
    unit: str


@dataclass(frozen=True, slots=True)
class Length:
    """A length in mm (two places), beside what was typed and its unit."""

    mm: Decimal
    typed: str
    unit: str


@dataclass(frozen=True, slots=True)
class Hours:
    """Meter hours in whole tenths, beside what was typed."""

    tenths: int
    typed: str


@dataclass(frozen=True, slots=True)
class Temperature:
    """A temperature in °C (one place), beside what was typed and its unit."""

    celsius: Decimal
    typed: str
    unit: str


def parse_pressure(text: str, *, default_unit: str | None = None) -> Pressure:
    """Read a typed pressure: `3,000 psi`, `35 MPa`, `350bar`; a bare `350` needs `default_unit`.

    Parameters: text; default_unit, one of bar, psi, MPa, kPa, kg/cm2, for a bare figure.
    Returns bar rounded half-even to 0.01 bar: p[bar] = p · BAR_PER_UNIT[unit].
    Limits: 0 to 10 000 bar. `3,000 psi` and `35,000 kPa` are grouped thousands (nobody prints
    a thousandth of either); for other units a lone comma or point before three digits is refused
    unless one of its readings is past the limit (`350,000 bar` is 350 bar).
    Errors: UnitMissing, UnknownUnit, NotANumber, AmbiguousNumber, OutOfRange.
    Source: NIST SP 811 appendix B.8 (psi), kgf = 9.80665 N exactly.

    >>> parse_pressure("3,000 psi").bar
    Decimal('206.84')
    >>> parse_pressure("35 MPa").bar
    Decimal('350.00')
    """
    parts = split_measure(text, _PRESSURE_WORDS, default_unit=default_unit, what="a pressure")
    refuse_negative(parts)
    factor = BAR_PER_UNIT[parts.unit]
    grouping = parts.unit in {"psi", "kPa"}
    value = one_value(parts, PRESSURE_LIMIT_BAR / factor, comma_groups=grouping)
    return Pressure(rounded(value * factor, 2), parts.typed, parts.unit)


def parse_length(text: str, *, default_unit: str | None = None) -> Length:
    """Read a typed length: `1200 mm`, `1.2 m`, `47 1/4"`, `3' 6 1/2"`; a bare figure needs a unit.

    Parameters: text; default_unit, one of mm, cm, m, in, ft, for a bare figure.
    Returns mm rounded half-even to 0.01 mm: l[mm] = l · MM_PER_UNIT[unit].
    Limits: 0 to 1000 m. `1,200 mm` reads two ways and is refused.
    Errors: UnitMissing, UnknownUnit, NotANumber, AmbiguousNumber, OutOfRange.
    Source: the international inch and foot, exact.

    >>> parse_length("3' 6 1/2\\"")
    Length(mm=Decimal('1079.50'), typed='3\\' 6 1/2"', unit='ft')
    """
    feet = _FEET_AND_INCHES.fullmatch(plain(text))
    if feet is not None:
        return _feet_and_inches(feet, text.strip())
    parts = split_measure(text, _LENGTH_WORDS, default_unit=default_unit, what="a length")
    refuse_negative(parts)
    factor = MM_PER_UNIT[parts.unit]
    fraction = parse_fraction(parts.figure) if parts.unit in {"in", "ft"} else None
    value = one_value(parts, LENGTH_LIMIT_MM / factor) if fraction is None else _decimal(fraction)
    return Length(rounded(value * factor, 2), parts.typed, parts.unit)


def parse_hours(text: str) -> Hours:
    """Read typed meter hours: `12450 h`, `12,450`, `12 450,5 hrs`, `1.234,5`.

    Parameters: text, with or without h, hr, hrs, hours.
    Returns whole tenths of an hour, rounded half-even.
    Limits: 0 to 1 000 000 h. `12,450` is 12450: hour meters show tenths or hundredths, never
    thousandths, and a comma before exactly three digits parts thousands. `12,45` is 12.45.
    `12.450` (a point) could be either and is refused.
    Errors: UnknownUnit, NotANumber, AmbiguousNumber, OutOfRange.
    Source: common practice, no published source.

    >>> parse_hours("12,450").tenths, parse_hours("12 450,5 hrs").tenths
    (124500, 124505)
    >>> parse_hours("12,45").tenths
    124
    """
    parts = split_measure(text, _HOUR_WORDS, default_unit="h", what="a number of hours")
    refuse_negative(parts)
    value = one_value(parts, HOURS_LIMIT, comma_groups=True)
    return Hours(int(rounded(value * 10, 0)), parts.typed)


def parse_temperature(text: str, *, default_unit: str | None = None) -> Temperature:
    """Read a typed temperature: `100 °C`, `-40C`, `212 °F`; a bare figure needs a unit.

    Parameters: text; default_unit, °C or °F, for a bare figure.
    Returns °C rounded half-even to 0.1: t[°C] = (t[°F] - 32) · 5/9.
    Limits: -273.1 to 2000 °C. Errors: UnitMissing, UnknownUnit, NotANumber, AmbiguousNumber,
    OutOfRange. Source: NIST SP 811 appendix B.8.

    >>> parse_temperature("-40 °F").celsius, parse_temperature("212F").celsius
    (Decimal('-40.0'), Decimal('100.0'))
    """
    parts = split_measure(text, _TEMPERATURE_WORDS, default_unit=default_unit, what="a temperature")
    size = one_value(parts, Decimal(10_000))
    value = -size if parts.negative else size
    celsius = value if parts.unit == "°C" else (value - 32) * 5 / 9
    low, high = TEMPERATURE_LIMITS_C
    if not low <= celsius <= high:
        raise OutOfRange(f"{quoted(parts.typed)} is no temperature met on a machine.")
    return Temperature(rounded(celsius, 1), parts.typed, parts.unit)


def psi_from_bar(bar: Decimal) -> Decimal:
    """Convert bar to psi, unrounded: p[psi] = p[bar] / 0.06894757.

    Limits: for comparing and for a figure in brackets; a rating printed in both units keeps
    both as printed. Never raises. Source: NIST SP 811 appendix B.8.

    >>> round(psi_from_bar(Decimal(350)))
    5076
    """
    return bar / BAR_PER_PSI


def _feet_and_inches(match: re.Match[str], typed: str) -> Length:
    inches = parse_length(match[2], default_unit="in")
    if inches.unit != "in" or inches.mm >= MM_PER_UNIT["ft"]:
        raise NotANumber(f"{quoted(typed)}: the part after the feet must be under 12 inches.")
    mm = int(match[1]) * MM_PER_UNIT["ft"] + inches.mm
    if mm > LENGTH_LIMIT_MM:
        raise OutOfRange(f"{quoted(typed)} is longer than any hose: check the figure.")
    return Length(rounded(mm, 2), typed, "ft")


def _decimal(fraction: Fraction) -> Decimal:
    """Exact: the denominators are powers of two."""
    return Decimal(fraction.numerator) / Decimal(fraction.denominator)
