"""A hose that failed: reported once, and followed until it is examined, scrapped or settled."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse

from assemblies.actions.installations import Moment, remove_assembly
from assemblies.models import Assembly
from fleet.actions.refusals import Refused
from scheduling.actions.inspections import deal_with_finding
from scheduling.calc.life.installations import Clock
from scheduling.models import Failure, Finding
from scheduling.queries.lifetimes import LifeScope, lifetimes
from tests import factories as make
from tests.db.scheduling.test_failures import NOW, TODAY, Desk, told

pytestmark = pytest.mark.django_db


@pytest.fixture
def hose() -> Assembly:
    fitted = dt.date(2025, 3, 9)
    return make.fitted(
        known_from_on=fitted, stay_from_earliest_on=fitted, stay_from_latest_on=fitted
    )


def taken_off(hose: Assembly, to: str = "bench") -> None:
    person = make.person("fitter", at=hose.site)
    when = Moment(TODAY, NOW)
    remove_assembly(assembly=hose, removal="failed", to=to, when=when, person=person, now=NOW)


def test_a_second_report_of_one_failure_is_told_who_was_first(hose: Assembly) -> None:
    first = make.person("fitter", at=hose.site, display_name="Ann Fell")
    told(hose, person=first)
    with pytest.raises(Refused, match="is reported already, by Ann Fell") as no:
        told(hose, client_id="two")
    assert no.value.code == "told_already"
    assert Failure.objects.count() == 1


def test_a_hose_that_was_put_right_may_fail_again_and_is_one_life(hose: Assembly) -> None:
    told(hose, mode="connection_leak")
    inspector = make.person("inspector", at=hose.site)
    deal_with_finding(finding=Finding.objects.get(), how="New seal.", person=inspector, at=NOW)
    told(hose, client_id="two")
    table = lifetimes(inspector, LifeScope(), Clock.DAYS, today=TODAY)
    assert Failure.objects.count() == 2
    assert [(row.age, row.ended) for row in table.rows] == [(365.0, "failed")]


def test_whoever_reports_is_shown_the_report_that_stands(hose: Assembly) -> None:
    failure = told(hose)
    desk = Desk(make.person("fitter", at=hose.site))
    shown = desk.get("hose_failure", hose.pk).content.decode()
    assert "Reported already" in shown
    assert reverse("scheduling:failure", args=[failure.pk]) in shown


@pytest.mark.parametrize(
    ("to", "words", "offers", "not_offered"),
    [
        ("", "On M-", "Take it off", "Scrap it"),
        ("bench", "On the bench since", "Scrap it", "Take it off"),
        ("store", "In store since", "Scrap it", "Take it off"),
        ("scrapped", "Scrapped since", "Record the examination", "Scrap it"),
    ],
)
def test_its_page_says_where_the_hose_is_now_and_what_to_do(
    hose: Assembly, to: str, words: str, offers: str, not_offered: str
) -> None:
    failure = told(hose)
    if to:
        taken_off(hose, to)
    desk = Desk(make.person("fitter", "inspector", at=hose.site))
    page = desk.get("failure", failure.pk).content.decode()
    now = page[page.index('id="now"') :]
    now = now[: now.index("</section>")]
    assert words in now
    assert offers in now
    assert not_offered not in now
    assert ("Settle it" in now) is (to != "scrapped")  # what is scrapped asks for nothing more


def test_a_hose_at_another_site_now_is_not_named_with_its_place(hose: Assembly) -> None:
    failure = told(hose)
    Failure.objects.filter(pk=failure.pk).update(site=make.site())
    desk = Desk(make.person("planner", at=Failure.objects.get().site))
    assert "At another site" in desk.get("failure", failure.pk).content.decode()


def test_an_examination_begins_as_one(hose: Assembly) -> None:
    failure = told(hose)
    desk = Desk(make.person("planner", at=hose.site))
    form: Any = desk.get("failure_complete", failure.pk, examined="1").context["form"]
    assert form["cause_stated"].value() == "examined"
    typed = {"cause": "crimp", "cause_stated": "examined", "fire": "none", "version": 1}
    desk.post("failure_complete", failure.pk, **typed)
    shown = desk.get("failure", failure.pk).content.decode()
    assert "Record the examination" not in shown
    assert Failure.objects.get().cause_stated == "examined"


def test_swapping_from_a_failure_offers_the_bench_first(hose: Assembly) -> None:
    stay = hose.stays.get()
    desk = Desk(make.person("fitter", at=hose.site))
    for name in ("swap", "take_off"):
        address = reverse(f"assemblies:{name}", args=[stay.position_id]) + "?why=failed"
        form: Any = desk.client.get(address).context["form"]
        assert (form["removal"].value(), form["to"].value()) == ("failed", "bench")
