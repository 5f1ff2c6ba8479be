"""Runs of fetching: put off, gone on with, held by one, asked once a day; and their secrets."""

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
from fleet.actions.readings import record_reading
from fleet.actions.refusals import Refused
from fleet.actions.sweeps import sweep_all
from fleet.actions.telematics import ask_source_now, withdraw_source
from fleet.actions.telematics_runs import hold_run, open_run, take_page
from fleet.models import (
    Errand,
    HourReading,
    Machine,
    Person,
    TelematicsRun,
    TelematicsSource,
    TrailEntry,
)
from fleet.telematics import ingest
from fleet.telematics.parse import parse_snapshot
from tests import factories as make
from tests import fake_provider as fake
from tests.db.fleet.telematics_bench import NOW, QUICK, Clock, fetch, matched, source_of
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
