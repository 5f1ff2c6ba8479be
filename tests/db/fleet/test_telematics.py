"""Hours fetched from a provider on this machine: matched, judged, recorded once, or refused."""

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.test import override_settings

from fleet.actions.readings import set_aside_reading
from fleet.actions.telematics_matches import match_machine
from fleet.models import (
    HourMeter,
    HourReading,
    Machine,
    Person,
    TelematicsMatch,
    Usage,
)
from fleet.telematics import ingest
from tests import factories as make
from tests import fake_provider as fake
from tests.db.fleet.telematics_bench import NOW, Clock, fetch, matched, source_of
from tests.fake_provider import Provider

pytestmark = pytest.mark.django_db


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def provider() -> Iterator[Provider]:
    with fake.provider() as made, override_settings(TELEMATICS_PRIVATE_HOSTS=[made.host]):
        yield made


@pytest.fixture
def machine() -> Machine:
    return make.machine(fleet_number="EX-014", pin="HAR0001")


@pytest.fixture
def boss() -> Person:
    return make.person("planner")


def test_a_matched_machine_s_hours_are_recorded(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine(hours="1000.57")))
    source = source_of(provider, boss)
    seen = matched(source, machine, boss)
    run = fetch(source, clock)
    assert (run.state, run.pages, run.equipment, run.recorded) == ("done", 1, 1, 1)
    reading = HourReading.objects.get()
    assert (reading.reading_h, reading.typed) == (Decimal("1000.5"), "1000.57")
    assert (reading.source, reading.recorded_by) == ("telematics", None)
    assert reading.source_ref == f"North feed, PIN HAR0001 (seen {seen.pk})"
    assert reading.read_at == dt.datetime(2026, 3, 9, 6, tzinfo=dt.UTC)
    assert Usage.objects.get(machine=machine).machine_h == Decimal("1000.5")


def test_an_unmatched_machine_is_listed_and_its_hours_come_with_the_match(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine()))
    run = fetch(source_of(provider, boss), clock)
    assert (run.recorded, run.unmatched) == (0, 1)
    seen = TelematicsMatch.objects.get()
    assert (seen.machine, str(seen), seen.maker) == (None, "PIN HAR0001", "Harrow")
    match_machine(seen=seen, machine=machine, counts="engine", person=boss, at=NOW)
    assert HourReading.objects.get().reading_h == Decimal(1000)


def test_the_same_snapshot_again_is_recorded_once(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    page = fake.fleet(fake.machine(), fake.machine(at="2026-03-09T06:00:00.900Z"))
    provider.at["/fleet/1"] = fake.body(page)
    source = source_of(provider, boss)
    matched(source, machine, boss)
    assert fetch(source, clock).recorded == 1
    clock.on(dt.timedelta(hours=1))
    again = fetch(source, clock)
    assert (again.recorded, again.known) == (0, 2)
    assert HourReading.objects.count() == 1


def test_a_reading_that_a_person_set_aside_does_not_come_back(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine()))
    source = source_of(provider, boss)
    matched(source, machine, boss)
    fetch(source, clock)
    set_aside_reading(reading=HourReading.objects.get(), reason="wrong", person=boss, at=NOW)
    clock.on(dt.timedelta(hours=1))
    assert fetch(source, clock).recorded == 0
    assert HourReading.objects.count() == 1


def test_hours_that_go_down_are_kept_in_doubt(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(
        fake.fleet(
            fake.machine(hours="1000", at="2026-03-07T06:00:00Z"),
            fake.machine(hours="990", at="2026-03-08T06:00:00Z"),
        )
    )
    source = source_of(provider, boss)
    matched(source, machine, boss)
    run = fetch(source, clock)
    assert (run.recorded, run.doubtful) == (2, 1)
    assert "doesn't run back" in HourReading.objects.exclude(doubt="").get().doubt


def test_a_time_without_a_zone_is_taken_as_the_site_s_and_doubted(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    far = make.machine(at=make.site(time_zone="Australia/Perth"))
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine(at="2026-03-09T06:00:00")))
    source = source_of(provider, boss)
    matched(source, far, boss)
    assert fetch(source, clock).doubtful == 1
    reading = HourReading.objects.get()
    assert reading.read_at == dt.datetime(2026, 3, 8, 22, tzinfo=dt.UTC)
    assert (reading.zone_known, "without a zone" in reading.doubt) == (False, True)


def test_pages_are_followed_to_the_last_that_links_to_itself(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine("A1"), then="/fleet/2"))
    provider.at["/fleet/2"] = fake.body(fake.fleet(fake.machine("A2"), then="3"))
    provider.at["/fleet/3"] = fake.body(
        fake.fleet(fake.machine("A3"), then=provider.url("/fleet/3"))
    )
    run = fetch(source_of(provider, boss), clock)
    assert (run.state, run.pages, run.equipment, run.unmatched) == ("done", 3, 3, 3)
    assert [path for path, _ in provider.asked] == ["/fleet/1", "/fleet/2", "/fleet/3"]


def test_a_loop_of_pages_is_gone_through_once(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine("A1"), then="/fleet/2"))
    provider.at["/fleet/2"] = fake.body(fake.fleet(fake.machine("A2"), then="/fleet/1"))
    assert fetch(source_of(provider, boss), clock).pages == 2


def test_pages_without_end_are_stopped_and_said(
    provider: Provider, boss: Person, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ingest, "MOST_PAGES", 3)
    for n in range(1, 9):
        page = fake.fleet(fake.machine(f"A{n}"), then=f"/fleet/{n + 1}")
        provider.at[f"/fleet/{n}"] = fake.body(page)
    run = fetch(source_of(provider, boss), clock)
    assert (run.state, run.pages) == ("failed", 3)
    assert "more than 3 pages" in run.error


def test_a_link_to_another_host_is_not_followed_and_the_page_counts(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    page = fake.fleet(fake.machine(), then="http://169.254.169.254/latest")
    provider.at["/fleet/1"] = fake.body(page)
    source = source_of(provider, boss)
    matched(source, machine, boss)
    run = fetch(source, clock)
    assert (run.state, run.recorded) == ("failed", 1)
    assert "https://" in run.error


def test_what_is_wrong_with_a_machine_is_said_and_the_others_count(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    bare = "<Equipment><EquipmentHeader><PIN>HAR0002</PIN></EquipmentHeader></Equipment>"
    page = fake.fleet(bare, fake.machine("HAR0003", hours="NaN"), "<Equipment/>", fake.machine())
    provider.at["/fleet/1"] = fake.body(page)
    source = source_of(provider, boss)
    matched(source, machine, boss)
    run = fetch(source, clock)
    assert (run.recorded, run.unusable) == (1, 3)
    assert run.problems == [
        "PIN HAR0002: It told no operating hours.",
        "PIN HAR0003: Its operating hours “NaN” are not a figure.",
        "It told neither PIN nor make and serial number nor an equipment id.",
    ]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"status": "sold"}, "no machine of ours any more"),
        ({"withdrawn_at": NOW}, "no machine of ours any more"),
        ({"meter": None}, "no meter that counts engine hours"),
        ({"site": None}, "it has left"),
    ],
)
def test_a_matched_machine_out_of_reach_is_told_of_and_nothing_is_recorded(
    provider: Provider, machine: Machine, clock: Clock, change: dict[str, Any], words: str
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine()))
    boss = make.person("planner", at=machine.site)
    source = source_of(provider, boss, site=machine.site)
    matched(source, machine, boss)
    if "meter" in change:
        HourMeter.objects.update(to_on=NOW.date())
    elif "site" in change:
        Machine.objects.update(site=make.site())
    else:
        Machine.objects.update(**change)
    run = fetch(source, clock)
    assert (run.recorded, run.unusable) == (0, 1)
    assert words in run.problems[0]
    assert TelematicsMatch.objects.get().last_reading_h == Decimal(1000)


def test_a_machine_that_is_none_of_ours_is_listed_no_more(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    from fleet.actions.telematics_matches import set_match_aside

    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine()))
    source = source_of(provider, boss)
    fetch(source, clock)
    seen = TelematicsMatch.objects.get()
    set_match_aside(seen=seen, reason="hired out", person=boss, at=NOW)
    clock.on(dt.timedelta(hours=1))
    assert fetch(source, clock).unmatched == 0


def test_a_payload_in_json_is_taken_likewise(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    page = (
        b'{"Fleet": {"Equipment": [{"EquipmentHeader": {"PIN": "har-0001"}, '
        b'"CumulativeOperatingHours": {"Hour": 1000.5, "datetime": "2026-03-09T07:00:00+01:00"}}]}}'
    )
    provider.at["/fleet/1"] = fake.body(page)
    source = source_of(provider, boss, form="json")
    matched(source, machine, boss)
    assert fetch(source, clock).recorded == 1
    assert provider.asked[0][1]["Accept"] == "application/json"
