"""Hours fetched from a provider on this machine: matched, judged, recorded once, or refused."""

import datetime as dt
import logging
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import override_settings
from django.test.utils import CaptureQueriesContext

from fleet.actions.errands import NotYet, run_errand
from fleet.actions.readings import record_reading, set_aside_reading
from fleet.actions.refusals import Refused
from fleet.actions.sweeps import sweep_all
from fleet.actions.telematics import SourceFacts, add_source, ask_source_now, withdraw_source
from fleet.actions.telematics_matches import match_machine
from fleet.actions.telematics_runs import hold_run, open_run, take_page
from fleet.models import (
    Errand,
    HourMeter,
    HourReading,
    Machine,
    Person,
    TelematicsMatch,
    TelematicsRun,
    TelematicsSource,
    TrailEntry,
    Usage,
)
from fleet.telematics import ingest
from fleet.telematics.fetch import Bounds
from fleet.telematics.ingest import go_through
from fleet.telematics.parse import parse_snapshot
from tests import factories as make
from tests import fake_provider as fake
from tests.fake_provider import Provider

pytestmark = pytest.mark.django_db
NOW = make.NOW
QUICK = Bounds(connect_s=1, page_s=0.5, most_bytes=2**20)


class Clock:
    """A clock that stands until it is set on."""

    def __init__(self) -> None:
        self.at = NOW

    def __call__(self) -> dt.datetime:
        return self.at

    def on(self, pause: dt.timedelta) -> None:
        self.at += pause


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


def source_of(provider: Provider, boss: Person, **facts: Any) -> TelematicsSource:
    told = {"name": "North feed", "site": None, "address": provider.url(), "form": "xml"}
    return add_source(facts=SourceFacts(**{**told, **facts}), person=boss, at=NOW)


def fetch(source: TelematicsSource, clock: Clock, **facts: Any) -> TelematicsRun:
    told = {"asked_by": None, "asked_at": clock.at, "clock": clock, "bounds": QUICK, **facts}
    return go_through(source=source, **told)


def matched(source: TelematicsSource, machine: Machine, boss: Person, **facts: Any) -> Any:
    told = {"kind": "pin", "identity_key": "har0001", "pin": "HAR0001", **facts}
    seen = TelematicsMatch.objects.create(
        source=source, first_seen_at=NOW, last_seen_at=NOW, **told
    )
    return match_machine(seen=seen, machine=machine, counts="engine", person=boss, at=NOW)


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


@pytest.mark.parametrize(
    "answer", [fake.status(500), fake.hang, fake.body(b"<html>"), fake.cut_off]
)
def test_a_provider_in_trouble_is_asked_again_later_each_time(
    provider: Provider, boss: Person, clock: Clock, answer: fake.Answer
) -> None:
    provider.at["/fleet/1"] = answer
    source = source_of(provider, boss)
    pauses: list[float] = []
    while not source.runs.exclude(ended_at=None).exists():
        try:
            run = fetch(source, clock)
        except NotYet as later:
            pauses.append(later.pause.total_seconds())
            clock.on(later.pause)
    assert run.state == "failed"
    assert "It was tried 6 times." in run.error
    assert [15 * 2**n <= pause <= 30 * 2**n for n, pause in enumerate(pauses)] == [True] * 5


def test_a_provider_that_wants_rest_gets_it(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    page = fake.body(fake.fleet(fake.machine()))
    provider.at["/fleet/1"] = fake.in_turn(fake.status(429, Retry_After="3600"), page)
    source = source_of(provider, boss)
    matched(source, machine, boss)
    with pytest.raises(NotYet) as later:
        fetch(source, clock)
    assert later.value.pause == dt.timedelta(hours=1)
    clock.on(dt.timedelta(minutes=59))
    with pytest.raises(NotYet):
        fetch(source, clock)
    assert len(provider.asked) == 1
    clock.on(dt.timedelta(minutes=1))
    assert fetch(source, clock).recorded == 1


def test_a_run_goes_on_at_the_page_where_it_stopped(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine("A1"), then="/fleet/2"))
    second = fake.body(fake.fleet(fake.machine("A2")))
    provider.at["/fleet/2"] = fake.in_turn(fake.status(503), second)
    source = source_of(provider, boss)
    with pytest.raises(NotYet):
        fetch(source, clock)
    clock.on(dt.timedelta(hours=1))
    run = fetch(source, clock)
    assert (run.state, run.pages) == ("done", 2)
    assert [path for path, _ in provider.asked] == ["/fleet/1", "/fleet/2", "/fleet/2"]


def test_a_page_is_counted_once_however_often_it_is_taken(
    provider: Provider, machine: Machine, boss: Person
) -> None:
    source = source_of(provider, boss)
    matched(source, machine, boss)
    run = open_run(source=source, asked_by=None, at=NOW)
    told = parse_snapshot(fake.fleet(fake.machine()), form="xml").machines
    facts: dict[str, Any] = {"run": run, "address": source.address, "machines": told}
    taken = [take_page(**facts, taken="", next_address="", at=NOW) for _ in range(2)]
    run.refresh_from_db()
    assert (taken, run.pages, run.recorded) == ([True, False], 1, 1)


def test_one_worker_at_a_time_holds_a_run(provider: Provider, boss: Person) -> None:
    run = open_run(source=source_of(provider, boss), asked_by=None, at=NOW)
    same = open_run(source=run.source, asked_by=None, at=NOW)
    first = hold_run(run=run, held=None, at=NOW)
    assert same.pk == run.pk
    assert first is not None
    assert hold_run(run=same, held=None, at=NOW) is None
    assert hold_run(run=run, held=first, at=NOW + dt.timedelta(seconds=9)) is not None
    assert hold_run(run=same, held=None, at=NOW + dt.timedelta(minutes=4)) is not None


def test_a_slow_source_holds_up_no_other(
    provider: Provider, machine: Machine, boss: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ingest, "Bounds", lambda: QUICK)
    monkeypatch.setattr("fleet.telematics.fetch.Bounds", lambda: QUICK)
    provider.at["/slow"] = fake.drip
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine()))
    slow = source_of(provider, boss, name="Slow feed", address=provider.url("/slow"))
    quick = source_of(provider, boss)
    matched(quick, machine, boss)
    clock = Clock()
    sweep_all(clock=clock)
    ours = Errand.objects.filter(kind="fetch telematics")
    first, then = (ours.get(payload={"source_id": one.pk}) for one in (slow, quick))
    assert [run_errand(errand_id=e.pk, clock=clock) for e in (first, then)] == [True, True]
    first.refresh_from_db()
    then.refresh_from_db()
    assert (first.state, then.state) == ("waiting", "done")
    assert slow.runs.get().error.endswith("did not answer within 0.5 s.")
    assert HourReading.objects.count() == 1


def test_a_source_is_asked_once_a_day_however_many_sweeps_run(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    source = source_of(provider, boss)
    gone = source_of(provider, boss, name="Gone")
    withdraw_source(source=gone, reason="sold", person=boss, at=NOW)
    for hours in (0, 1, 15.9):
        clock.at = NOW + dt.timedelta(hours=hours)
        sweep_all(clock=clock)
    asked = Errand.objects.filter(kind="fetch telematics")
    assert [errand.period for errand in asked] == [f"2026-03-09 source {source.pk}"]
    clock.at = NOW + dt.timedelta(hours=16)
    sweep_all(clock=clock)
    assert asked.all().count() == 2


def test_what_a_person_asks_for_is_refused_where_the_right_has_gone(
    provider: Provider, machine: Machine, clock: Clock
) -> None:
    boss = make.person("planner", at=machine.site)
    source = source_of(provider, boss, site=machine.site)
    errand = ask_source_now(source=source, person=boss, at=NOW)
    assert ask_source_now(source=source, person=boss, at=NOW) == errand
    boss.postings.update(ended_at=NOW)
    run_errand(errand_id=errand.pk, clock=clock)
    errand.refresh_from_db()
    assert (errand.state, "any more" in errand.error) == ("failed", True)
    assert provider.asked == []


def test_a_source_that_is_withdrawn_is_asked_no_more(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    source = source_of(provider, boss)
    withdraw_source(source=source, reason="sold", person=boss, at=NOW)
    source.refresh_from_db()
    run = fetch(source, clock)
    assert (run.state, run.error, provider.asked) == ("failed", "The source was withdrawn.", [])


def test_a_run_that_another_errand_finished_is_not_done_again(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet())
    source = source_of(provider, boss)
    first = fetch(source, clock)
    assert fetch(source, clock, asked_at=NOW - dt.timedelta(hours=1)) == first
    assert first.problems == ["It told of no machine."]
    assert len(provider.asked) == 1


SECRET = "s3cr3t-of-the-north"


def test_a_credential_goes_to_its_host_and_nowhere_else(
    provider: Provider,
    machine: Machine,
    boss: Person,
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    monkeypatch.setenv("TELEMATICS_KEY_NORTH", f"{provider.host} bearer {SECRET}")
    provider.at["/fleet/1"] = fake.in_turn(
        fake.status(500), fake.body(fake.fleet(fake.machine(), then="/gone"))
    )
    provider.at["/gone"] = fake.status(302, Location="https://elsewhere.example/")
    source = source_of(provider, boss, credential_variable="TELEMATICS_KEY_NORTH")
    matched(source, machine, boss)
    with caplog.at_level(logging.DEBUG):
        with pytest.raises(NotYet):
            fetch(source, clock)
        clock.on(dt.timedelta(hours=1))
        run = fetch(source, clock)
    assert (run.recorded, run.state) == (1, "failed")
    assert {said["Authorization"] for _, said in provider.asked} == {f"Bearer {SECRET}"}
    assert SECRET not in caplog.text
    assert SECRET not in whole_database()


def test_a_missing_credential_is_said_and_nobody_is_asked(
    provider: Provider, boss: Person, clock: Clock
) -> None:
    source = source_of(provider, boss, credential_variable="TELEMATICS_KEY_NOWHERE")
    run = fetch(source, clock)
    assert "has no TELEMATICS_KEY_NOWHERE" in run.error
    assert provider.asked == []


def whole_database() -> str:
    """Every value of every table of ours, as one text."""
    with connection.cursor() as cursor:
        tables = [name for name in connection.introspection.table_names() if name[:6] != "sqlite"]
        said: list[str] = []
        for table in tables:
            cursor.execute(f'SELECT * FROM "{table}"')
            said += [str(row) for row in cursor.fetchall()]
    return "\n".join(said)


def test_a_longer_page_takes_no_more_queries(
    provider: Provider, machine: Machine, boss: Person
) -> None:
    source = source_of(provider, boss)
    matched(source, machine, boss)
    spent = []
    for count in (2, 40):
        TelematicsRun.objects.filter(ended_at=None).update(
            ended_at=NOW, state="done", next_address=""
        )
        run = open_run(source=source, asked_by=None, at=NOW)
        pins = [fake.machine(f"B{count}{n}") for n in range(count)]
        hours = fake.machine(hours=str(1000 + count / 10), at=f"2026-03-08T{count // 10:02}:00:00Z")
        told = parse_snapshot(fake.fleet(*pins, hours), form="xml").machines
        with CaptureQueriesContext(connection) as asked:
            take_page(
                run=run,
                address=source.address,
                machines=told,
                taken="",
                next_address="",
                at=NOW,
            )
        spent.append(len(asked))
    assert spent[0] == spent[1]


def test_the_trail_says_that_layline_itself_recorded_it(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine()))
    source = source_of(provider, boss)
    matched(source, machine, boss)
    fetch(source, clock)
    assert TrailEntry.objects.get(deed="recorded a reading").actor_label == "Layline itself"


def test_a_typed_reading_and_a_told_one_stand_side_by_side(
    provider: Provider, machine: Machine, boss: Person, clock: Clock
) -> None:
    record_reading(
        machine=machine,
        counts="engine",
        reading_h=Decimal(1005),
        read_at=NOW - dt.timedelta(hours=1),
        person=boss,
        at=NOW,
    )
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine(hours="1000")))
    source = source_of(provider, boss)
    matched(source, machine, boss)
    assert fetch(source, clock).doubtful == 1  # five hours within the one that passed


def test_a_source_without_its_right_adds_nothing(provider: Provider) -> None:
    from fleet.permissions import NotAllowed

    here = make.site()
    for person in (make.person("fitter", at=here), make.person("planner", at=make.site())):
        with pytest.raises(NotAllowed):
            source_of(provider, person, site=here)
    with pytest.raises(NotAllowed):
        source_of(provider, make.person("planner", at=here))  # one site is not every site
    assert not TelematicsSource.objects.exists()


def test_two_sources_of_one_name_are_refused(provider: Provider, boss: Person) -> None:
    source_of(provider, boss)
    with pytest.raises(Refused, match="already"):
        source_of(provider, boss, name="NORTH  feed")
