import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.installations import (
    Moment,
    fit_assembly,
    remove_assembly,
    scrap_assembly,
    swap_assembly,
)
from assemblies.models import Assembly, Position, Stay
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import NotAllowed
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY


def _when(days: int = 0, hours: Any = None) -> Moment:
    at = NOW + dt.timedelta(days=days)
    return Moment(at.date(), at, None if hours is None else Decimal(hours))


@pytest.fixture
def spot() -> Position:
    return make.position()


@pytest.fixture
def fitter(spot: Position) -> Person:
    return make.person("fitter", at=spot.machine.site)


def _remove(hose: Assembly, fitter: Person | None, days: int = 0, hours: Any = None) -> Stay:
    return remove_assembly(
        assembly=hose,
        removal="due",
        to="store",
        when=_when(days, hours),
        person=fitter,
        now=NOW,
    )


def test_a_fitted_hose_is_on_its_position_and_nowhere_else(spot: Position, fitter: Person) -> None:
    hose = make.stored(at=spot.machine.site)
    fit_assembly(assembly=hose, position=spot, when=_when(), person=fitter, now=NOW)
    assert Stay.objects.get(assembly=hose, is_open=True).position == spot


def test_refuses_a_second_hose_on_a_position(spot: Position, fitter: Person) -> None:
    make.fitted(on=spot)
    hose = make.stored(at=spot.machine.site)
    with pytest.raises(Refused) as refusal:
        fit_assembly(assembly=hose, position=spot, when=_when(), person=fitter, now=NOW)
    assert refusal.value.code == "position_taken"
    assert Stay.objects.get(assembly=hose, is_open=True).place == "store"


def test_refuses_a_hose_that_sits_elsewhere(spot: Position, fitter: Person) -> None:
    hose = make.fitted(on=make.position(on=spot.machine))
    with pytest.raises(Refused) as refusal:
        fit_assembly(assembly=hose, position=spot, when=_when(), person=fitter, now=NOW)
    assert refusal.value.code == "already_fitted"


def test_refuses_a_hose_that_is_held(spot: Position, fitter: Person) -> None:
    hose = make.stored(at=spot.machine.site, condition="held")
    with pytest.raises(Refused) as refusal:
        fit_assembly(assembly=hose, position=spot, when=_when(), person=fitter, now=NOW)
    assert refusal.value.code == "not_usable"


def test_refuses_a_day_to_come(spot: Position, fitter: Person) -> None:
    hose = make.stored(at=spot.machine.site)
    with pytest.raises(Refused) as refusal:
        fit_assembly(assembly=hose, position=spot, when=_when(days=30), person=fitter, now=NOW)
    assert refusal.value.code == "in_the_future"


def test_a_scrapped_hose_is_never_used_again(spot: Position, fitter: Person) -> None:
    hose = make.stored(at=spot.machine.site)
    scrap_assembly(assembly=hose, when=_when(), person=fitter, now=NOW, reason="cover cut")
    with pytest.raises(Refused) as refusal:
        fit_assembly(assembly=hose, position=spot, when=_when(), person=fitter, now=NOW)
    assert refusal.value.code == "already_scrapped"


def test_hours_of_stays_add_up(spot: Position, fitter: Person) -> None:
    hose = make.stored(at=spot.machine.site)
    for begin, end in ((1000, 1400), (1500, 1550)):
        fit_assembly(assembly=hose, position=spot, when=_when(hours=begin), person=fitter, now=NOW)
        _remove(hose, fitter, hours=end)
    assert Assembly.objects.get(pk=hose.pk).earlier_h == 450


def test_refuses_hours_before_those_at_fitting(spot: Position, fitter: Person) -> None:
    hose = make.fitted(on=spot, stay_from_machine_h=Decimal(1000))
    with pytest.raises(Refused) as refusal:
        _remove(hose, fitter, hours=999)
    assert refusal.value.code == "hours_before_fitting"


def test_refuses_a_removal_before_the_fitting(spot: Position, fitter: Person) -> None:
    hose = make.fitted(on=spot, stay_from_earliest_on=TODAY, stay_from_latest_on=TODAY)
    with pytest.raises(Refused) as refusal:
        _remove(hose, fitter, days=-1)
    assert refusal.value.code == "day_before_last_move"


def test_a_swap_is_all_or_nothing(spot: Position, fitter: Person) -> None:
    old, new = make.fitted(on=spot), make.stored(at=spot.machine.site, condition="held")
    with pytest.raises(Refused):
        swap_assembly(
            position=spot,
            new=new,
            removal="failed",
            old_to="scrapped",
            when=_when(),
            person=fitter,
            now=NOW,
        )
    assert Stay.objects.get(assembly=old, is_open=True).position == spot


def test_a_swap_scraps_the_old_and_fits_the_new(spot: Position, fitter: Person) -> None:
    old, new = make.fitted(on=spot), make.stored(at=spot.machine.site)
    swap_assembly(
        position=spot,
        new=new,
        removal="failed",
        old_to="scrapped",
        when=_when(),
        person=fitter,
        now=NOW,
    )
    assert Stay.objects.get(position=spot, is_open=True).assembly == new
    assert Assembly.objects.get(pk=old.pk).withdrawn_at == NOW


def test_a_storeman_may_not_fit(spot: Position) -> None:
    hose = make.stored(at=spot.machine.site)
    storeman = make.person("storeman", at=spot.machine.site)
    with pytest.raises(NotAllowed):
        fit_assembly(assembly=hose, position=spot, when=_when(), person=storeman, now=NOW)


def test_a_hose_of_another_site_needs_the_right_there_too(spot: Position, fitter: Person) -> None:
    hose = make.stored(at=make.site())
    with pytest.raises(NotAllowed):
        fit_assembly(assembly=hose, position=spot, when=_when(), person=fitter, now=NOW)
