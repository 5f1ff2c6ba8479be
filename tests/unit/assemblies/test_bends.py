"""Free hose for bends and loops."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assemblies.calc.bends import (
    BendError,
    FixedEnd,
    RadiusChanges,
    bend_length,
    least_free_length,
    moving_loop_length,
    straight_piece,
)

ANGLES = st.integers(1, 360)
RADII = st.integers(50, 800)
OUTSIDES = st.integers(100, 900).map(lambda tenths: Decimal(tenths) / 10)
RADIUS, OUTSIDE = Decimal(180), Decimal("23.1")


def length_by_steps(angle: int, radius: float) -> float:
    """The slow way: add up ten thousand short straight pieces along the middle of the hose."""
    step = math.radians(angle) / 10_000
    return sum(2 * radius * math.sin(step / 2) for _ in range(10_000))


@given(ANGLES, RADII, OUTSIDES)
def test_a_bend_is_as_long_as_its_pieces(angle: int, radius: int, outside: Decimal) -> None:
    pieces = length_by_steps(angle, radius + float(outside) / 2)
    ours = bend_length(Decimal(angle), Decimal(radius), outside)
    assert abs(float(ours) - pieces) <= 0.051


@given(ANGLES, RADII, OUTSIDES)
def test_the_least_length_is_never_short_and_at_most_a_tenth_over(
    angle: int, radius: int, outside: Decimal
) -> None:
    exact = math.radians(angle) * (radius + float(outside) / 2) + 3 * float(outside)
    over = float(least_free_length(Decimal(angle), Decimal(radius), outside)) - exact
    assert -1e-9 <= over <= 0.1 + 1e-9


def test_a_longer_straight_piece_may_be_stated_and_a_shorter_is_refused() -> None:
    half_turn = Decimal(180)
    longer = least_free_length(half_turn, RADIUS, OUTSIDE, straight_mm=Decimal(50))
    assert longer == Decimal("701.8")
    with pytest.raises(BendError, match=r"34 mm will not do: the least is 34\.65 mm"):
        least_free_length(half_turn, RADIUS, OUTSIDE, straight_mm=Decimal(34))


def test_a_loop_needs_the_whole_travel_where_its_fixed_end_stands_at_one_end() -> None:
    still = least_free_length(Decimal(180), RADIUS, OUTSIDE)
    travel = Decimal(400)
    at_end = moving_loop_length(RADIUS, OUTSIDE, travel, fixed_end=FixedEnd.END_OF_STROKE)
    at_mid = moving_loop_length(RADIUS, OUTSIDE, travel, fixed_end=FixedEnd.MID_STROKE)
    assert (at_end - still, at_mid - still) == (travel, travel / 2)


def test_a_loop_whose_radius_changes_is_flagged_and_not_worked_out() -> None:
    with pytest.raises(RadiusChanges, match="Draw the loop at both ends of the stroke"):
        moving_loop_length(
            RADIUS, OUTSIDE, Decimal(1), fixed_end=FixedEnd.MID_STROKE, radius_changes=True
        )


@pytest.mark.parametrize("bad", ["0", "-1", "NaN", "Infinity", "1e7"])
def test_refuses_measures_that_are_none(bad: str) -> None:
    for place in range(3):
        measures = [Decimal(90), Decimal(180), Decimal(23)]
        measures[place] = Decimal(bad)
        with pytest.raises(BendError, match=r"must be above zero|bigger than anything"):
            bend_length(*measures)
    with pytest.raises(BendError, match="travel"):
        moving_loop_length(RADIUS, OUTSIDE, Decimal(bad), fixed_end=FixedEnd.MID_STROKE)


def test_refuses_more_than_a_full_turn() -> None:
    with pytest.raises(BendError, match="361° is more than a full turn"):
        bend_length(Decimal(361), RADIUS, OUTSIDE)


def test_the_straight_piece_is_one_and_a_half_diameters() -> None:
    assert straight_piece(Decimal(20)) == 30
