"""Where a trial begins, what a dial is off, and how a trial is drawn."""

import random
from decimal import Decimal

import pytest

from assemblies.calc.crimping import Joint, wall_compression
from assemblies.calc.dial import dial_difference
from assemblies.calc.trial import Pin, Press, evaluate_trial
from assemblies.calc.trial_picture import trial_scene
from assemblies.calc.trial_start import closing_compression, compression_warning, trial_start
from fleet.calc.scene import Line, Poly, Rect, Text, box_of
from fleet.calc.svg import svg_of

JOINT = Joint(27, 21, 12.7, 19.8, 12.9)
STEPS = [("27.00", "enters"), ("26.75", "enters"), ("26.50", "tight"), ("26.25", "refuses")]


def slow_median(values: list[Decimal]) -> Decimal:
    """The value with as many below as above it, found by counting."""
    half = len(values) / 2
    lower = [v for v in values if sum(w < v for w in values) <= half - 0.5]
    upper = [v for v in values if sum(w > v for w in values) <= half - 0.5]
    return (max(lower) + min(upper)) / 2


def test_a_dial_s_difference_is_the_middle_one_by_counting_too() -> None:
    draw = random.Random(7)
    for _ in range(200):
        count = draw.randint(1, 40)
        told = [
            (Decimal(2600 + n) / 100, Decimal(2600 + n + draw.randint(-40, 40)) / 100)
            for n in range(count)
        ]
        found = dial_difference(told)
        assert found is not None
        expected = slow_median([od - setting for setting, od in told[-25:]])
        assert abs(found.difference_mm - expected) <= Decimal("0.005")


def test_one_wild_press_does_not_move_a_dial() -> None:
    calm = [(Decimal(27), Decimal("27.15"))] * 6
    wild = [*calm, (Decimal(27), Decimal("31.00"))]
    assert dial_difference(calm) is not None
    assert dial_difference(wild).difference_mm == Decimal("0.15")  # type: ignore[union-attr]  # seven presses


def test_a_dial_without_a_measured_press_is_not_known() -> None:
    assert dial_difference([]) is None
    with pytest.raises(ValueError, match="At least one"):
        dial_difference([], latest=0)


@pytest.mark.parametrize("difference", ["-0.40", "0.00", "0.15", "1.10"])
def test_a_trial_begins_at_contact_or_up_to_a_quarter_above_it(difference: str) -> None:
    start = trial_start(JOINT, 2, Decimal(difference))
    assert start.contact_od_mm is not None
    assert start.first_setting_mm is not None
    above = start.first_setting_mm + Decimal(difference) - start.contact_od_mm
    assert 0 <= above < Decimal("0.25")
    assert start.first_setting_mm % Decimal("0.25") == 0


def test_the_estimate_lies_where_the_wall_is_pressed_by_the_band() -> None:
    start = trial_start(JOINT, 3, Decimal(0))
    assert start.estimate_setting_mm is not None
    assert 0.46 < wall_compression(JOINT, float(start.estimate_setting_mm)) < 0.50


def test_nothing_is_proposed_without_geometry_and_no_band_beyond_four_layers() -> None:
    assert trial_start(None, 2, Decimal(0)).first_setting_mm is None
    start = trial_start(JOINT, 6, Decimal(0))
    assert (start.first_setting_mm, start.estimate_setting_mm) == (Decimal("26.25"), None)


def test_a_wall_pressed_outside_the_band_is_warned_of_with_both_figures() -> None:
    assert "30 %" in compression_warning(0.30, 3)
    assert "46 % to 50 %" in compression_warning(0.30, 3)
    assert compression_warning(closing_compression(JOINT, Decimal("23.645")), 3) == ""
    assert closing_compression(JOINT, Decimal("15.0")) is None


def test_the_picture_shows_each_press_once_with_its_sign_and_the_bracket() -> None:
    presses = [Press(Decimal(mm), Pin(pin), (Decimal(mm) + Decimal("0.1"),)) for mm, pin in STEPS]
    scene = trial_scene(presses, evaluate_trial(presses))
    marks = [one.role for one in scene.shapes if isinstance(one, Poly) and one.closed]
    assert marks == ["pin-enters", "pin-enters", "pin-tight", "pin-refuses"]
    assert len([one for one in scene.shapes if isinstance(one, Line) and one.role == "now"]) == 4
    assert len([one for one in scene.shapes if isinstance(one, Rect) and one.role == "band"]) == 1
    assert "press 4 at 26.25 mm: the pin is refused, OD 26.35 mm" in scene.description


def test_the_picture_keeps_its_words_inside_it_and_apart() -> None:
    for count in (1, 2, 12):
        presses = [Press(Decimal(27) - Decimal("0.25") * n, Pin.ENTERS) for n in range(count)]
        scene = trial_scene(presses, evaluate_trial(presses))
        boxes = [box_of(one) for one in scene.shapes if isinstance(one, Text)]
        assert all(x1 >= 0 and x2 <= 360 and y1 >= 0 and y2 <= 250 for x1, y1, x2, y2 in boxes)
        assert svg_of(scene, prefix="t").count("<polygon") == count
