"""Two people at one machine, or one phone that tells twice: one round, one look, one plan."""

import datetime as dt

import pytest
from django.utils import timezone

from assemblies.models import Position
from scheduling.actions.baselining import tell_empty
from scheduling.actions.catch_up import make_plan
from scheduling.actions.due_dates import refresh_all
from scheduling.actions.inspections import Look
from scheduling.actions.rounds import begin_round, finish_round, look_in_round
from scheduling.models import CatchUpPlan, Inspection, Round
from tests import factories as make
from tests.db.scheduling.yard import Yard, yard
from tests.faults.test_two_at_a_desk import at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(300)]
ROUNDS = 20


@pytest.fixture
def where() -> Yard:
    return yard()


def test_of_two_who_begin_a_round_both_have_the_same(where: Yard) -> None:
    people = [make.person("inspector", at=where.site) for _ in range(2)]
    for _ in range(ROUNDS):

        def begin(who: int) -> int:
            now = timezone.now()
            made = begin_round(machine=where.machine, person=people[who], today=now.date(), at=now)
            return int(made.pk)

        first, second = at_once(lambda: begin(0), lambda: begin(1))
        assert first == second
        finish_round(round_=Round.objects.get(pk=first), person=where.planner, at=timezone.now())
    assert Round.objects.count() == ROUNDS


def test_a_look_sent_twice_at_once_is_recorded_once(where: Yard) -> None:
    now = timezone.now()
    held = begin_round(machine=where.machine, person=where.planner, today=now.date(), at=now)
    for number in range(ROUNDS):

        def send(number: int = number) -> int:
            told = look_in_round(
                round_=held,
                assembly=where.hose,
                look=Look(now.date(), client_id=f"look-number-{number}"),
                person=where.planner,
                today=now.date(),
                at=timezone.now(),
            )
            return int(told.pk)

        first, second = at_once(send, send)
        assert first == second
    assert Inspection.objects.count() == ROUNDS


def test_two_empty_places_told_at_once_are_both_kept(where: Yard) -> None:
    now, who = timezone.now(), where.planner
    held = begin_round(
        machine=where.machine, purpose="register", person=who, today=now.date(), at=now
    )
    for number in range(ROUNDS):
        pair = [make.position(on=where.machine) for _ in range(2)]

        def tell(which: int, pair: list[Position] = pair) -> bool:
            tell_empty(round_=held, position=pair[which], person=who, at=timezone.now())
            return True

        assert at_once(lambda: tell(0), lambda: tell(1)) == [True, True]
        held.refresh_from_db()
        assert len(held.told_empty) == 2 * (number + 1)


def test_of_two_who_plan_a_catch_up_exactly_one_does(where: Yard) -> None:
    make.life_rule(site=where.site)
    old = dt.date(2014, 1, 1)
    type(where.hose).objects.update(built_earliest_on=old, built_latest_on=old)
    refresh_all()
    for _ in range(ROUNDS):

        def plan() -> str:
            now = timezone.now()
            make_plan(
                site=where.site,
                from_on=now.date(),
                weeks=2,
                a_week=1,
                person=where.planner,
                today=now.date(),
                at=now,
            )
            return "planned"

        assert sorted(at_once(plan, plan)) == ["plan_open", "planned"]
        CatchUpPlan.objects.filter(ended_at=None).update(ended_at=timezone.now())
    assert CatchUpPlan.objects.count() == ROUNDS
