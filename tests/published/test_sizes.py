"""Hose sizes against a chart of the trade and the trade's own facts."""

from decimal import Decimal

import pytest

from assemblies.calc.sizes import (
    AmbiguousSize,
    Notation,
    all_sizes,
    parse_size,
    size_by_dn,
    tube_size_dn,
)

# Trade size chart of a hose shop: dash, inch and bore in mm of all hose but 100R5 and 100R14.
CHART = [
    ("-3", "3/16", "4.8"),
    ("-4", "1/4", "6.4"),
    ("-5", "5/16", "7.9"),
    ("-6", "3/8", "9.5"),
    ("-8", "1/2", "12.7"),
    ("-10", "5/8", "15.9"),
    ("-12", "3/4", "19.0"),
    ("-16", "1", "25.4"),
    ("-20", "1 1/4", "31.8"),
    ("-24", "1 1/2", "38.1"),
    ("-32", "2", "50.8"),
    ("-40", "2 1/2", "63.5"),
    ("-48", "3", "76.2"),
]

# The same chart, 100R5 and 100R14: dash and bore in inches.
TUBE_CHART_MM = {4: 4.8, 5: 6.4, 6: 7.9, 8: 10.3, 10: 12.7, 12: 15.9, 16: 22.2, 20: 28.6, 24: 34.9}
TUBE_CHART_MM |= {32: 46.0}

# A hose shop's guide to fittings (German and English): DN, with the other print in brackets, dash.
FITTINGS_GUIDE = {6: 4, 8: 5, 10: 6, 13: 8, 12: 8, 16: 10, 20: 12, 19: 12, 25: 16, 32: 20, 31: 20}
FITTINGS_GUIDE |= {40: 24, 38: 24, 50: 32, 51: 32, 76: 48}


@pytest.mark.parametrize(("dash", "inch", "bore_mm"), CHART)
def test_dash_inch_and_bore_of_the_chart_are_one_size(dash: str, inch: str, bore_mm: str) -> None:
    size = parse_size(dash)
    assert size == parse_size(f'{inch}"') == parse_size(f"{bore_mm} mm")
    assert abs(size.inch_bore_mm - Decimal(bore_mm)) <= Decimal("0.05")


def test_the_chart_has_every_size() -> None:
    assert [f"-{size.dash}" for size in all_sizes()] == [dash for dash, _, _ in CHART]


@pytest.mark.parametrize(("dn", "dash"), FITTINGS_GUIDE.items())
def test_every_print_of_a_dn_is_the_size_of_the_guide(dn: int, dash: int) -> None:
    assert size_by_dn(dn).dash == dash


@pytest.mark.parametrize(("dash", "bore_mm"), TUBE_CHART_MM.items())
def test_tube_named_hose_has_the_bore_of_the_chart(dash: int, bore_mm: float) -> None:
    assert abs(tube_size_dn(dash) - bore_mm) <= 0.75


# Common practice, no published source: DN12 is the half-inch hose, 12.7 mm and not 12.0 mm.
def test_dn12_is_the_half_inch_hose() -> None:
    assert parse_size("DN12") == parse_size("1/2") == parse_size("12.7 mm") == parse_size("DN13")
    assert parse_size("DN12").inch_bore_mm == Decimal("12.7")
    with pytest.raises(ValueError, match=r"no hose has a bore of 12 mm.*12\.7 mm"):
        parse_size("12 mm")


# Common practice, no published source: -12 is 3/4 inch, DN12 is 1/2 inch; 12 alone is neither.
def test_a_bare_12_is_asked_about() -> None:
    with pytest.raises(AmbiguousSize) as refused:
        parse_size("12")
    assert dict(refused.value.readings) == {
        Notation.DASH: size_by_dn(19),
        Notation.DN: size_by_dn(12),
    }


# SAE J517: the dash is the bore in sixteenths of an inch (derived for each row).
def test_dash_is_sixteenths_of_an_inch_and_dn_the_whole_part_of_the_bore() -> None:
    for size in all_sizes():
        assert size.inch_bore_mm == Decimal("25.4") * size.dash / 16
        assert size.dn == int(size.bore_mm)
        assert abs(size.bore_mm - size.inch_bore_mm) <= Decimal("0.5")
