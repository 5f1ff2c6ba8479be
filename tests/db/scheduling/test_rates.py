"""Rates of groups: failures over the hours at risk, each group with its own and no other's."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.models import Assembly, Position, Stay
from fleet.models import Person, Site
from scheduling.models import Failure
from scheduling.queries.group_rates import By, GroupRates, group_rates, words_of
from scheduling.queries.losses import LossScope, Period
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.trace_register import built, reel

pytestmark = pytest.mark.django_db
FIRST, LAST = dt.date(2026, 1, 1), dt.date(2026, 2, 19)  # 50 days, at 8 h a day 400 h
NOW = make.NOW


def period() -> Period:
    begins = dt.datetime.combine(FIRST, dt.time(0), dt.UTC)
    ends = dt.datetime.combine(LAST + dt.timedelta(1), dt.time(0), dt.UTC)
    return Period(FIRST, LAST, begins, ends)


def fitted(place: Position, *, since: dt.date = dt.date(2025, 1, 1), **facts: Any) -> Assembly:
    plain: dict[str, Any] = {"known_from_on": since, "stay_from_earliest_on": since}
    return make.fitted(on=place, **{**plain, "stay_from_latest_on": since, **facts})


def taken_off(hose: Assembly, on: dt.date, removal: str = "failed") -> None:
    Stay.objects.filter(assembly=hose).update(is_open=False, to_on=on, removal=removal)


def failed(hose: Assembly, on: dt.date) -> Failure:
    stay = hose.stays.get()
    assert stay.position is not None
    return Failure.objects.create(
        assembly=hose,
        stay=stay,
        machine=stay.position.machine,
        site=hose.site,
        failed_at=dt.datetime.combine(on, dt.time(10), dt.UTC),
        failed_on=on,
        mode="burst",
    )


def told(site: Site, by: By, person: Person | None = None) -> GroupRates:
    person = person or make.person("manager", at=site)
    return group_rates(LossScope(person, site_id=site.pk), period(), by)


def figures(found: GroupRates) -> dict[str, tuple[int, float]]:
    words = words_of(found.by, [one.key for one in found.groups])
    return {words[one.key]: (one.events, one.hours) for one in found.groups}


def test_a_class_has_the_hours_of_its_machines_and_their_failures() -> None:
    site = make.site()
    kinds = [make.machine_class(name="Loaders"), make.machine_class(name="Dumpers")]
    one, two, _ = (make.machine(at=site, machine_class=kind) for kind in (*kinds, kinds[1]))
    failed(fitted(make.position(on=one)), FIRST)
    failed(fitted(make.position(on=two)), LAST)
    assert figures(told(site, By.CLASS)) == {"Loaders": (1, 400.0), "Dumpers": (1, 800.0)}


def test_a_site_s_rate_is_its_own() -> None:
    here, there = make.site(name="Here"), make.site(name="There")
    failed(fitted(make.position(on=make.machine(at=here))), FIRST)
    make.machine(at=there)
    assert figures(told(here, By.SITE)) == {"Here": (1, 400.0)}
    everywhere = make.person("manager")
    both = group_rates(LossScope(everywhere), period(), By.SITE)
    assert figures(both) == {"Here": (1, 400.0), "There": (0, 400.0)}


def test_a_hose_is_at_risk_on_the_days_it_was_on_the_machine_and_known() -> None:
    site = make.site()
    machine = make.machine(at=site)
    changed = fitted(make.position(on=machine), hose_type="2SN")
    taken_off(changed, dt.date(2026, 1, 11), "due")  # ten days
    fitted(make.position(on=machine), hose_type="4SP", since=dt.date(2026, 2, 10))  # ten days
    late = dt.date(2026, 2, 15)
    fitted(make.position(on=machine), hose_type="R13", known_from_on=late)  # five days known
    fitted(make.position(on=machine), hose_type="R15", stay_from_earliest_on=None,
           stay_from_latest_on=None)  # fmt: skip
    hours = {name: found[1] for name, found in figures(told(site, By.HOSE_TYPE)).items()}
    assert hours == {"2SN": 80.0, "4SP": 80.0, "R13": 40.0, "R15": 400.0}


def test_hours_follow_the_readings_and_the_counter_that_ages_the_position() -> None:
    from tests.db.scheduling.test_report import read

    machine = make.machine()
    read(machine, FIRST, 1000)
    read(machine, FIRST + dt.timedelta(10), 1030)
    fitted(make.position(on=machine, circuit="brakes"))
    fitted(make.position(on=machine, circuit="attachment", counts="attachment"))
    found = figures(told(machine.site, By.CIRCUIT))
    assert found["brakes"][1] == pytest.approx(150.0)
    assert found["attachment"] == (0, 0.0)  # no such counter was ever set up


def test_a_recipe_counts_a_hose_once_though_both_ends_have_it() -> None:
    site = make.site()
    place = make.position(on=make.machine(at=site))
    one, two = (shop.approved_recipe(make.hose(), shop.end()) for _ in range(2))
    hoses = [
        built(site, ends={"A": {"recipe": one}, "B": {"recipe": one}}),
        built(site, ends={"A": {"recipe": one}, "B": {"recipe": two}}),
        built(site, ends={"A": {}, "B": {"recipe": two}}),
    ]
    for hose in hoses:
        put_on(hose, make.position(on=place.machine))
        failed(hose, FIRST)
    failed(fitted(place), FIRST)
    found = told(site, By.RECIPE)
    assert {one.key: (one.events, one.hours) for one in found.groups} == {
        str(one.header_id): (2, 800.0),
        str(two.header_id): (2, 800.0),
    }
    assert (found.unnamed_events, found.unnamed_hours) == (1, 400.0)


def put_on(hose: Assembly, place: Position) -> None:
    Assembly.objects.filter(pk=hose.pk).update(known_from_on=dt.date(2025, 1, 1))
    Stay.objects.filter(assembly=hose).update(place="position", position=place)


def test_a_batch_is_its_reel() -> None:
    site = make.site()
    bad = reel(site, "R-13")
    hose = built(site, reel=bad)
    put_on(hose, make.position(on=make.machine(at=site)))
    failed(hose, LAST)
    found = figures(told(site, By.REEL))
    assert found == {f"R-13, {bad.hose}": (1, 400.0)}


def test_a_failure_before_the_hose_was_known_is_left_out_and_said() -> None:
    site = make.site()
    hose = fitted(
        make.position(on=make.machine(at=site)), hose_type="2SN", known_from_on=dt.date(2026, 2, 1)
    )
    failed(hose, FIRST)
    found = told(site, By.HOSE_TYPE)
    assert (found.too_early, figures(found)["2SN"][0]) == (1, 0)


def test_another_site_s_groups_are_not_in_it() -> None:
    hose = fitted(make.position(), hose_type="2SN")
    failed(hose, FIRST)
    stranger = make.person("manager", at=make.site())
    for by in By:
        assert group_rates(LossScope(stranger), period(), by).groups == ()


@pytest.mark.parametrize("by", list(By))
def test_the_queries_do_not_grow_with_groups(by: By, client: Client) -> None:
    site = make.site()
    client.force_login(make.person("manager", at=site))
    asked = f"{reverse('scheduling:rates')}?from_on={FIRST}&to_on={LAST}&by={by.value}"
    counts = []
    for _ in range(2):
        for n in range(3):
            hose = built(site, reel=reel(site, f"R-{Stay.objects.count()}-{n}"))
            put_on(hose, make.position(on=make.machine(at=site)))
            failed(hose, LAST)
        client.get(asked)
        with CaptureQueriesContext(connection) as read:
            client.get(asked)
        counts.append(len(read))
    assert counts[0] == counts[1]


def test_the_page_says_the_rates_and_warns(client: Client) -> None:
    site = make.site()
    machines = [make.machine(at=site) for _ in range(4)]
    for n, machine in enumerate(machines):
        for _ in range(8 if n == 0 else 1):
            failed(fitted(make.position(on=machine)), FIRST)
    client.force_login(make.person("manager", at=site))
    page = client.get(f"{reverse('scheduling:rates')}?from_on={FIRST}&to_on={LAST}")
    shown = page.content.decode()
    assert "More than the others, beyond chance" in shown
    assert "4 groups are each set against the others" in shown
    assert "3 of them had fewer than 5 failures" in shown
    assert "Failure rates side by side" in shown
    assert f"machine_class={machines[0].machine_class_id}" in page.context["lines"][0]["link"]
    assert client.get(page.context["lines"][0]["link"]).status_code == 200


def test_more_groups_than_shown_are_said(client: Client) -> None:
    site = make.site()
    for _ in range(43):
        make.machine(at=site)
    client.force_login(make.person("manager", at=site))
    assert "And 3 more groups" in client.get(reverse("scheduling:rates")).content.decode()


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("by", "colour", "Select a valid choice"),
        ("from_on", "soon", "is not a day"),
        ("to_on", "2019-01-01", "turn them round"),
        ("site", "999999", "Select a valid choice"),
        ("machine_class", "x", "Select a valid choice"),
    ],
)
def test_a_box_refuses_in_words(field: str, typed: str, sentence: str, client: Client) -> None:
    client.force_login(make.person("manager", at=make.site()))
    page = client.get(reverse("scheduling:rates"), {field: typed})
    assert sentence in " ".join(page.context["form"].errors[field])
    assert "told" not in page.context


def test_every_box_has_a_case() -> None:
    from scheduling.forms.report import RatesForm

    form = RatesForm({}, person=make.person("manager", at=make.site()), today=make.TODAY)
    marker = next(m for m in test_a_box_refuses_in_words.pytestmark if m.name == "parametrize")  # type: ignore[attr-defined]  # pytest keeps its marks there
    assert {case[0] for case in marker.args[1]} == set(form.fields)


def test_only_who_may_read_costs_sees_it(client: Client) -> None:
    address, site = reverse("scheduling:rates"), make.site()
    assert client.get(address).status_code == 302
    client.force_login(make.person("fitter", at=site))
    assert client.get(address).status_code == 403
    for role in ("manager", "safety officer", "planner"):
        client.force_login(make.person(role, at=site))
        assert client.get(address).status_code == 200


def test_a_period_that_runs_into_days_to_come_ends_today() -> None:
    from scheduling.forms.report import ReportScopeForm

    person = make.person("manager", at=make.site())
    asked = {"from_on": "2026-03-01", "to_on": "2026-03-31"}
    form = ReportScopeForm(asked, person=person, today=make.TODAY)
    assert form.is_valid()
    assert form.period("UTC").to_on == make.TODAY
    assert Decimal(form.period("UTC").days) == 9


def test_hose_hours_are_many_so_the_rate_is_in_a_hundred_thousand(client: Client) -> None:
    site = make.site()
    failed(fitted(make.position(on=make.machine(at=site)), hose_type="2SN"), FIRST)
    client.force_login(make.person("manager", at=site))
    asked = {"from_on": str(FIRST), "to_on": str(LAST), "by": "hose_type"}
    page = client.get(reverse("scheduling:rates"), asked)
    (line,) = page.context["told"].lines
    assert line.rate.rate == pytest.approx(250.0)  # 1 in 400 hose-hours
    assert "Failures in 100\u202f000 hose-hours" in page.content.decode()
