"""Length tolerances, angles and bends against published tables and sums worked by hand."""

import math
from decimal import Decimal

import pytest

from assemblies.calc.bends import FixedEnd, bend_length, least_free_length, moving_loop_length
from assemblies.calc.lengths import (
    Allowance,
    angle_from_far,
    angle_limits,
    cut_length,
    length_limits,
)

# Tolerance sheet of a maker of heated hoses, "to DIN 20066": length up to, up to DN 25, DN 32–50.
SHEET = [
    (630, (7, 3), (12, 4)),
    (1250, (12, 4), (20, 6)),
    (2500, (20, 6), (25, 6)),
]
# The same sheet: over 2500 up to 8000 +1.5 / -0.5 %, over 8000 +3 / -1 %, every size.
PERCENT = [(2501, 8000, "1.5", "0.5"), (8001, 20000, "3", "1")]


@pytest.mark.parametrize(("up_to", "small", "large"), SHEET)
def test_tolerance_is_that_of_the_sheet_up_to_and_at_the_limit(
    up_to: int, small: tuple[int, int], large: tuple[int, int]
) -> None:
    for dn, expected in ((6, small), (12, small), (25, small), (31, large), (51, large)):
        for length in (up_to - 100, up_to):
            limits = length_limits(dn, Decimal(length))
            assert limits.plus_mm == expected[0]
            assert limits.minus_mm == expected[1]


@pytest.mark.parametrize(("first", "last", "plus", "minus"), PERCENT)
def test_long_assemblies_have_a_tolerance_in_per_cent(
    first: int, last: int, plus: str, minus: str
) -> None:
    for length in (Decimal(first), Decimal(last)):
        limits = length_limits(38, length)
        assert limits.plus_mm == length * Decimal(plus) / 100
        assert limits.minus_mm == length * Decimal(minus) / 100


# Worked by hand from the sheet.
@pytest.mark.parametrize(
    ("dn", "length", "shortest", "longest"),
    [(12, 1000, 996, 1012), (12, 630, 627, 637), (12, 631, 627, 643), (38, 1000, 994, 1020)],
)
def test_limits_worked_by_hand(dn: int, length: int, shortest: int, longest: int) -> None:
    limits = length_limits(dn, Decimal(length))
    assert limits.shortest_mm == shortest
    assert limits.longest_mm == longest


# Derived by hand: 1200 - 45.5 - 62.0.
def test_cut_length_worked_by_hand() -> None:
    near, far = Allowance(Decimal("45.5")), Allowance(Decimal("62.0"))
    assert cut_length(Decimal(1200), near, far) == Decimal("1092.5")


# MIL-DTL-83796/5, figure 3, note 3: ± 3° up to 2 feet (61 cm), ± 5° over; note 1: near end at six
# o'clock, counter-clockwise to the other (as SAE J517). The other way of saying it, far end at
# twelve, clockwise to near, is that of a hose maker's page. Both are one angle.
@pytest.mark.parametrize(("length", "degrees"), [(300, 3), (600, 3), (620, 5), (3000, 5)])
def test_angle_tolerance_is_the_published_one(length: int, degrees: int) -> None:
    assert angle_limits(Decimal(length)).plus_minus_deg == degrees


@pytest.mark.parametrize("far_clock", range(0, 360, 15))
@pytest.mark.parametrize("near_clock", [0, 45, 90, 180, 270, 355])
def test_both_published_ways_of_saying_the_angle_agree(near_clock: int, far_clock: int) -> None:
    turn_near_to_six = 180 - near_clock
    far_after_turn = (far_clock + turn_near_to_six) % 360
    counter_clockwise_from_six = (180 - far_after_turn) % 360
    ours = angle_from_far(Decimal(near_clock), Decimal(far_clock))
    assert ours == counter_clockwise_from_six


# A rubber hose maker's page: length of a bend = angle/360 · 2π · radius; ours runs to the middle
# of the hose, radius + half the outside diameter.
@pytest.mark.parametrize("angle", [30, 45, 90, 180, 270, 360])
def test_bend_length_is_its_share_of_the_circle(angle: int) -> None:
    share = angle / 360 * 2 * math.pi * (180 + 23.1 / 2)
    ours = bend_length(Decimal(angle), Decimal(180), Decimal("23.1"))
    assert abs(float(ours) - share) <= 0.05


# Worked by hand: 2SN DN12, radius 180 (EN 853), outside 23.1, straight 1.5 × 23.1 = 34.65
# (DGUV Regel 113-020, figure 9): π · 191.55 + 69.3 = 671.07; half of the arc + 69.3 = 370.19.
def test_u_bend_and_quarter_bend_worked_by_hand() -> None:
    radius, outside = Decimal(180), Decimal("23.1")
    assert least_free_length(Decimal(180), radius, outside) == Decimal("671.1")
    assert least_free_length(Decimal(90), radius, outside) == Decimal("370.2")


# Derived, by trying every place of the stroke: one leg keeps its straight piece, the other takes
# up the offset between the ends.
@pytest.mark.parametrize("fixed_end", FixedEnd)
def test_moving_loop_is_long_enough_at_every_place_of_the_stroke_and_no_longer(
    fixed_end: FixedEnd,
) -> None:
    travel = 400
    start = -travel // 2 if fixed_end is FixedEnd.MID_STROKE else 0
    offsets = range(start, start + travel + 1)
    needed = max(math.pi * 191.55 + 2 * 34.65 + abs(offset) for offset in offsets)
    ours = float(
        moving_loop_length(Decimal(180), Decimal("23.1"), Decimal(travel), fixed_end=fixed_end)
    )
    assert needed <= ours <= needed + 0.1
