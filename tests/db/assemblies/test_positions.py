"""Making and changing positions."""

from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.positions import add_position, change_position
from assemblies.models import Position
from fleet.actions.refusals import Refused
from fleet.permissions import NotAllowed
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = make.NOW


def _change(position: Position, facts: dict[str, Any], version: int = 1) -> Position:
    planner = make.person("planner", at=position.machine.site)
    return change_position(position=position, facts=facts, version=version, person=planner, at=NOW)


def test_a_new_position_stands_last_in_the_walk() -> None:
    first = make.position(walk_order=70)
    second = add_position(machine=first.machine, facts={"place": "Boom"}, person=None, at=NOW)
    assert second.walk_order == 80


def test_refuses_a_place_that_only_looks_different() -> None:
    first = make.position(place="Boom lift")
    with pytest.raises(Refused) as refusal:
        add_position(machine=first.machine, facts={"place": " BOOM  LIFT"}, person=None, at=NOW)
    assert refusal.value.code == "place_taken"


def test_refuses_a_spec_that_bears_less_than_the_position_asks() -> None:
    position = make.position(pressure_bar=Decimal(250), surge_bar=Decimal(280))
    with pytest.raises(Refused, match="280") as refusal:
        _change(position, {"required_spec": make.spec()})
    assert refusal.value.code == "below_duty"
    assert Position.objects.get(pk=position.pk).required_spec is None


def test_a_spec_that_bears_the_duty_is_taken() -> None:
    position = make.position(pressure_bar=Decimal(250), surge_bar=Decimal(275))
    assert _change(position, {"required_spec": make.spec()}).version == 2


def test_a_duty_that_turns_out_higher_is_still_recorded() -> None:
    position = make.position(pressure_bar=Decimal(250), required_spec=make.spec())
    _change(position, {"pressure_bar": Decimal(300)})
    assert Position.objects.get(pk=position.pk).pressure_bar == 300


def test_refuses_a_change_made_on_an_old_page() -> None:
    position = make.position()
    _change(position, {"circuit": "pilot"})
    with pytest.raises(Refused) as refusal:
        _change(position, {"circuit": "brakes"})
    assert refusal.value.code == "changed_meanwhile"


def test_a_fitter_may_not_change_a_position() -> None:
    position = make.position()
    fitter = make.person("fitter", at=position.machine.site)
    with pytest.raises(NotAllowed):
        change_position(
            position=position, facts={"circuit": "pilot"}, version=1, person=fitter, at=NOW
        )
