"""Fetching hours, cut off in the middle or done twice at once: nothing lost, nothing twice."""

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.test import override_settings

from fleet.actions.telematics import SourceFacts, add_source
from fleet.actions.telematics_runs import open_run
from fleet.models import (
    Errand,
    HourReading,
    Machine,
    Person,
    TelematicsMatch,
    TelematicsRun,
    TelematicsSource,
    TrailEntry,
)
from tests import factories as make
from tests import fake_provider as fake
from tests.fake_provider import Provider
from tests.faults.conftest import Installation, until

pytestmark = pytest.mark.django_db(transaction=True)
LONG_AGO = dt.datetime(2020, 1, 1, tzinfo=dt.UTC)
ROUNDS = 25
SWEEP = "import django; django.setup(); from fleet.tasks import sweep; sweep()"
TAKE = """
import sys, time, pathlib, django
django.setup()
from django.utils import timezone
from fleet.actions.telematics_runs import take_page
from fleet.models import TelematicsRun
from fleet.telematics.parse import parse_snapshot
from tests import fake_provider as fake
folder, who, other = pathlib.Path(sys.argv[1]), sys.argv[2], sys.argv[3]
for run in list(TelematicsRun.objects.filter(ended_at=None).order_by("id")):
    told = parse_snapshot(fake.fleet(fake.machine(f"P{run.source_id}")), form="xml").machines
    (folder / f"{run.pk}-{who}").touch()
    while not (folder / f"{run.pk}-{other}").exists():
        time.sleep(0.001)
    done = take_page(run=run, address=run.next_address, machines=told, taken="", next_address="",
                     at=timezone.now())
    print(int(done), flush=True)
"""


@pytest.fixture
def provider() -> Iterator[Provider]:
    with fake.provider() as made, override_settings(TELEMATICS_PRIVATE_HOSTS=[made.host]):
        yield made


def matched(source: TelematicsSource, machine: Machine, boss: Person, pin: str) -> None:
    TelematicsMatch.objects.create(
        source=source,
        kind="pin",
        pin=pin,
        identity_key=pin.casefold(),
        machine=machine,
        decided_by=boss,
        decided_at=make.NOW,
        first_seen_at=make.NOW,
        last_seen_at=make.NOW,
    )


def source_at(address: str, boss: Person, name: str) -> TelematicsSource:
    facts = SourceFacts(name, None, address, "xml")
    return add_source(facts=facts, person=boss, at=make.NOW)


def test_a_worker_killed_in_the_middle_goes_on_at_the_page_where_it_was(
    installation: Installation, provider: Provider
) -> None:
    boss, machine = make.person("planner"), make.machine()
    provider.at["/fleet/1"] = fake.body(fake.fleet(fake.machine("A1"), then="/fleet/2"))
    second = fake.body(fake.fleet(fake.machine("A2", hours="1001", at="2026-03-09T07:00:00Z")))
    provider.at["/fleet/2"] = fake.in_turn(fake.hang, second)
    source = source_at(provider.url(), boss, "North feed")
    for pin in ("A1", "A2"):
        matched(source, machine, boss, pin)
    asked = {"TELEMATICS_PRIVATE_HOSTS": provider.host}

    worker = installation.start("-c", SWEEP, **asked)
    until(lambda: [path for path, _ in provider.asked][-1:] == ["/fleet/2"])
    worker.kill()
    worker.wait()
    assert HourReading.objects.count() == 1
    run = TelematicsRun.objects.get()
    assert (run.pages, run.next_address) == (1, provider.url("/fleet/2"))

    # The dead worker's holds run out.
    Errand.objects.filter(kind="fetch telematics").update(lease_until_at=LONG_AGO)
    TelematicsRun.objects.update(held_until_at=LONG_AGO)
    answer = installation.run("-c", SWEEP, **asked)
    assert answer.returncode == 0, answer.stderr
    run.refresh_from_db()
    assert (run.state, run.pages, run.recorded) == ("done", 2, 2)
    assert [path for path, _ in provider.asked] == ["/fleet/1", "/fleet/2", "/fleet/2"]
    assert HourReading.objects.count() == 2
    assert TrailEntry.objects.filter(deed="recorded a reading").count() == 2


def test_a_page_taken_by_two_at_once_is_counted_and_recorded_once(
    installation: Installation, tmp_path: Path
) -> None:
    boss = make.person("planner")
    for n in range(ROUNDS):
        source = source_at("https://data.harrow.example/fleet", boss, f"Feed {n}")
        matched(source, make.machine(), boss, f"P{source.pk}")
        open_run(source=source, asked_by=None, at=make.NOW)
    both = [
        installation.start("-c", TAKE, str(tmp_path), who, other)
        for who, other in (("one", "two"), ("two", "one"))
    ]
    ended = [process.wait(120) for process in both]
    said = [installation.said(process).split() for process in both]
    assert ended == [0, 0], said
    assert [int(a) + int(b) for a, b in zip(*said, strict=True)] == [1] * ROUNDS
    assert HourReading.objects.count() == ROUNDS
    figures = set(TelematicsRun.objects.values_list("pages", "recorded", "known"))
    assert figures == {(1, 1, 0)}


def test_without_its_step_a_page_is_counted_twice(
    installation: Installation, tmp_path: Path
) -> None:
    """The race above proves something: with the step left out, both take the page."""
    boss = make.person("planner")
    source = source_at("https://data.harrow.example/fleet", boss, "North feed")
    matched(source, make.machine(), boss, f"P{source.pk}")
    open_run(source=source, asked_by=None, at=make.NOW)
    loose = TAKE.replace('next_address=""', "next_address=run.next_address")
    both = [
        installation.start("-c", loose, str(tmp_path), who, other)
        for who, other in (("one", "two"), ("two", "one"))
    ]
    assert [process.wait(120) for process in both] == [0, 0]
    assert HourReading.objects.count() == 1  # recorded once even so
    assert TelematicsRun.objects.get().pages == 2
