"""Cut lengths, tolerances, and the angle between two ends."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assemblies.calc.lengths import (
    Allowance,
    AllowanceMissing,
    AngleError,
    Basis,
    BasisMismatch,
    Form,
    LengthError,
    ToleranceUnknown,
    TooShort,
    Turns,
    angle_from_far,
    angle_limits,
    angle_off,
    cut_length,
    finished_length,
    has_direction,
    length_limits,
    measure_point,
    normal_angle,
    seen_from_other_end,
    why_no_angle,
)

CLOCK = st.integers(-720, 720).map(Decimal)
TENTHS = st.integers(0, 2000).map(lambda tenths: Decimal(tenths) / 10)


@given(st.integers(5000, 200_000), TENTHS, TENTHS)
def test_a_cut_hose_comes_to_the_wanted_length(tenths: int, near: Decimal, far: Decimal) -> None:
    wanted = Decimal(tenths) / 10
    ends = Allowance(near), Allowance(far)
    assert finished_length(cut_length(wanted, *ends), *ends) == wanted


def test_a_cut_length_stated_as_such_needs_no_allowance() -> None:
    assert cut_length(Decimal(900), None, None, basis=Basis.CUT) == 900


def test_refuses_a_fitting_without_its_allowance() -> None:
    with pytest.raises(AllowanceMissing, match="far fitting has no cut-off allowance"):
        cut_length(Decimal(900), Allowance(Decimal(40)), None)


def test_refuses_an_allowance_that_counts_from_another_point() -> None:
    overall = Allowance(Decimal(40), Basis.OVERALL)
    with pytest.raises(BasisMismatch, match="allowance is overall, the length is seat to seat"):
        cut_length(Decimal(900), overall, overall)
    assert cut_length(Decimal(900), overall, overall, basis=Basis.OVERALL) == 820


def test_refuses_fittings_that_leave_no_hose() -> None:
    with pytest.raises(TooShort, match="take up 100 of 100 mm"):
        cut_length(Decimal(100), Allowance(Decimal(40)), Allowance(Decimal(60)))


@pytest.mark.parametrize("length", ["0", "-5", "NaN", "Infinity"])
def test_refuses_a_length_that_is_none(length: str) -> None:
    ends = Allowance(Decimal(1)), Allowance(Decimal(1))
    with pytest.raises(LengthError, match="is no length"):
        cut_length(Decimal(length), *ends)
    with pytest.raises(LengthError, match="is no length"):
        finished_length(Decimal(length), *ends)
    with pytest.raises(LengthError, match="is no length"):
        length_limits(12, Decimal(length))
    with pytest.raises(LengthError, match="is no length"):
        angle_limits(Decimal(length))


def test_refuses_a_tolerance_for_a_size_that_no_document_has() -> None:
    with pytest.raises(ToleranceUnknown, match="No document gives a length tolerance for DN63"):
        length_limits(63, Decimal(1000))


@given(st.sampled_from([5, 12, 25, 31, 51]), st.integers(1, 200_000))
def test_the_wanted_length_is_always_inside_its_limits(dn: int, tenths: int) -> None:
    length = Decimal(tenths) / 10
    limits = length_limits(dn, length)
    assert limits.shortest_mm < length < limits.longest_mm
    assert limits.longest_mm - length == limits.plus_mm > limits.minus_mm


@pytest.mark.parametrize(
    ("form", "turns", "directed"),
    [
        (Form.STRAIGHT, Turns.FIXED, False),
        (Form.STRAIGHT, Turns.SWIVEL_NUT, False),
        (Form.STRAIGHT, Turns.SPLIT_FLANGE, False),
        (Form.STRAIGHT, Turns.CAPTIVE_FLANGE, True),
        (Form.ELBOW_90, Turns.SWIVEL_NUT, True),
        (Form.ELBOW_45, Turns.SPLIT_FLANGE, True),
        (Form.ELBOW_90, Turns.LIVE_SWIVEL, False),
        (Form.BANJO, Turns.FIXED, True),
        (Form.BLOCK, Turns.FIXED, True),
        (Form.BANJO, Turns.LIVE_SWIVEL, False),
    ],
)
def test_an_end_points_somewhere_unless_straight_or_turning_about_the_hose(
    form: Form, turns: Turns, directed: bool
) -> None:
    assert has_direction(form, turns) is directed


def test_the_reason_for_no_angle_names_each_end_that_has_no_direction() -> None:
    elbow, straight = (Form.ELBOW_90, Turns.SWIVEL_NUT), (Form.STRAIGHT, Turns.SWIVEL_NUT)
    live = (Form.ELBOW_90, Turns.LIVE_SWIVEL)
    assert why_no_angle({"A": elbow, "B": elbow}) == ""
    assert why_no_angle({"A": straight, "B": live}) == (
        "No angle: end A is straight, end B turns about the hose."
    )


def angle_in_space(near_clock: Decimal, far_clock: Decimal) -> float:
    """The slow way: turn both ends in space until the far one is up, then look along the hose."""
    near, far = (math.radians(float(90 - clock)) for clock in (near_clock, far_clock))
    turn = math.pi / 2 - far
    x = math.cos(near) * math.cos(turn) - math.sin(near) * math.sin(turn)
    y = math.sin(near) * math.cos(turn) + math.cos(near) * math.sin(turn)
    return math.degrees(math.atan2(x, y)) % 360


@given(CLOCK, CLOCK)
def test_the_angle_is_that_found_by_turning_the_hose_in_space(near: Decimal, far: Decimal) -> None:
    apart = (float(angle_from_far(near, far)) - angle_in_space(near, far)) % 360
    assert min(apart, 360 - apart) < 1e-6


@given(CLOCK, CLOCK)
def test_the_angle_is_the_same_from_either_end(near: Decimal, far: Decimal) -> None:
    turned_round = angle_from_far(seen_from_other_end(far), seen_from_other_end(near))
    assert turned_round == angle_from_far(near, far)


@given(CLOCK, CLOCK, CLOCK)
def test_turning_the_whole_hose_changes_nothing(near: Decimal, far: Decimal, by: Decimal) -> None:
    assert angle_from_far(near + by, far + by) == angle_from_far(near, far)


def test_a_right_angle_is_never_its_mirror_image() -> None:
    assert angle_from_far(Decimal(90), Decimal(0)) == 90
    assert angle_from_far(Decimal(270), Decimal(0)) == 270


@given(CLOCK)
def test_an_angle_is_brought_below_a_full_turn(angle: Decimal) -> None:
    turned = normal_angle(angle)
    assert 0 <= turned < 360
    assert (turned - angle) % 360 == 0
    assert not turned.is_signed()


@pytest.mark.parametrize("angle", ["NaN", "Infinity", "1e9"])
def test_refuses_an_angle_that_is_none(angle: str) -> None:
    with pytest.raises(AngleError, match="is no angle"):
        normal_angle(Decimal(angle))


@given(CLOCK, CLOCK)
def test_how_far_off_is_the_short_way_round(wanted: Decimal, found: Decimal) -> None:
    off = angle_off(wanted, found)
    assert 0 <= off <= 180
    assert off == angle_off(found, wanted)
    assert normal_angle(wanted - off) == normal_angle(found) or (
        normal_angle(wanted + off) == normal_angle(found)
    )


@pytest.mark.parametrize(
    ("form", "turns", "basis", "words"),
    [
        (Form.STRAIGHT, Turns.SWIVEL_NUT, Basis.SEAT_TO_SEAT, "sealing seat"),
        (Form.STRAIGHT, Turns.SPLIT_FLANGE, Basis.SEAT_TO_SEAT, "flange face"),
        (Form.STRAIGHT, Turns.SWIVEL_NUT, Basis.OVERALL, "outermost point of the end"),
        (Form.ELBOW_45, Turns.SWIVEL_NUT, Basis.SEAT_TO_SEAT, "centre line of the connection"),
        (Form.BANJO, Turns.FIXED, Basis.SEAT_TO_SEAT, "centre line of the bolt hole"),
        (Form.ELBOW_90, Turns.SWIVEL_NUT, Basis.CUT, "cut end of the hose"),
    ],
)
def test_the_point_a_length_runs_to_is_said_in_words(
    form: Form, turns: Turns, basis: Basis, words: str
) -> None:
    assert measure_point(form, turns, basis) == words
