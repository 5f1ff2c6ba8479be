"""What the first page shows of the dues is kept, and is what counting them would give."""

import datetime as dt
import random
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from assemblies.models import Assembly, Position
from fleet.models import Person
from scheduling.actions.due_dates import refresh_all, refresh_assemblies, refresh_machines
from scheduling.actions.tallies import put_tallies_together, recount_tallies
from scheduling.models import Due, DueTally, Finding
from scheduling.queries.tallies import due_counts, kept_cells, wrong_tallies
from scheduling.queries.today import today_facts
from scheduling.tasks import sweep_tallies
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
D = dt.date


def _built(year: int, **facts: Any) -> Assembly:
    return make.fitted(built_earliest_on=D(year, 1, 1), built_latest_on=D(year, 1, 1), **facts)


def _shake(hoses: list[Assembly], dice: random.Random) -> None:
    """One change of the kinds that move dues, and the run that follows it."""
    hose = dice.choice(hoses)
    place = Position.objects.filter(stays__assembly=hose, stays__is_open=True).first()
    deed = dice.randrange(4)
    if deed == 0:
        day = None if dice.random() < 0.3 else D(dice.randrange(2012, 2027), 5, 1)
        Assembly.objects.filter(pk=hose.pk).update(built_earliest_on=day, built_latest_on=day)
    elif deed == 1 and place:
        Position.objects.filter(pk=place.pk).update(consequence=dice.choice(["hurts", "stops"]))
    elif deed == 2:
        gone = None if hose.withdrawn_at else NOW
        Assembly.objects.filter(pk=hose.pk).update(withdrawn_at=gone)
    else:
        what = {"what": "leak", "verdict": "out_now", "found_on": TODAY}
        Finding.objects.create(assembly=hose, site_id=hose.site_id, **what)
    if place and dice.random() < 0.5:
        refresh_machines(machine_ids=[place.machine_id])
    elif dice.random() < 0.5:
        refresh_assemblies(assembly_ids=[hose.pk])
    else:
        refresh_all(chunk=3)


def test_what_is_kept_is_what_is_counted_after_any_changes() -> None:
    make.life_rule()
    hoses = [_built(2012 + n) for n in range(6)] + [make.stored() for _ in range(3)]
    refresh_all()
    dice = random.Random(20_260)
    for turn in range(60):
        _shake(hoses, dice)
        if turn % 7 == 0:
            put_tallies_together(most=2)
        assert list(wrong_tallies()) == [], turn


def test_counts_over_soon_and_undated_as_of_the_day() -> None:
    make.life_rule()
    person = make.person("planner")
    _built(2012)
    _built(2020, on=make.position(consequence="hurts"))  # due on 1 January 2026
    refresh_all()
    counts = due_counts(person, today=D(2026, 1, 1))
    assert (counts.over, counts.over_hurts, counts.soon) == (1, 0, 1)
    counts = due_counts(person, today=D(2026, 1, 2))
    assert (counts.over, counts.over_hurts, counts.soon) == (2, 1, 0)
    assert due_counts(person, today=D(2010, 1, 1)).over == 0


def test_says_what_the_lists_behind_it_hold() -> None:
    from scheduling.queries.due_list import DueSought, due_lines

    make.life_rule()
    for year in range(2012, 2024):
        _built(year, on=make.position(consequence=["hurts", "stops"][year % 2]))
    hose = _built(2023)
    make.stored()
    what = {"what": "leak", "verdict": "out_now", "found_on": TODAY}
    Finding.objects.create(assembly=hose, site=hose.site, **what)
    refresh_all()
    person = make.person("planner")
    facts = today_facts(person, today=TODAY)
    asked = {"over": "over", "soon": "soon", "undated": "undated", "out_now": "out"}
    for name, standing in asked.items():
        lines = list(due_lines(person, DueSought(standing=standing), today=TODAY))
        assert getattr(facts, name).number == len(lines), name
    hurts = DueSought(standing="over", consequence="hurts")
    assert facts.over_hurts.number == len(list(due_lines(person, hurts, today=TODAY)))
    assert facts.out_now.number == 1


def test_counts_fitted_hoses_without_a_tag() -> None:
    from assemblies.actions.tags import bind_tag

    person, hose = make.person("planner"), make.fitted()
    make.stored()
    refresh_all()
    assert due_counts(person, today=TODAY).untagged == 1
    bind_tag(assembly=hose, typed="", person=None, at=timezone.now())
    assert due_counts(person, today=TODAY).untagged == 0


def test_shows_nothing_of_another_site() -> None:
    hose = make.fitted()
    refresh_all()
    here, elsewhere = make.person("planner", at=hose.site), make.person("planner", at=make.site())
    assert due_counts(here, today=TODAY).untagged == 1
    assert due_counts(elsewhere, today=TODAY).untagged == 0


def test_many_rows_of_a_site_become_one_with_the_same_sum() -> None:
    hose = make.fitted()
    for year in range(2000, 2020):
        day = D(year, 1, 1)
        Assembly.objects.filter(pk=hose.pk).update(made_earliest_on=day, made_latest_on=day)
        make.life_rule(made_months=200 - (year - 2000))
        refresh_all()
    before = kept_cells()
    assert DueTally.objects.count() > 16
    sweep_tallies(NOW)
    assert DueTally.objects.count() == 1
    assert [c.tolist() for c in kept_cells().values()] == [c.tolist() for c in before.values()]


def test_a_wrong_count_is_told_of_and_mended(capsys: Any) -> None:
    hose = make.fitted()
    refresh_all()
    DueTally.objects.all().delete()
    with pytest.raises(CommandError, match=f"counts kept of {hose.site.code} are not"):
        call_command("refresh_dues", "--check")
    with pytest.raises(CommandError):
        call_command("verify")
    assert f"the counts kept of {hose.site.code}" in capsys.readouterr().out
    assert recount_tallies() == (hose.site,)
    call_command("refresh_dues", "--check")
    assert recount_tallies() == ()


def test_a_count_of_dues_that_are_gone_is_mended() -> None:
    hose = make.fitted()
    refresh_all()
    Due.objects.all().delete()
    assert recount_tallies() == (hose.site,)
    assert not DueTally.objects.exists()


def test_the_page_of_the_day_asks_as_often_for_many_hoses() -> None:
    person = make.person("planner")
    asked = []
    for _ in range(2):
        for year in range(2000, 2006):
            _built(year)
        refresh_all()
        looks = Person.objects.get(pk=person.pk)
        with CaptureQueriesContext(connection) as queries:
            today_facts(looks, today=TODAY)
        asked.append(len(queries))
    assert asked[0] == asked[1]
