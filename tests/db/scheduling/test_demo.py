"""The demo as it stands in the database: its size, its planted faults, its log-ins."""

import csv
import datetime as dt
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth import authenticate
from django.core.management import call_command
from django.db import transaction
from django.db.models import Count
from django.test import Client, RequestFactory
from django.urls import reverse

from assemblies.models import Assembly, ConditionalRelease, Position, SpecRevision, Stay
from assemblies.queries.duty_gaps import duty_gaps
from assemblies.queries.obstacles import approval_obstacles
from assemblies.queries.parts import parts_of
from assemblies.queries.ratings import assembly_ratings
from fleet.actions.telematics import ask_sources_daily
from fleet.models import (
    Errand,
    HourReading,
    Machine,
    Person,
    Site,
    TelematicsSource,
    TrailEntry,
    Usage,
)
from fleet.queries.telematics import seen_machines, sources_of
from scheduling.actions.stale import refresh_everything
from scheduling.calc.inputs import Flag, Trigger
from scheduling.exchange.demo.load import Loaded, load_demo
from scheduling.models import Due, StaleMark
from scheduling.queries.home_losses import home_losses

TODAY = dt.date(2026, 6, 15)
AT = dt.datetime(2026, 6, 15, 4, 0, tzinfo=dt.UTC)
BY_TRIGGER = {
    Trigger.BUILT: "past_age_from_built",
    Trigger.REEL_AGE: "reel_too_old",
    Trigger.STORAGE: "stored_too_long",
    Trigger.HOURS_FITTING: "over_hours",
    Trigger.HOURS_TOTAL: "over_hours",
}
BY_FLAG = {Flag.TAKE_OUT_NOW: "take_out_now", Flag.UNKNOWN_AGE: "age_unknown"}

Fault = tuple[str, str, str, str, int | None]


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker: Any) -> Iterator[Loaded]:
    """The demo with its dues, loaded once for this file and taken away after it."""
    with django_db_blocker.unblock(), transaction.atomic():
        loaded = load_demo(seed=1, today=TODAY, at=AT)
        assert StaleMark.objects.filter(subject="everything").exists()
        refresh_everything()
        yield loaded
        transaction.set_rollback(True)


def planted() -> set[Fault]:
    path = Path(settings.BASE_DIR) / "fixtures" / "demo" / "planted_faults.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return {_planted(row) for row in csv.DictReader(file)}


def _planted(row: dict[str, str]) -> Fault:
    if row["mark"]:
        return row["kind"], row["site"], row["mark"], "", None
    number = int(row["place_no"]) if row["place_no"] else None
    return row["kind"], row["site"], row["machine"], row["place"], number


def found() -> set[Fault]:
    """What the tool's own dues and queries say, by the kinds of faults that are planted."""
    stays = Stay.objects.filter(is_open=True).select_related("position__machine")
    here = {stay.assembly_id: stay.position for stay in stays}
    dues = Due.objects.select_related("assembly__site")
    faults = {fault for due in dues for fault in _of(due, here[due.assembly_id])}
    for gap in duty_gaps(None):
        faults.add(("below_duty", gap.site_code, gap.machine, gap.place, gap.place_no))
    waiting = HourReading.objects.filter(accepted_at=None, set_aside_at=None).exclude(doubt="")
    for reading in waiting.select_related("meter__machine", "site"):
        number = reading.meter.machine.fleet_number
        faults.add(("doubtful_reading", reading.site.code, number, "", None))
    return faults


def _of(due: Due, position: Position | None) -> Iterator[Fault]:
    where: tuple[str, str, str, int | None]
    where = (due.assembly.site.code, due.assembly.owner_mark, "", None)
    if position is not None:
        machine, place = position.machine.fleet_number, position.place
        where = (due.assembly.site.code, machine, place, position.place_no)
    over = due.replace_on is not None and due.replace_on < TODAY
    if over and due.replace_trigger in BY_TRIGGER:
        yield BY_TRIGGER[Trigger(due.replace_trigger)], *where
    for flag, kind in BY_FLAG.items():
        if due.flags & flag:
            yield kind, *where


@pytest.mark.django_db
def test_the_faults_found_are_the_faults_planted(demo: Loaded) -> None:
    assert len({fault[0] for fault in planted()}) == 8
    assert found() == planted()


@pytest.mark.django_db
def test_a_fault_that_is_mended_is_no_longer_found(demo: Loaded) -> None:
    gap = duty_gaps(None)[0]
    Position.objects.filter(pk=gap.position_id).update(pressure_bar=100, surge_bar=110)
    assert gap.position_id not in {found.position_id for found in duty_gaps(None)}


@pytest.mark.django_db
def test_the_firm_is_as_big_as_it_says(demo: Loaded) -> None:
    assert set(Site.objects.values_list("code", flat=True)) == {"BQ", "SW"}
    assert Machine.objects.filter(kind="machine").count() == 40
    assert 1400 <= Position.objects.count() <= 1700
    assert "43 machines, 1,558 positions" in demo.sentence


@pytest.mark.django_db
def test_its_readings_reach_back_six_years(demo: Loaded) -> None:
    days = list(HourReading.objects.order_by("read_on").values_list("read_on", flat=True))
    assert days[0] < TODAY - dt.timedelta(days=2100)
    assert TODAY - dt.timedelta(days=12) < days[-1] < TODAY


@pytest.mark.django_db
def test_every_running_counter_has_its_rate_measured(demo: Loaded) -> None:
    running = Usage.objects.filter(machine__status="in_service", machine__kind="machine")
    assert running.count() == 42
    assert running.filter(rate_h_per_day__gt=1, basis__startswith="measured").count() == 42


@pytest.mark.django_db
def test_every_living_hose_has_its_dues(demo: Loaded) -> None:
    living = Assembly.objects.filter(withdrawn_at=None)
    assert Due.objects.count() == living.count() > 1500
    dated = Due.objects.filter(replace_on__isnull=False).count()
    assert dated == living.count() - len([f for f in planted() if f[0] == "age_unknown"])


@pytest.mark.django_db
def test_no_position_holds_two_hoses(demo: Loaded) -> None:
    held = Stay.objects.filter(is_open=True, position__isnull=False).values("position")
    assert held.annotate(hoses=Count("id")).filter(hoses__gt=1).count() == 0
    assert held.count() == Position.objects.count() - 1  # one machine is down


@pytest.mark.django_db
def test_a_hose_bears_the_lowest_of_its_parts(demo: Loaded) -> None:
    released = ConditionalRelease.objects.values("assembly")
    built = Assembly.objects.exclude(spec=None).exclude(pk__in=released)
    rows = list(built.filter(withdrawn_at=None).select_related("spec__hose"))
    ratings = assembly_ratings(rows)
    assert len(rows) > 1400
    assert {ratings[row.pk].rating is not None for row in rows} == {True}
    wrong = [r for r in rows if ratings[r.pk].working_pressure_bar != r.working_pressure_bar]
    assert wrong == []


@pytest.mark.django_db
def test_its_specs_could_be_approved_save_where_a_duty_was_raised(demo: Loaded) -> None:
    specs = list(SpecRevision.objects.filter(state="approved").select_related("hose"))
    assert len(specs) > 200
    told = [(o.code, o.sentence) for p in parts_of(specs).values() for o in _in_the_way(p)]
    assert [code for code, _ in told] == ["below_duty"]
    assert "SC-01, Screen box motor, pressure" in told[0][1]


def _in_the_way(parts: Any) -> list[Any]:
    return list(approval_obstacles(parts, None))


@pytest.mark.django_db
def test_its_people_log_in_and_see_their_own_sites(demo: Loaded) -> None:
    here = RequestFactory().get("/", REMOTE_ADDR="127.0.0.1", SERVER_NAME="localhost")
    fitter = authenticate(here, username="fitter.sw", password="flange-puffin-38")
    planner = authenticate(here, username="planner", password="copper-heron-27")
    assert isinstance(fitter, Person)
    assert isinstance(planner, Person)
    assert {fitter.demo, planner.demo} == {True}
    seen = Machine.objects.visible_to(fitter).values_list("site__code", flat=True)
    assert set(seen) == {"SW"}
    assert Machine.objects.visible_to(planner).count() == 43


@pytest.mark.django_db
def test_gaps_of_another_site_are_not_shown(demo: Loaded) -> None:
    fitter = Person.objects.get(username="fitter.sw")
    assert {gap.site_code for gap in duty_gaps(fitter)} == {"SW"}


@pytest.mark.django_db
def test_the_trail_tells_of_each_hose_that_was_fitted(demo: Loaded) -> None:
    came = TrailEntry.objects.filter(deed__in=["fitted", "found on a machine"]).count()
    assert came == Stay.objects.filter(place="position").count()
    assert TrailEntry.objects.filter(deed="signed a build").count() > 900


@pytest.mark.django_db
def test_a_second_load_leaves_it_as_it_is(demo: Loaded) -> None:
    said, before = io.StringIO(), TrailEntry.objects.count()
    call_command("load_demo", "--seed", "9", stdout=said)
    assert "stands already, loaded with seed 1 on 2026-06-15" in said.getvalue()
    assert TrailEntry.objects.count() == before


def test_its_manager_is_told_at_once_what_failures_cost(demo: Loaded) -> None:
    told = home_losses(Person.objects.get(username="manager"))
    assert told is not None
    assert told.missing == 0
    assert told.sums["failures"] > 0
    assert told.sums["lost_minor"] > 0


@pytest.mark.django_db
def test_a_provider_told_hours_and_two_of_its_machines_wait_for_a_match(demo: Loaded) -> None:
    planner = Person.objects.get(username="planner")
    (line,) = sources_of(planner, at=AT)
    assert (line.source.name, line.state) == ("Wrenlow Fleet Data", "done")
    assert (line.matched, line.unmatched) == (6, 3)
    assert line.last is not None
    assert (line.last.pages, line.last.recorded, line.last.doubtful) == (1, 6, 0)
    assert len(line.last.problems) == 1
    told = HourReading.objects.filter(source_ref__startswith="Wrenlow Fleet Data")
    assert told.count() == 12
    assert not told.exclude(doubt="").exists()
    waiting = seen_machines(planner, matched=False, after=None, size=9).rows
    assert [[one.number for one in row.proposals] for row in waiting] == [["EX-04"], [], ["DZ-02"]]


@pytest.mark.django_db
def test_nothing_calls_out_to_the_provider_of_the_demo(
    demo: Loaded, monkeypatch: pytest.MonkeyPatch
) -> None:
    def call(*_: Any, **__: Any) -> None:
        raise AssertionError("called out")

    monkeypatch.setattr("fleet.telematics.ingest.fetch_page", call)
    monkeypatch.setattr("fleet.telematics.ingest.read_address", call)
    assert ask_sources_daily(at=AT) == 0
    assert ask_sources_daily(at=AT + dt.timedelta(days=1)) == 0
    assert not Errand.objects.filter(kind="fetch telematics").exists()


@pytest.mark.django_db
def test_its_pages_of_telematics_say_that_it_is_asked_by_hand(demo: Loaded) -> None:
    client = Client()
    client.force_login(Person.objects.get(username="planner"))
    source = TelematicsSource.objects.get()
    pages = [client.get(f"/telematics/{path}") for path in ("", f"{source.pk}/")]
    for page in pages:
        assert page.status_code == 200
        assert "y hand alone" in page.content.decode()
    machine = Machine.objects.get(fleet_number="EX-03")
    history = client.get(reverse("fleet:readings", args=[machine.pk])).content.decode()
    assert "Wrenlow Fleet Data, serial number Garrodine GD38-31082" in history
