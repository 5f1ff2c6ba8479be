import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.actions.refusals import Refused
from fleet.models import TrailEntry
from fleet.permissions import NotAllowed
from scheduling.actions.catch_up import end_plan, make_plan
from scheduling.actions.due_dates import refresh_all
from scheduling.actions.inspections import Found, Look, record_inspection
from scheduling.actions.tallies import recount_tallies
from scheduling.models import CatchUpLine, CatchUpPlan, Due
from scheduling.queries.catch_up import hoses_to_catch_up, lines_to_do, plan_page
from scheduling.queries.today import today_facts
from tests import factories as make
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY


@pytest.fixture
def where() -> Yard:
    """A hose six years overdue, one of unknown age that hurts someone, one in date."""
    found = yard()
    make.life_rule(site=found.site)
    found.hose.built_earliest_on = found.hose.built_latest_on = dt.date(2014, 1, 1)
    found.hose.save()
    other = make.machine(at=found.site)
    make.fitted(on=make.position(on=other, consequence="hurts"), owner_mark="UNKNOWN")
    fresh = dt.date(2026, 1, 1)
    make.fitted(on=make.position(on=found.machine), built_earliest_on=fresh, built_latest_on=fresh)
    refresh_all()
    recount_tallies()
    return found


def planned(where: Yard, **facts: Any) -> CatchUpPlan:
    given = {"from_on": TODAY, "weeks": 2, "a_week": 1, **facts}
    return make_plan(site=where.site, person=where.planner, today=TODAY, at=NOW, **given)


def test_takes_what_is_overdue_or_of_unknown_age_and_nothing_else(where: Yard) -> None:
    found = {hose.hose_id: hose.overdue_days for hose in hoses_to_catch_up(where.site, TODAY)}
    assert found[where.hose.pk] == (TODAY - dt.date(2020, 1, 1)).days
    assert sorted(found.values(), key=str) == [found[where.hose.pk], None]


def test_puts_what_hurts_someone_first_and_changes_no_date(where: Yard) -> None:
    before = list(Due.objects.order_by("pk").values())
    plan = planned(where)
    lines = list(plan.lines.order_by("rank"))
    assert lines[0].assembly.owner_mark == "UNKNOWN"
    assert lines[0].week_on == TODAY
    assert "a failure hurts someone" in lines[0].why
    assert "its age is not known" in lines[0].why
    assert list(Due.objects.order_by("pk").values()) == before
    assert TrailEntry.objects.filter(deed="planned a catch-up").count() == 1


def test_a_finding_that_says_take_out_now_comes_first_of_its_kind(where: Yard) -> None:
    worse = make.fitted(on=make.position(on=where.machine, consequence="hurts"), owner_mark="WORSE")
    record_inspection(
        assembly=worse,
        look=Look(TODAY),
        found=[Found("twisted", "out_now")],
        person=where.planner,
        today=TODAY,
        at=NOW,
    )
    refresh_all()
    first = planned(where, weeks=9).lines.order_by("rank")[0]
    assert first.assembly == worse
    assert "take out now, do not wait" in first.why


def test_spreads_evenly_where_no_number_a_week_is_said(where: Yard) -> None:
    assert planned(where, weeks=2, a_week=None).a_week == 1


def test_today_shows_this_week_beside_the_true_overdue_figure(where: Yard) -> None:
    plan = planned(where)
    facts = today_facts(where.planner, today=TODAY)
    assert (facts.catch_up.number, facts.catch_up_plan_id) == (1, plan.pk)
    assert facts.over.number == Due.objects.filter(due_on__lt=TODAY).count() > 0
    later = today_facts(where.planner, today=TODAY + dt.timedelta(days=8))
    assert later.catch_up.number == 2  # the first week's hose is not done


def test_a_line_is_done_once_its_hose_is_off_the_machine(where: Yard) -> None:
    plan = planned(where)
    where.hose.stays.update(is_open=False, to_on=TODAY)
    page = plan_page(plan, today=TODAY, week_on=None)
    assert (page.hoses, page.done, page.behind) == (2, 1, 0)
    far = TODAY + dt.timedelta(days=30)
    assert plan_page(plan, today=far, week_on=None).behind == 1
    assert lines_to_do(where.planner, far).count() == 1


def test_a_looked_at_hose_of_unknown_age_is_not_done_by_that(where: Yard) -> None:
    plan = planned(where)
    hose = CatchUpLine.objects.get(plan=plan, rank=0).assembly
    record_inspection(
        assembly=hose, look=Look(TODAY), found=[], person=where.planner, today=TODAY, at=NOW
    )
    assert plan_page(plan, today=TODAY, week_on=None).done == 0


@pytest.mark.parametrize(
    ("facts", "code", "sentence"),
    [
        ({"weeks": 0}, "weeks_wrong", "1 to 260 weeks"),
        ({"weeks": 261}, "weeks_wrong", "1 to 260 weeks"),
        ({"a_week": 0}, "a_week_wrong", "1 to 500 hoses"),
        ({"a_week": 501}, "a_week_wrong", "1 to 500 hoses"),
        ({"from_on": TODAY - dt.timedelta(days=1)}, "from_past", "is past"),
        ({"weeks": 1, "a_week": 1}, "does_not_fit", "it takes 2 weeks, or 2 a week"),
    ],
)
def test_refuses_a_plan_that_cannot_be(
    where: Yard, facts: dict[str, object], code: str, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        planned(where, **facts)
    assert refused.value.code == code
    assert not CatchUpPlan.objects.exists()


def test_refuses_a_second_plan_until_the_first_is_ended(where: Yard) -> None:
    plan = planned(where)
    with pytest.raises(Refused, match="end it before") as refused:
        planned(where)
    assert refused.value.code == "plan_open"
    end_plan(plan=plan, person=where.planner, at=NOW)
    end_plan(plan=plan, person=where.planner, at=NOW)
    assert planned(where).pk != plan.pk


def test_refuses_a_site_that_is_behind_with_nothing() -> None:
    site = make.site()
    person = make.person("planner", at=site)
    with pytest.raises(Refused, match="Nothing at"):
        make_plan(site=site, from_on=TODAY, weeks=1, a_week=1, person=person, today=TODAY, at=NOW)


def test_needs_the_right_at_the_site(where: Yard) -> None:
    plan = planned(where)
    for stranger in (make.person("fitter", at=where.site), make.person("planner", at=make.site())):
        with pytest.raises(NotAllowed):
            end_plan(plan=plan, person=stranger, at=NOW)


def test_the_page_shows_true_ages_beside_the_weeks(client: Client, where: Yard) -> None:
    plan = planned(where)
    client.force_login(where.planner)
    page = client.get(reverse("scheduling:catch_up", args=[plan.pk]), {"week": "2026-03-16"})
    text = page.content.decode()
    assert "built" in text
    assert where.hose.owner_mark in text
    assert "Truly overdue at the site" in text
    whole = client.get(reverse("scheduling:catch_up", args=[plan.pk]), {"week": "all"})
    assert "UNKNOWN" in whole.content.decode()
    answer = client.get(reverse("scheduling:catch_up_file", args=[plan.pk]))
    file = answer.content.decode("utf-8-sig")
    assert file.splitlines()[0].startswith("week of,rank,hose")
    assert len(file.splitlines()) == 3


def test_the_page_asks_as_much_for_many_hoses_as_for_few(
    client: Client, where: Yard, django_assert_max_num_queries: object
) -> None:
    for _ in range(12):
        make.fitted(on=make.position(on=where.machine))
    refresh_all()
    plan = planned(where, weeks=2, a_week=20)
    client.force_login(where.planner)
    with django_assert_max_num_queries(16):  # type: ignore[operator]  # a fixture
        client.get(reverse("scheduling:catch_up", args=[plan.pk]))


def test_a_hose_to_be_taken_out_today_is_not_done(where: Yard) -> None:
    fresh = dt.date(2026, 2, 1)
    grave = make.fitted(
        on=make.position(on=where.machine), built_earliest_on=fresh, built_latest_on=fresh
    )
    found = [Found("twisted", "out_now")]
    who = where.planner
    record_inspection(
        assembly=grave, look=Look(TODAY), found=found, person=who, today=TODAY, at=NOW
    )
    plan = planned(where, weeks=9)
    assert plan.lines.filter(assembly=grave).exists()
    assert plan_page(plan, today=TODAY, week_on=None).done == 0
