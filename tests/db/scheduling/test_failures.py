"""A failure is reported in a minute, completed later, and its machine's time down noted once."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.models import Assembly
from fleet.actions.downtime import machine_back, machine_down
from fleet.actions.refusals import Refused
from fleet.models import Downtime, Machine, Person, TrailEntry, Usage
from fleet.permissions import NotAllowed
from scheduling.actions.failures import Report, complete_failure, report_failure
from scheduling.models import Due, Failure, Finding
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def hose() -> Assembly:
    fitted = dt.date(2025, 3, 9)
    return make.fitted(stay_from_earliest_on=fitted, stay_from_latest_on=fitted)


def told(
    hose: Assembly, *, client_id: str = "one", person: Person | None = None, **facts: Any
) -> Failure:
    report = Report(**{"mode": "burst", "failed_at": NOW - HOUR, "down_since": NOW - HOUR, **facts})
    person = person or make.person("fitter", at=hose.site)
    return report_failure(assembly=hose, report=report, client_id=client_id, person=person, at=NOW)


def test_a_report_notes_the_place_the_hours_and_the_machine_down(hose: Assembly) -> None:
    stay = hose.stays.get()
    assert stay.position is not None
    machine: Machine = stay.position.machine
    Usage.objects.filter(machine=machine).update(machine_h=Decimal("1234.5"))
    Machine.objects.filter(pk=machine.pk).update(down_cost_per_hour_minor=18_000)
    failure = told(hose, note="sprayed the cab")
    assert (failure.stay, failure.machine_h, failure.failed_on) == (stay, Decimal("1234.5"), TODAY)
    down = Downtime.objects.get()
    assert (down.machine, down.to_at, down.planned, down.cost_per_hour_minor) == (
        machine,
        None,
        False,
        18_000,
    )
    assert failure.downtime == down
    assert TrailEntry.objects.filter(deed="reported a failure").count() == 1


def test_a_hose_that_failed_is_to_come_out(hose: Assembly) -> None:
    told(hose)
    finding = Finding.objects.get()
    assert (finding.verdict, finding.what) == ("out_now", "failed: burst")
    assert Due.objects.get(assembly=hose).replace_on == TODAY


def test_a_machine_that_still_runs_is_not_noted_down(hose: Assembly) -> None:
    assert told(hose, down_since=None).downtime is None
    assert not Downtime.objects.exists()


def test_a_report_sent_twice_is_one(hose: Assembly) -> None:
    person = make.person("fitter", at=hose.site)
    first = told(hose, person=person)
    assert told(hose, person=person) == first
    assert Failure.objects.count() == Downtime.objects.count() == Finding.objects.count() == 1


def test_a_second_failure_of_a_machine_that_is_down_shares_its_time_down(hose: Assembly) -> None:
    stay = hose.stays.get()
    assert stay.position is not None
    other = make.fitted(on=make.position(on=stay.position.machine))
    told(hose)
    assert told(other, client_id="two").downtime == Downtime.objects.get()


@pytest.mark.parametrize(
    ("facts", "code", "sentence"),
    [
        ({"mode": "exploded"}, "mode_unknown", "Say what was seen"),
        ({"failed_at": NOW + HOUR}, "failed_in_the_future", "a time to come"),
        (
            {"failed_at": NOW - dt.timedelta(500)},
            "failed_before_fitting",
            "was fitted on 2025-03-09",
        ),
        ({"down_since": NOW + HOUR}, "down_in_the_future", "a time to come"),
        ({"down_since": NOW - dt.timedelta(400)}, "down_too_long_ago", "more than a year ago"),
    ],
)
def test_refuses_what_can_t_be(
    hose: Assembly, facts: dict[str, Any], code: str, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        told(hose, **facts)
    assert refused.value.code == code
    assert not Failure.objects.exists()


def test_refuses_a_hose_that_is_on_no_machine() -> None:
    with pytest.raises(Refused, match="on no machine"):
        told(make.stored())


def test_refuses_one_report_for_two_hoses(hose: Assembly) -> None:
    person = make.person("fitter", at=hose.site)
    told(hose, person=person)
    with pytest.raises(Refused, match="another hose"):
        told(make.fitted(on=make.position(on=make.machine(at=hose.site))), person=person)


def test_a_storeman_may_not_report(hose: Assembly) -> None:
    with pytest.raises(NotAllowed):
        told(hose, person=make.person("storeman", at=hose.site))


FACTS: dict[str, Any] = {
    "cause": "abrasion",
    "cause_stated": "examined",
    "oil_lost_l": Decimal(40),
    "fire": "near_miss",
}


def completed(failure: Failure, version: int = 1, **facts: Any) -> Failure:
    person = make.person("planner", at=failure.site)
    return complete_failure(
        failure=failure, facts={**FACTS, **facts}, version=version, person=person, at=NOW
    )


def test_completing_keeps_what_was_said_before_in_the_trail(hose: Assembly) -> None:
    failure = completed(told(hose), cost_minor=45_000, claim_on="Harrow Hose", claim="one hose")
    assert (failure.cause, failure.oil_lost_l, failure.cost_minor) == ("abrasion", 40, 45_000)
    entry = TrailEntry.objects.get(deed="completed a failure")
    assert (entry.before["cause"], entry.after["cause"]) == ("unknown", "abrasion")


@pytest.mark.parametrize(
    ("facts", "code", "sentence"),
    [
        ({"cause": "gremlins"}, "cause_unknown", "Say why it failed"),
        ({"fire": "maybe"}, "fire_unknown", "Say if oil burned"),
        ({"oil_lost_l": Decimal(-1)}, "oil_below_zero", "below nothing"),
        ({"cost_minor": -1}, "cost_below_zero", "below nothing"),
        ({"claim": "one hose"}, "claim_without_whom", "on whom"),
        ({"version": 2}, "changed_meanwhile", "changed this report meanwhile"),
    ],
)
def test_refuses_to_complete_with(
    hose: Assembly, facts: dict[str, Any], code: str, sentence: str
) -> None:
    with pytest.raises(Refused, match=sentence) as refused:
        completed(told(hose), **facts)
    assert refused.value.code == code


def test_a_machine_that_runs_again_closes_its_time_down(hose: Assembly) -> None:
    down = told(hose).downtime
    assert down is not None
    person = make.person("fitter", at=hose.site)
    back = machine_back(downtime=down, to_at=NOW, person=person, at=NOW)
    assert back.to_at == NOW
    with pytest.raises(Refused, match="running again since"):
        machine_back(downtime=down, to_at=NOW, person=person, at=NOW)


@pytest.mark.parametrize(
    ("to_at", "code"), [(NOW - 2 * HOUR, "up_before_down"), (NOW + HOUR, "up_in_the_future")]
)
def test_refuses_a_machine_that_runs_at_the_wrong_time(
    hose: Assembly, to_at: dt.datetime, code: str
) -> None:
    down = told(hose).downtime
    assert down is not None
    with pytest.raises(Refused) as refused:
        machine_back(downtime=down, to_at=to_at, person=make.person("fitter", at=hose.site), at=NOW)
    assert refused.value.code == code


def test_a_planned_stop_may_stand_beside_a_breakdown() -> None:
    machine = make.machine()
    person = make.person("planner", at=machine.site)
    facts: dict[str, Any] = {"machine": machine, "from_at": NOW - HOUR, "person": person, "at": NOW}
    machine_down(**facts, planned=False, reason="engine")
    machine_down(**facts, planned=True, reason="service")
    assert machine_down(**facts, planned=False, reason="engine again").reason == "engine"
    assert Downtime.objects.count() == 2
    with pytest.raises(Refused, match="Say why"):
        machine_down(**facts, planned=True, reason=" ")


class Desk:
    """Someone at the pages."""

    def __init__(self, person: Person) -> None:
        self.client = Client()
        self.client.force_login(person)

    def get(self, name: str, *args: Any, **query: str) -> Any:
        return self.client.get(reverse(f"scheduling:{name}", args=args), query)

    def post(self, name: str, *args: Any, **typed: Any) -> Any:
        return self.client.post(reverse(f"scheduling:{name}", args=args), typed)


def test_from_a_tag_to_a_report_to_its_page(hose: Assembly) -> None:
    desk = Desk(make.person("fitter", at=hose.site))
    Assembly.objects.filter(pk=hose.pk).update(owner_mark="BQ 17", owner_mark_key="bq 17")
    asked = desk.get("failure_report", q="BQ 17")
    assert asked.url == reverse("scheduling:hose_failure", args=[hose.pk])
    typed = {"mode": "pinhole", "down": "down", "on": "2026-03-09", "time": "", "client_id": "x1"}
    sent = desk.post("hose_failure", hose.pk, **{**typed, "on": dt.datetime.now(dt.UTC).date()})
    failure = Failure.objects.get()
    assert sent.url == reverse("scheduling:failure", args=[failure.pk])
    shown = desk.get("failure", failure.pk).content.decode()
    assert "Swap the hose" in shown
    assert "It runs again" in shown


def test_a_machine_s_hoses_are_offered_in_walk_round_order(hose: Assembly) -> None:
    stay = hose.stays.get()
    assert stay.position is not None
    desk = Desk(make.person("fitter", at=hose.site))
    shown = desk.get("machine_failure", stay.position.machine_id)
    assert reverse("scheduling:hose_failure", args=[hose.pk]) in shown.content.decode()
    named = desk.get("failure_report", q=stay.position.machine.fleet_number)
    assert named.url == reverse("scheduling:machine_failure", args=[stay.position.machine_id])
    assert "No one hose or machine" in desk.get("failure_report", q="nothing").content.decode()


def test_completing_and_running_again_by_their_pages(hose: Assembly) -> None:
    failure = told(hose)
    desk = Desk(make.person("planner", at=hose.site))
    typed = {
        "cause": "age",
        "cause_stated": "supposed",
        "fire": "none",
        "cost": "450,50",
        "version": 1,
    }
    assert desk.post("failure_complete", failure.pk, **typed).status_code == 302
    assert Failure.objects.get().cost_minor == 45_050
    assert "EUR 450.50" in desk.get("failure", failure.pk).content.decode()
    today = dt.datetime.now(dt.UTC).date()
    assert desk.post("machine_runs", failure.downtime_id, on=today).status_code == 302
    assert Downtime.objects.get().to_at is not None


NAMES = (
    "failure",
    "failure_complete",
    "hose_failure",
    "machine_failure",
    "machine_stands",
    "machine_runs",
)


@pytest.mark.parametrize("name", NAMES)
def test_another_site_s_person_finds_nothing(name: str, hose: Assembly) -> None:
    failure = told(hose)
    ids = {
        "hose_failure": hose.pk,
        "machine_failure": failure.machine_id,
        "machine_stands": failure.machine_id,
    }
    subject = ids.get(name, failure.downtime_id if name == "machine_runs" else failure.pk)
    assert Desk(make.person("planner", at=make.site())).get(name, subject).status_code == 404
    assert Client().get(reverse(f"scheduling:{name}", args=[subject])).status_code == 302
    own = Desk(make.person("storeman", at=hose.site)).get(name, subject)
    assert own.status_code == (200 if name == "failure" else 403)
