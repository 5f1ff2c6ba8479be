"""The manager's first page: cost, rate and plan of 90 days, kept by a sweep, the report's own."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Machine, Person, Site
from scheduling.actions.loss_tallies import keep_losses, last_days
from scheduling.calc.report import Figure
from scheduling.models import LossTally
from scheduling.queries.home_losses import HomeLosses, home_losses
from scheduling.queries.losses import LossScope
from scheduling.reports.figures import figures
from scheduling.reports.gathering import gathered
from scheduling.reports.home import home_figures, home_warning
from scheduling.tasks import sweep_losses
from tests import factories as make
from tests.db.scheduling.test_report import failed, manager, stood

pytestmark = pytest.mark.django_db
NOW = make.NOW
LATELY = dt.date(2026, 3, 2)


def lost(site: Site, failures: int = 3) -> Machine:
    machine = make.machine(at=site)
    place = make.position(on=machine)
    for n in range(failures):
        failed(place, LATELY + dt.timedelta(n), cost_minor=20_000, oil_lost_l=Decimal("1.5"))
    failed(place, LATELY - dt.timedelta(100))
    stood(machine, "2026-03-02T08:00", "2026-03-02T12:30")
    stood(machine, "2026-03-03T08:00", "2026-03-03T09:00", planned=True)
    return machine


def found(person: Person) -> HomeLosses:
    told = home_losses(person)
    assert told is not None
    return told


def test_it_says_what_the_report_of_those_days_says() -> None:
    site = make.site()
    lost(site)
    sweep_losses(NOW)
    person = manager(site)
    home = {one.key: one for one in home_figures(found(person), lists={})}
    whole = gathered(LossScope(person), last_days("UTC", NOW), today=NOW.date(), now=NOW)
    report = {one.key: one for one in figures(whole, lists={})}
    for key in ("cost", "unplanned", "rate", "changed_share"):
        assert shown(home[key]) == shown(report[key])
    assert home["rate"].note == report["rate"].note
    assert (home["cost"].value, home["unplanned"].value) == (Decimal("1050.00"), Decimal("4.5"))


def shown(one: Figure) -> tuple[Any, ...]:
    return one.value, one.unit, one.low, one.high


def test_sites_are_added_and_another_s_is_not_in_it() -> None:
    one, two, strange = make.site(), make.site(), make.site()
    for site in (one, two, strange):
        lost(site)
    keep_losses(at=NOW)
    told = found(manager(one, two))
    assert (told.sums["failures"], len(told.worst)) == (6, 2)
    assert {place.machine_id for place in told.worst} <= set(
        Machine.objects.filter(site__in=[one, two]).values_list("pk", flat=True)
    )


def test_a_row_is_worked_out_again_when_it_is_an_hour_old() -> None:
    site = make.site()
    lost(site)
    assert keep_losses(at=NOW) == 1
    assert keep_losses(at=NOW + dt.timedelta(minutes=50)) == 0
    lost(site)
    assert keep_losses(at=NOW + dt.timedelta(minutes=61)) == 1
    assert LossTally.objects.get().sums["failures"] == 6


def test_the_oldest_are_worked_out_first() -> None:
    sites = [make.site() for _ in range(3)]
    assert keep_losses(at=NOW, most=2) == 2
    assert keep_losses(at=NOW, most=2) == 1
    assert LossTally.objects.count() == len(sites)


def test_few_failures_and_missing_sites_are_said() -> None:
    site = make.site()
    lost(site, 2)
    keep_losses(at=NOW)
    person = manager(site, make.site())
    said = home_warning(found(person))
    assert "Only 2 failures in this period" in said
    assert "1 of your sites is not worked out yet" in said


def test_without_an_hour_or_a_failure_it_says_so() -> None:
    site = make.site()
    keep_losses(at=NOW)
    told = {one.key: one for one in home_figures(found(manager(site)), lists={})}
    assert told["rate"].why == "No machine hour is known in this period."
    assert told["changed_share"].why == "No hose came off a machine."


def test_the_manager_sees_it_first_with_links(client: Client) -> None:
    site = make.site()
    lost(site)
    client.force_login(manager(site))
    today = reverse("scheduling:today")
    assert "are still to come" in client.get(today).content.decode()
    keep_losses(at=NOW)
    page = client.get(today)
    text = page.content.decode()
    assert text.index("What is it costing") < text.index("What needs a hand")
    for one in page.context["loss_figures"]:
        assert client.get(one.link).status_code == 200
    assert "failed most" in text


def test_who_may_not_read_costs_does_not_see_it(client: Client) -> None:
    site = make.site()
    lost(site)
    keep_losses(at=NOW)
    client.force_login(make.person("fitter", at=site))
    assert "What is it costing" not in client.get(reverse("scheduling:today")).content.decode()


def test_it_costs_the_first_page_two_reads(client: Client) -> None:
    site = make.site()
    lost(site)
    keep_losses(at=NOW)
    person = manager(site)
    home_losses(person)
    with CaptureQueriesContext(connection) as asked:
        home_losses(person)
    assert len(asked) == 2
