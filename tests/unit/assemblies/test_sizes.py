"""Typed hose sizes: every notation, and what is asked about instead of guessed."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assemblies.calc.sizes import (
    AmbiguousSize,
    Notation,
    Size,
    SizeError,
    UnknownSize,
    all_sizes,
    parse_size,
    readings_of,
    size_by_dn,
    tube_size_dn,
)

HALF_INCH = Size(12, 8, "1/2", Decimal("12.5"))
INCH_AND_A_HALF = Size(38, 24, "1 1/2", Decimal(38))


@pytest.mark.parametrize(
    "text",
    [
        "1/2", '1/2"', "1/2 in", "½", "½″", "１／２", "0.5", '0,5"', "-8", "–08", "#8", "dash 8",
        "DN12", "dn 12", "DN-12", "NW 12", "DN13", "12.7 mm", "12,7mm", "13 mm", '1/2" (DN12)',
        "DN12 -8 1/2",
    ],
)  # fmt: skip
def test_half_inch_is_read_however_it_is_written(text: str) -> None:
    assert parse_size(text) == HALF_INCH


@pytest.mark.parametrize(
    "text", ["1.1/2", "1 1/2", "1-1/2", '1 1/2"', "1½", "1.5", "-24", "DN38", "DN40", "38 mm", "24"]
)
def test_inch_and_a_half_is_read_however_it_is_written(text: str) -> None:
    assert parse_size(text) == INCH_AND_A_HALF


@pytest.mark.parametrize(
    ("text", "dns"),
    [("12", {19, 12}), ("08", {12, 8}), ("8.0", {12, 8}), ("20", {31, 19}), ("3", {5, 76})],
)
def test_a_bare_number_of_several_sizes_is_asked_about(text: str, dns: set[int]) -> None:
    with pytest.raises(AmbiguousSize, match="write which is meant") as refused:
        parse_size(text)
    assert {size.dn for _, size in refused.value.readings} == dns


@pytest.mark.parametrize(
    ("text", "notation", "dn"),
    [
        ("08", Notation.DASH, 12),
        ("12", Notation.DASH, 19),
        ("12", Notation.DN, 12),
        ("13", Notation.DN, 12),
        ("1", Notation.INCH, 25),
        ("12.7", Notation.MM, 12),
    ],
)
def test_the_agreed_notation_settles_a_bare_number(text: str, notation: Notation, dn: int) -> None:
    assert parse_size(text, notation=notation).dn == dn


def test_a_mark_of_its_own_stands_above_the_agreed_notation() -> None:
    assert parse_size("DN12", notation=Notation.DASH) == HALF_INCH
    assert parse_size("1/2", notation=Notation.DN) == HALF_INCH


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "()", "abc", "DN", '"', "99", "6/8", "11/2", "-7", "DN11", "1e2", "1/2 - 3/4",
        "12.5.5", "DN12.5", '1/2"x3/4"', "2SN 1/2", "12 mm", "20 mm", "-4-4",
    ],
)  # fmt: skip
def test_refuses_what_is_no_size(text: str) -> None:
    with pytest.raises(UnknownSize, match="“"):
        parse_size(text)


def test_refuses_two_sizes_that_differ() -> None:
    with pytest.raises(UnknownSize, match="names two sizes"):
        parse_size("1/2 DN10")


def test_refuses_a_bare_number_in_the_wrong_notation_and_lists_the_right_ones() -> None:
    with pytest.raises(UnknownSize, match="by dash they are -3, -4"):
        parse_size("13", notation=Notation.DASH)


def test_names_the_size_that_a_whole_millimetre_may_have_meant() -> None:
    with pytest.raises(UnknownSize, match=r"write DN12 \(its bore is 12\.7 mm\)"):
        parse_size("12", notation=Notation.MM)


@pytest.mark.parametrize("size", all_sizes(), ids=str)
def test_every_size_is_read_back_from_all_its_names(size: Size) -> None:
    for text in (f"-{size.dash}", f'{size.inch}"', f"DN{size.dn}", f"{size.bore_mm} mm"):
        assert parse_size(text) == size
    for text, notation in ((str(size.dash), Notation.DASH), (str(size.dn), Notation.DN)):
        assert parse_size(text, notation=notation) == size
    assert size_by_dn(size.dn) == size


def test_no_bore_is_near_two_sizes() -> None:
    for hundredths in range(300, 9000):
        bore = Decimal(hundredths) / 100
        near = [
            size
            for size in all_sizes()
            if min(abs(bore - size.bore_mm), abs(bore - size.inch_bore_mm)) <= Decimal("0.3")
        ]
        assert len(near) <= 1


def test_refuses_a_dn_and_a_tube_dash_there_is_not() -> None:
    with pytest.raises(UnknownSize, match="no hose size DN14"):
        size_by_dn(14)
    with pytest.raises(UnknownSize, match="tube-named hose size -7"):
        tube_size_dn(7)


@given(st.integers(0, 120))
def test_readings_of_a_number_are_those_found_one_by_one(number: int) -> None:
    slow = {(Notation.DASH, size) for size in all_sizes() if size.dash == number}
    slow |= {(Notation.INCH, size) for size in all_sizes() if size.dash == 16 * number}
    slow |= {(Notation.DN, size) for size in all_sizes() if number == size.dn}
    aliases = {13: 12, 20: 19, 32: 31, 40: 38, 50: 51}
    if number in aliases:
        slow.add((Notation.DN, size_by_dn(aliases[number])))
    found = set(readings_of(Decimal(number)))
    assert {pair for pair in found if pair[0] is not Notation.MM} == slow


@settings(max_examples=400)
@given(
    st.text(max_size=30)
    | st.from_regex(
        r"(dn|-|#)? ?[0-9]{0,3}[ ./-]?[0-9]{0,2}/?[0-9]{0,2} ?(\"|mm|in)?", fullmatch=True
    ),
    st.none() | st.sampled_from(Notation),
)
def test_any_text_is_a_size_or_is_refused(text: str, notation: Notation | None) -> None:
    try:
        found = parse_size(text, notation=notation)
    except SizeError:
        return
    assert found in all_sizes()
