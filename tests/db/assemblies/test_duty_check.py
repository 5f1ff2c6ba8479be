"""The duty check on the tables: a position against the spec that it requires."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.models import Position, SpecRevision
from assemblies.queries.duty_check import counting_revision, duty_check
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db


def spec(*, chart: bool = True, **hose_facts: Any) -> SpecRevision:
    """A spec of one hose with two 24° cone ends, matched by a chart or not."""
    hose = make.hose(
        **{"temperature_high_c": 100, "bend_radius_mm": Decimal(180), "fluids": "mineral oil"}
        | hose_facts
    )
    near, far = shop.end(), shop.end()
    if chart:
        shop.approved_recipe(hose, near)
        shop.approved_recipe(hose, far)
    return shop.draft(hose=hose, near=near, far=far)


def asking(**facts: Any) -> Position:
    return make.position(**{"pressure_bar": Decimal(250), **facts})


def told(position: Position, revision: SpecRevision) -> list[tuple[str, str]]:
    found = duty_check(position, revision)
    return [(one.about, str(one.weight)) for one in found if one.about != "mistaken"]


def test_a_position_that_asks_no_more_has_no_finding() -> None:
    assert told(asking(), spec()) == []


@pytest.mark.parametrize(
    ("facts", "about", "weight"),
    [
        ({"pressure_bar": Decimal(280)}, "pressure", "forbids"),
        ({"surge_bar": Decimal(300)}, "surge", "forbids"),
        ({"oil_temperature_c": 105}, "temperature", "forbids"),
        ({"bend_radius_mm": Decimal(150)}, "bend", "forbids"),
        ({"fluid": "rapeseed oil"}, "fluid", "warns"),
        ({"flow_l_per_min": Decimal(40)}, "velocity", "unknown"),
        ({"exposure": "rocks"}, "exposure", "warns"),
        ({"port_a": "24° cone L"}, "ports", "forbids"),
    ],
)
def test_each_duty_is_held_against_the_spec(facts: dict[str, Any], about: str, weight: str) -> None:
    assert told(asking(**facts), spec()) == [(about, weight)]


def test_unmatched_parts_are_kept_from_where_failure_hurts() -> None:
    unmatched = spec(chart=False)
    assert told(asking(consequence="hurts"), unmatched) == [("unmatched", "forbids")]
    assert told(asking(consequence="stops"), unmatched) == []


def test_the_approved_revision_counts_before_a_draft() -> None:
    approved = shop.approve(spec())
    assert counting_revision(approved.header) == approved


def test_the_page_says_each_finding_with_its_source() -> None:
    revision = spec()
    position = asking(pressure_bar=Decimal(280), required_spec=revision.header)
    who = Client()
    who.force_login(make.person("planner", at=position.machine.site))
    page = who.get(reverse("assemblies:duty", args=[position.pk])).content.decode()
    assert "works at 280 bar, the assembly bears 275 bar" in page
    assert "SAE J517" in page
    stranger = Client()
    stranger.force_login(make.person("planner", at=make.site()))
    assert stranger.get(reverse("assemblies:duty", args=[position.pk])).status_code == 404


def test_a_position_without_a_spec_says_so() -> None:
    position = asking()
    who = Client()
    who.force_login(make.person("planner", at=position.machine.site))
    page = who.get(reverse("assemblies:duty", args=[position.pk])).content.decode()
    assert "No spec to hold against it" in page
