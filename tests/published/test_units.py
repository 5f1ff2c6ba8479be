"""Conversions against published factors."""

from decimal import Decimal

import pytest

from fleet.calc.units import (
    parse_length,
    parse_pressure,
    parse_temperature,
    psi_from_bar,
)

# NIST SP 811 (2008), appendix B.8: 1 psi = 6.894757 E+03 Pa; 1 kgf/cm2 = 9.80665 E+04 Pa;
# 1 bar = 1.0 E+05 Pa; 1 inch = 2.54 E-02 m; 1 ft = 3.048 E-01 m.
PRESSURES = [
    ("1000 psi", "68.95"),
    ("5000 psi", "344.74"),
    ("100 kg/cm2", "98.07"),
    ("35 MPa", "350.00"),
    ("500 kPa", "5.00"),
    ("350 bar", "350.00"),
]
LENGTHS = [("1 in", "25.40"), ("1 ft", "304.80"), ("3' 6\"", "1066.80"), ('1/2"', "12.70")]


@pytest.mark.parametrize(("typed", "bar"), PRESSURES)
def test_pressure_has_the_published_factor(typed: str, bar: str) -> None:
    assert parse_pressure(typed).bar == Decimal(bar)


@pytest.mark.parametrize(("typed", "mm"), LENGTHS)
def test_length_has_the_published_factor(typed: str, mm: str) -> None:
    assert parse_length(typed).mm == Decimal(mm)


# NIST SP 811, B.8: t/°C = (t/°F - 32)/1.8. Fixed points: -40 is the same on both scales, water
# freezes at 32 °F and boils at 212 °F.
@pytest.mark.parametrize(("typed", "c"), [("-40 °F", "-40"), ("32 °F", "0"), ("212 °F", "100")])
def test_temperature_has_the_published_fixed_points(typed: str, c: str) -> None:
    assert parse_temperature(typed).celsius == Decimal(c)


# Common practice, no published source: 345 and 350 bar both print as 5000 psi, so that a print in
# psi can never be had back from bar.
def test_bar_and_psi_prints_are_not_conversions_of_each_other() -> None:
    assert round(psi_from_bar(Decimal(345)), -1) != round(psi_from_bar(Decimal(350)), -1)
    assert psi_from_bar(Decimal(345)) > 5000
    assert round(psi_from_bar(Decimal(350))) == 5076
