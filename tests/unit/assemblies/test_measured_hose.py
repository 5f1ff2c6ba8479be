"""What was measured of an old hose: what stays open, which diameters suit, the pictures."""

from decimal import Decimal
from typing import Any

import pytest

from assemblies.calc.lengths import Basis, Form, Turns, measure_point
from assemblies.calc.measure_pictures import angle_scene, point_scene
from assemblies.calc.measured_hose import (
    MeasuredEnd,
    MeasuredHose,
    angle_refusal,
    diameter_sentences,
    open_points,
)
from assemblies.standards import tables
from fleet.calc.frozen import from_json, to_json
from fleet.calc.scene import Text, box_of


def end(which: str = "A", **facts: Any) -> MeasuredEnd:
    told = {"form": "elbow_90", "turns": "swivel_nut", "end": "37° cone", "size": "-8"}
    return MeasuredEnd(which, **{**told, **facts})


def hose(**facts: Any) -> MeasuredHose:
    told: dict[str, Any] = {
        "length_mm": Decimal("1200.0"),
        "length_basis": "seat_to_seat",
        "near": end(),
        "far": end("B"),
        "hose_type": "2SN",
        "size_dn": 12,
        "orientation_deg": 90,
    }
    return MeasuredHose(**{**told, **facts})


def test_a_hose_that_is_told_whole_leaves_nothing_open() -> None:
    assert open_points(hose()) == ()


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"hose_type": ""}, "The hose’s type"),
        ({"size_dn": None}, "The hose’s size."),
        ({"near": end(end="", size="")}, "End A: which connection it is."),
        (
            {"far": end("B", end="", could_be=("one", "two"))},
            "End B: which connection it is: it could be one; or two.",
        ),
        ({"far": end("B", turns="")}, "End B: what it turns about."),
        ({"orientation_deg": None}, "The angle between the ends."),
    ],
)
def test_what_can_t_be_told_is_named(facts: dict[str, Any], said: str) -> None:
    (sentence,) = open_points(hose(**facts))
    assert sentence.startswith(said)


@pytest.mark.parametrize(
    ("near", "open_angle"),
    [
        ({"form": "straight"}, False),
        ({"turns": "live_swivel"}, False),
        ({"form": "straight", "turns": "captive_flange"}, True),
        ({"form": "banjo", "turns": "fixed"}, True),
    ],
)
def test_an_angle_is_open_only_where_it_means_something(
    near: dict[str, str], open_angle: bool
) -> None:
    found = open_points(hose(near=end(**near), orientation_deg=None))
    assert ("The angle between the ends." in found) == open_angle
    assert bool(angle_refusal(end(**near), end("B"))) != open_angle


def test_an_end_of_unknown_turning_refuses_no_angle() -> None:
    assert angle_refusal(end(turns=""), end("B")) == ""


def test_what_was_measured_is_read_back_the_same() -> None:
    assert from_json(MeasuredHose, to_json(hose())) == hose()


@pytest.mark.parametrize("row", tables.hose_diameters(), ids=lambda row: f"DN{row.dn}")
def test_every_row_of_the_diameters_suits_itself_and_not_a_thumb_more(row: Any) -> None:
    most, low = row.outside_max_mm, row.reinforcement_min_mm
    suits = diameter_sentences(row.type, row.dn, most, low)
    assert all("suits" in sentence for sentence in suits)
    assert "unverified" in suits[0]
    wrong = diameter_sentences(row.type, row.dn, most + 1, low - 1)
    assert all("does not suit" in sentence for sentence in wrong)
    (named,) = diameter_sentences("", None, most, None)
    assert f"2SN DN{row.dn}" in named


def test_a_type_without_a_table_is_not_judged() -> None:
    (said,) = diameter_sentences("4SP", 12, Decimal(90), None)
    assert "none suits" in said
    assert "Others may" in said
    assert diameter_sentences("4SP", 12, None, None) == ()


@pytest.mark.parametrize("form", Form)
def test_each_form_has_its_picture_of_the_point(form: Form) -> None:
    scene = point_scene(form)
    assert measure_point(form, Turns.SWIVEL_NUT, Basis.SEAT_TO_SEAT) in scene.description
    for shape in (*scene.shapes, *angle_scene().shapes):
        if isinstance(shape, Text):
            assert box_of(shape)[2] <= 275
