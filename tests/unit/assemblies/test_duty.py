"""The duty check: every finding a sentence with both figures and its source."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from assemblies.calc.duty import Asked, Borne, VelocityLimits, duty_findings
from assemblies.calc.duty_ends import EndAsked, end_findings
from assemblies.calc.ratings import PartKind, PartRating

HOSE = PartRating(PartKind.HOSE, "hose H-2", Decimal(275), "EN 853")
BORNE = Borne(
    working_pressure_bar=Decimal(275),
    binding=(HOSE,),
    temperature_low_c=-40,
    temperature_high_c=100,
    fluids="mineral oil, HFC",
    tube_material="NBR",
    hose_source="Harrow catalogue 7",
    bend_radius_mm=Decimal(180),
    bore_mm=Decimal("12.7"),
    sleeves=1,
)
EASY = Asked(
    pressure_bar=Decimal(250),
    surge_bar=Decimal(275),
    oil_temperature_c=90,
    ambient_temperature_c=40,
    fluid="mineral oil",
    flow_l_per_min=Decimal(40),
    bend_radius_mm=Decimal(180),
    circuit="working",
    exposure="rubbing",
    hurts=True,
)


def test_a_spec_at_its_limits_has_no_finding() -> None:
    assert duty_findings(EASY, BORNE) == ()


@pytest.mark.parametrize(
    ("asked", "borne", "about", "weight", "figures"),
    [
        ({"pressure_bar": Decimal(300)}, {}, "pressure", "forbids", ("300 bar", "275 bar", "25")),
        ({"surge_bar": Decimal("275.5")}, {}, "surge", "forbids", ("275.5 bar", "275 bar", "0.5")),
        ({}, {"working_pressure_bar": None}, "pressure", "unknown", ("250 bar",)),
        ({"oil_temperature_c": 101}, {}, "temperature", "forbids", ("101 °C", "100 °C")),
        ({"ambient_temperature_c": -41}, {}, "temperature", "forbids", ("-41 °C", "-40 °C")),
        ({}, {"temperature_high_c": None}, "temperature", "unknown", ("90 °C",)),
        ({"fluid": "HFC"}, {}, "fluid", "forbids", ("90 °C", "70 °C")),
        ({"fluid": "rapeseed oil"}, {}, "fluid", "warns", ("rapeseed oil", "mineral oil, HFC")),
        ({}, {"fluids": ""}, "fluid", "unknown", ("mineral oil", "NBR")),
        ({"bend_radius_mm": Decimal(179)}, {}, "bend", "forbids", ("179 mm", "180 mm")),
        ({}, {"bend_radius_mm": None}, "bend", "unknown", ("180 mm",)),
        ({"flow_l_per_min": Decimal(60)}, {}, "velocity", "warns", ("7.89 m/s", "6.1 m/s")),
        ({"circuit": "return"}, {}, "velocity", "warns", ("5.26 m/s", "3 m/s")),
        ({"circuit": "suction"}, {}, "velocity", "warns", ("5.26 m/s", "1.2 m/s")),
        ({}, {"bore_mm": None}, "velocity", "unknown", ("40 L/min",)),
        ({"exposure": "rocks"}, {"sleeves": 0}, "exposure", "warns", ("rocks", "0 sleeves")),
        ({}, {"unmatched": True}, "unmatched", "forbids", ("hurts someone",)),
    ],
)
def test_each_finding_names_both_figures(
    asked: dict[str, Any],
    borne: dict[str, Any],
    about: str,
    weight: str,
    figures: tuple[str, ...],
) -> None:
    found = duty_findings(replace(EASY, **asked), replace(BORNE, **borne))
    one = next(finding for finding in found if finding.about == about)
    assert one.weight == weight
    assert all(figure in one.sentence for figure in figures), one.sentence
    assert one.source


def test_the_gravest_stands_first() -> None:
    asked = replace(EASY, pressure_bar=Decimal(300), circuit="return")
    found = duty_findings(asked, replace(BORNE, fluids=""))
    assert [one.weight for one in found] == ["forbids", "warns", "unknown"]


def test_what_nobody_stated_is_not_checked() -> None:
    assert duty_findings(Asked(), Borne(None)) == ()


def test_the_part_that_binds_is_named_with_its_document() -> None:
    (one,) = duty_findings(replace(EASY, pressure_bar=Decimal(280)), BORNE)
    assert "hose H-2" in one.sentence
    assert "EN 853" in one.source


def test_a_site_sets_its_own_velocity_limit() -> None:
    own = VelocityLimits(pressure=Decimal(5), source="Blackmere's own")
    (one,) = duty_findings(EASY, BORNE, limits=own)
    assert "limit for a pressure line is 5 m/s" in one.sentence
    assert "Blackmere's own" in one.source


def test_unmatched_parts_are_kept_from_brakes_and_steering_and_let_elsewhere() -> None:
    borne = replace(BORNE, unmatched=True)
    for circuit in ("brakes", "steering"):
        found = duty_findings(replace(EASY, hurts=False, circuit=circuit), borne)
        assert [one.about for one in found] == ["unmatched"]
    assert duty_findings(replace(EASY, hurts=False), borne) == ()


@pytest.mark.parametrize(
    ("port", "connection", "size", "weight"),
    [
        ("24° cone L 22", "DKOS", "S20", "forbids"),
        ("flange code 61 3/4", "flange code 62", "3/4", "forbids"),
        ("JIC -8", "JIC", "-8", None),
        ("the upper one", "DKOL", "L22", "unknown"),
    ],
)
def test_an_end_is_held_against_its_port(
    port: str, connection: str, size: str, weight: str | None
) -> None:
    found = [
        one
        for one in end_findings((port, ""), [EndAsked("near", connection, size)])
        if one.about == "ports"
    ]
    assert [one.weight for one in found] == ([weight] if weight else [])


@pytest.mark.parametrize(
    ("connection", "size", "other"),
    [
        ("DKOL", "L22", "24° cone S20"),
        ("DKOS", "S20", "24° cone L22"),
        ("SAE code 61", "3/4", "flange code 62"),
        ("JIC", "-6", "flat face -4"),
        ("ORFS", "-4", "37° cone -6"),
    ],
)
def test_an_end_that_is_mistaken_for_another_is_named_with_it(
    connection: str, size: str, other: str
) -> None:
    found = [one.sentence for one in end_findings(("", ""), [EndAsked("far", connection, size)])]
    assert any(other in sentence for sentence in found), found
