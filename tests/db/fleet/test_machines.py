import datetime as dt

import pytest

from assemblies.models import Assembly
from fleet.actions.machines import add_machine, change_machine, move_machine
from fleet.actions.refusals import Refused
from fleet.models import HourMeter, Machine, Person, Site, SiteSpell, TrailEntry, Usage
from fleet.permissions import NotAllowed
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY


def _add(site: Site, person: Person, number: str = "WL-01") -> Machine:
    facts = {"fleet_number": number, "machine_class": make.machine_class()}
    return add_machine(site=site, facts=facts, person=person, at=NOW, today=TODAY)


def test_a_new_machine_has_a_meter_a_spell_and_its_class_hours() -> None:
    site = make.site()
    machine = _add(site, make.person("planner", at=site))
    assert HourMeter.objects.filter(machine=machine, to_on=None).count() == 1
    assert SiteSpell.objects.get(machine=machine).site == site
    assert Usage.objects.get(machine=machine).rate_h_per_day == 8


def test_refuses_a_number_that_only_looks_different() -> None:
    site = make.site()
    planner = make.person("planner", at=site)
    _add(site, planner, "EX-01")
    with pytest.raises(Refused, match="already") as refusal:
        _add(site, planner, " ｅｘ－０１ ")
    assert refusal.value.code == "number_taken"


def test_refuses_a_machine_without_a_number() -> None:
    site = make.site()
    with pytest.raises(Refused) as refusal:
        _add(site, make.person("planner", at=site), "  ")
    assert refusal.value.code == "number_missing"


def test_a_sold_machine_gives_its_number_free() -> None:
    site = make.site()
    planner = make.person("planner", at=site)
    old = _add(site, planner)
    change_machine(machine=old, facts={"status": "sold"}, version=1, person=planner, at=NOW)
    assert _add(site, planner).pk != old.pk


def test_a_fitter_may_not_add_a_machine() -> None:
    site = make.site()
    with pytest.raises(NotAllowed):
        _add(site, make.person("fitter", at=site))


def test_a_planner_of_another_site_may_not_add_a_machine() -> None:
    with pytest.raises(NotAllowed):
        _add(make.site(), make.person("planner", at=make.site()))


def test_refuses_a_change_made_on_an_old_page() -> None:
    site = make.site()
    planner = make.person("planner", at=site)
    machine = _add(site, planner)
    change_machine(machine=machine, facts={"maker": "Corve"}, version=1, person=planner, at=NOW)
    with pytest.raises(Refused) as refusal:
        change_machine(machine=machine, facts={"maker": "X"}, version=1, person=planner, at=NOW)
    assert refusal.value.code == "changed_meanwhile"


def test_a_change_is_kept_from_which_value_to_which() -> None:
    site = make.site()
    planner = make.person("planner", at=site)
    machine = _add(site, planner)
    change_machine(machine=machine, facts={"maker": "Corve"}, version=1, person=planner, at=NOW)
    entry = TrailEntry.objects.get(deed="changed a machine")
    assert (entry.before, entry.after, entry.actor) == ({"maker": ""}, {"maker": "Corve"}, planner)


def test_a_moved_machine_takes_its_hoses_along_and_keeps_its_past() -> None:
    here, there = make.site(), make.site()
    planner = make.person("planner")
    machine = make.machine(at=here)
    hose = make.fitted(on=make.position(on=machine))
    moved_on = TODAY + dt.timedelta(days=3)
    move_machine(machine=machine, to=there, on=moved_on, person=planner, at=NOW, reason="lent")
    assert Assembly.objects.get(pk=hose.pk).site == there
    spells = SiteSpell.objects.filter(machine=machine).order_by("id")
    assert [(s.site, s.to_on) for s in spells] == [(here, moved_on), (there, None)]


def test_a_move_needs_the_right_at_both_sites() -> None:
    here, there = make.site(), make.site()
    planner = make.person("planner", at=here)
    with pytest.raises(NotAllowed):
        move_machine(
            machine=make.machine(at=here), to=there, on=TODAY, person=planner, at=NOW, reason=""
        )


def test_refuses_a_move_onto_a_taken_mark_and_changes_nothing() -> None:
    here, there = make.site(), make.site()
    machine = make.machine(at=here)
    make.fitted(on=make.position(on=machine), owner_mark="H-7")
    make.stored(at=there, owner_mark="h-7")
    with pytest.raises(Refused, match="same mark"):
        move_machine(
            machine=machine, to=there, on=TODAY, person=make.person("planner"), at=NOW, reason=""
        )
    assert Machine.objects.get(pk=machine.pk).site == here


def test_a_stranger_sees_no_machine() -> None:
    machine = make.machine()
    assert not Machine.objects.visible_to(make.person("planner", at=make.site())).exists()
    assert Machine.objects.visible_to(make.person("planner", at=machine.site)).exists()


def test_a_deactivated_person_sees_nothing() -> None:
    machine = make.machine()
    person = make.person("planner", at=machine.site, is_active=False)
    assert not Machine.objects.visible_to(person).exists()
