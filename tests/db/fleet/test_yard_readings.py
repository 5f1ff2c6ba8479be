"""A whole yard on one page: what is good is recorded, the rest stays with its sentence."""

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.actions.meters import add_meter
from fleet.actions.readings import accept_reading, record_reading
from fleet.models import HourMeter, HourReading, Machine, Person, Site
from tests import factories as make

pytestmark = pytest.mark.django_db
URL = reverse("fleet:yard")
MORNING = "2026-03-09 07:30"


@pytest.fixture
def site() -> Iterator[Site]:
    with time_machine.travel(make.NOW, tick=False):
        yield make.site(code="BQ", name="Blackmere Quarry")


@pytest.fixture
def machines(site: Site) -> list[Machine]:
    return [make.machine(at=site, fleet_number=f"EX-{n:03}") for n in range(1, 4)]


@pytest.fixture
def planner(client: Client, site: Site) -> Person:
    found = make.person("planner", at=site)
    client.force_login(found)
    return found


def meter(machine: Machine) -> int:
    return machine.meters.get(to_on=None, counts="engine").pk


def send(client: Client, *lines: tuple[Machine, str], read: str = MORNING, **more: Any) -> Any:
    boxes = {f"{meter(machine)}-hours": hours for machine, hours in lines}
    return client.post(URL, {"read": read, **boxes, **more})


def rows(answer: Any) -> dict[str, Any]:
    return {row.row.number: row for row in answer.context["rows"]}


def read_before(machine: Machine, hours: Any, days_ago: float) -> HourReading:
    return record_reading(
        machine=machine,
        counts="engine",
        reading_h=Decimal(str(hours)),
        read_at=make.NOW - dt.timedelta(days=days_ago),
        person=None,
        at=make.NOW,
    )


def test_shows_each_counter_with_its_last_reading_and_what_is_usual(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    read_before(machines[0], 1000, 10)
    add_meter(
        machine=machines[1], counts="hydraulics", rollover_h=None, person=planner, at=make.NOW
    )
    answer = client.get(URL)
    shown = [(row.row.number, row.row.counts) for row in answer.context["rows"]]
    assert shown == [
        ("EX-001", "engine"),
        ("EX-002", "engine"),
        ("EX-002", "hydraulics"),
        ("EX-003", "engine"),
    ]
    first = answer.context["rows"][0].row
    assert (first.last_h, first.usual_from, first.usual_to) == (1000, 1040, 1120)
    assert answer.context["form"]["read"].value() == "2026-03-09 08:00"


def test_records_all_that_is_good_and_says_how_many(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    answer = send(client, (machines[0], "1 000,5 h"), (machines[1], "200"))
    assert (answer.status_code, answer.headers["Location"]) == (302, URL)
    found = HourReading.objects.order_by("meter")
    assert [r.reading_h for r in found] == [Decimal("1000.5"), Decimal(200)]
    assert {r.read_at for r in found} == {dt.datetime(2026, 3, 9, 7, 30, tzinfo=dt.UTC)}
    assert (found[0].typed, found[0].recorded_by, found[0].source) == (
        "1 000,5 h",
        planner,
        "typed",
    )
    assert b"2 readings recorded." in client.get(URL).content


def test_what_is_refused_stays_with_its_sentence_and_the_rest_is_recorded(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    answer = send(client, (machines[0], "twelve"), (machines[1], "200"))
    shown = rows(answer)
    assert (shown["EX-001"].hours, shown["EX-001"].state) == ("twelve", "refused")
    assert "twelve" in shown["EX-001"].sentence
    assert (shown["EX-002"].hours, shown["EX-002"].state) == ("", "new")
    assert HourReading.objects.get().reading_h == 200
    assert b"1 reading recorded." in answer.content
    assert b'aria-invalid="true"' in answer.content


def test_what_is_doubtful_is_kept_and_stays_with_its_sentence(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    read_before(machines[0], 1000, 10)
    answer = send(client, (machines[0], "900"))
    row = rows(answer)["EX-001"]
    assert (row.hours, row.state) == ("900", "doubt")
    assert "doesn't run back" in row.sentence
    assert HourReading.objects.exclude(doubt="").get().reading_h == 900
    assert reverse("fleet:reading_decide", args=[row.reading_id]) in answer.content.decode()


def test_typing_over_a_doubtful_figure_corrects_it(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    read_before(machines[0], 1000, 10)
    doubted = rows(send(client, (machines[0], "100")))["EX-001"]
    corrects = {f"{meter(machines[0])}-corrects": doubted.corrects}
    assert send(client, (machines[0], "1010"), **corrects).status_code == 302
    wrong = HourReading.objects.get(reading_h=100)
    assert wrong.set_aside_reason == "typed again in the yard’s list"
    assert HourReading.objects.get(reading_h=1010).replaces == wrong


def test_a_doubtful_figure_sent_again_is_the_same_reading(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    read_before(machines[0], 1000, 10)
    doubted = rows(send(client, (machines[0], "100")))["EX-001"]
    corrects = {f"{meter(machines[0])}-corrects": doubted.corrects}
    for more in (corrects, {}):
        again = rows(send(client, (machines[0], "100"), **more))["EX-001"]
        assert (again.state, again.reading_id) == ("doubt", doubted.reading_id)
    assert HourReading.objects.filter(reading_h=100).count() == 1


@pytest.mark.parametrize("times", [2, 4])
def test_the_same_list_sent_again_is_recorded_once(
    client: Client, planner: Person, machines: list[Machine], times: int
) -> None:
    for _ in range(times):
        send(client, *((machine, "500") for machine in machines))
    assert HourReading.objects.count() == 3


def test_a_row_may_say_another_time(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    boxes = {
        f"{meter(machines[0])}-read": "2026-03-08",
        f"{meter(machines[1])}-read": "06:15",
        f"{meter(machines[2])}-read": "7 Mar 2026 18:00",
    }
    send(client, *((machine, "500") for machine in machines), **boxes)
    moments = [r.read_at.isoformat()[:16] for r in HourReading.objects.order_by("meter")]
    assert moments == ["2026-03-08T12:00", "2026-03-09T06:15", "2026-03-07T18:00"]


def test_times_are_those_of_the_site(client: Client) -> None:
    with time_machine.travel(make.NOW, tick=False):
        site = make.site(time_zone="Australia/Perth")
        machine = make.machine(at=site)
        client.force_login(make.person("planner", at=site))
        assert client.get(URL).context["form"]["read"].value() == "2026-03-09 16:00"
        send(client, (machine, "7"), read="2026-03-09 07:30")
    assert HourReading.objects.get().read_at == dt.datetime(2026, 3, 8, 23, 30, tzinfo=dt.UTC)


def test_a_possible_run_out_of_the_usual_is_recorded_and_remarked_on(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    for days_ago in (50, 40, 30, 20, 10):
        read_before(machines[0], 1400 - 8 * days_ago, days_ago)
    row = rows(send(client, (machines[0], "1520")))["EX-001"]
    assert row.state == "new"
    assert "200.0 h run since, where 80 h are usual" in row.sentence


def test_a_wrong_moment_for_all_records_nothing_and_loses_nothing(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    for read in ("9/3/2026", "2026-03-09 08:01", "soon", ""):
        answer = send(client, (machines[0], "500"), read=read)
        assert rows(answer)["EX-001"].hours == "500"
        assert answer.context["form"].errors["read"]
    assert not HourReading.objects.exists()


def test_a_figure_for_a_machine_that_has_left_is_said(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    boxes = {f"{meter(machines[0])}-hours": "512"}
    Machine.objects.filter(pk=machines[0].pk).update(site=make.site())
    answer = client.post(URL, {"read": MORNING, **boxes})
    assert "not at Blackmere Quarry any more: 512 h" in answer.content.decode()
    assert not HourReading.objects.exists()


def test_odd_names_of_boxes_do_no_harm(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    odd = {"x-hours": "5", "-hours": "5", f"{'9' * 40}-hours": "5", "²-hours": "5"}
    odd |= {f"{meter(machines[0])}-corrects": "99999999999999999999", "1-hours-hours": "5"}
    answer = send(client, (machines[0], "500"), **odd)
    assert answer.status_code in (200, 302)
    assert not HourReading.objects.exists()  # its box says that it corrects what is no reading


def test_a_reading_of_another_site_is_corrected_by_nobody(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    foreign = read_before(make.machine(), 77, 3)
    send(client, (machines[0], "500"), **{f"{meter(machines[0])}-corrects": str(foreign.pk)})
    foreign.refresh_from_db()
    assert foreign.set_aside_at is None
    assert HourReading.objects.get(reading_h=500).replaces is None


def test_an_accepted_figure_is_not_corrected_by_the_list(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    read_before(machines[0], 1000, 10)
    row = rows(send(client, (machines[0], "100")))["EX-001"]
    doubted = HourReading.objects.get(pk=row.reading_id)
    accept_reading(reading=doubted, person=planner, at=make.NOW)
    assert rows(send(client, (machines[0], "x")))["EX-001"].row.last_h == 100


@pytest.mark.parametrize("count", [5, 60])
def test_more_machines_take_no_more_queries(
    client: Client, planner: Person, site: Site, count: int
) -> None:
    yard = [make.machine(at=site) for _ in range(count)]
    for machine in yard[:3]:
        read_before(machine, 1000, 10)
    boxes = {f"{meter(machine)}-hours": "1010" for machine in yard}
    client.get(URL)
    with CaptureQueriesContext(connection) as looked:
        client.get(URL)
    with CaptureQueriesContext(connection) as sent:
        client.post(URL, {"read": MORNING, **boxes})
    assert len(looked) <= 14
    assert len(sent) <= 50
    assert HourReading.objects.filter(reading_h=1010).count() == count


@pytest.mark.parametrize(
    ("role", "status"), [("fitter", 200), ("inspector", 200), ("storeman", 403)]
)
def test_each_role_reads_as_it_may(client: Client, site: Site, role: str, status: int) -> None:
    client.force_login(make.person(role, at=site))
    assert client.get(URL).status_code == status


def test_a_stranger_sees_and_reads_only_their_own_site(
    client: Client, site: Site, machines: list[Machine]
) -> None:
    client.force_login(make.person("planner", at=make.site()))
    assert rows(client.get(URL, {"site": site.pk})) == {}
    send(client, (machines[0], "500"))
    assert not HourReading.objects.exists()


def test_nobody_is_sent_to_the_log_in(client: Client) -> None:
    assert client.get(URL).headers["Location"].startswith("/login/")


def test_an_empty_site_says_what_to_do_next(client: Client, planner: Person) -> None:
    assert "No machine with an hour meter here" in client.get(URL).content.decode()


def test_a_counter_without_a_meter_any_more_is_left_alone(
    client: Client, planner: Person, machines: list[Machine]
) -> None:
    box = {f"{meter(machines[0])}-hours": "5"}
    HourMeter.objects.filter(machine=machines[0]).update(to_on=make.TODAY)
    answer = client.post(URL, {"read": MORNING, **box})
    assert "5 h" in answer.content.decode()
    assert not HourReading.objects.exists()
