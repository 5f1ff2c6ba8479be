"""Hoses rated below what their position asks."""

from decimal import Decimal
from typing import Any

import pytest
from django.test.utils import CaptureQueriesContext

from assemblies.queries.duty_gaps import duty_gaps
from tests import factories

pytestmark = pytest.mark.django_db


def hose(rated_bar: str | None, *, pressure: str, surge: str | None = None, **machine: Any) -> Any:
    """A hose on a position of its own."""
    place = factories.position(
        on=factories.machine(**machine),
        pressure_bar=Decimal(pressure),
        surge_bar=None if surge is None else Decimal(surge),
    )
    rating = None if rated_bar is None else Decimal(rated_bar)
    return factories.fitted(on=place, working_pressure_bar=rating)


def test_names_both_figures_and_how_far_apart_they_are() -> None:
    hose("215", pressure="250", surge="290", fleet_number="WL-02")
    (gap,) = duty_gaps(None)
    assert (gap.rated_bar, gap.asked_bar, gap.surge) == (Decimal(215), Decimal(290), True)
    assert "rated 215 bar (as the register states it)" in gap.sentence
    assert "asks 290 bar with the stated surge: 75 bar too little" in gap.sentence


def test_a_hose_that_bears_exactly_what_is_asked_is_no_gap() -> None:
    hose("290", pressure="250", surge="290")
    assert duty_gaps(None) == ()


def test_pressure_asks_where_no_surge_is_stated() -> None:
    hose("215", pressure="250")
    (gap,) = duty_gaps(None)
    assert (gap.asked_bar, gap.surge) == (Decimal(250), False)


def test_a_hose_of_unknown_rating_is_no_gap() -> None:
    hose(None, pressure="250")
    assert duty_gaps(None) == ()


def test_a_hose_that_came_off_is_no_gap() -> None:
    worn = hose("215", pressure="250")
    worn.stays.update(is_open=False, to_on=factories.TODAY)
    assert duty_gaps(None) == ()


def test_shows_only_the_sites_that_the_person_sees() -> None:
    here, there = factories.site(), factories.site()
    hose("215", pressure="250", at=here)
    hose("215", pressure="250", at=there)
    fitter = factories.person("fitter", at=here)
    assert [gap.site_code for gap in duty_gaps(fitter)] == [here.code]
    assert len(duty_gaps(None)) == 2


def test_narrows_to_a_site_and_a_machine() -> None:
    here = factories.site()
    wanted = hose("215", pressure="250", at=here)
    hose("215", pressure="250", at=here)
    hose("215", pressure="250")
    machine_id = wanted.stays.get().position.machine_id
    assert len(duty_gaps(None, site_id=here.pk)) == 2
    assert [gap.assembly_id for gap in duty_gaps(None, machine_id=machine_id)] == [wanted.pk]


def test_asks_the_database_no_more_often_for_more_hoses(
    django_assert_max_num_queries: Any,
) -> None:
    for _ in range(12):
        hose("215", pressure="250")
    with django_assert_max_num_queries(3) as counted:
        assert len(duty_gaps(None)) == 12
    assert isinstance(counted, CaptureQueriesContext)
