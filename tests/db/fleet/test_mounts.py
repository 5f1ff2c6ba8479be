import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.actions.fitting_up import AtMachine, OffTo, fit_here, remove_here
from fleet.actions.mounts import CarrierRead, hours_of_machine, mount_part, unmount_part
from fleet.actions.readings import record_reading
from fleet.actions.refusals import Refused
from fleet.forms.mounts import MountForm, UnmountForm
from fleet.models import HourReading, Machine, Mount, Person, TrailEntry, Usage
from fleet.permissions import NotAllowed
from scheduling.actions.due_dates import refresh_all
from scheduling.calc.inputs import Flag
from scheduling.models import Due
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY


def day(ago: int) -> dt.date:
    return TODAY - dt.timedelta(days=ago)


@pytest.fixture
def boss() -> Person:
    return make.person("planner", at=make.site())


@pytest.fixture
def part(boss: Person) -> Machine:
    return make.machine(at=boss.posts[0].site, kind="attachment", fleet_number="BREAKER 1")


@pytest.fixture
def carriers(boss: Person) -> list[Machine]:
    return [make.machine(at=boss.posts[0].site) for _ in range(2)]


def read(machine: Machine, hours: int, ago: int) -> HourReading:
    moment = NOW - dt.timedelta(days=ago)
    return record_reading(
        machine=machine,
        counts="engine",
        reading_h=Decimal(hours),
        read_at=moment,
        person=None,
        at=NOW,
    )


def put(part: Machine, carrier: Machine, ago: int, boss: Person, **facts: Any) -> Mount:
    given = {"uses_carrier_hours": True, **facts}
    return mount_part(
        part=part, carrier=carrier, on=day(ago), person=boss, today=TODAY, at=NOW, **given
    )


def take(part: Machine, ago: int, boss: Person, **facts: Any) -> Mount:
    return unmount_part(part=part, on=day(ago), person=boss, today=TODAY, at=NOW, **facts)


def test_an_attachment_moved_between_two_carriers_sums_the_hours_of_both(
    boss: Person, part: Machine, carriers: list[Machine]
) -> None:
    first, second = carriers
    read(first, 1000, 100)
    put(part, first, 100, boss)
    read(first, 1080, 90)
    take(part, 80, boss, read=CarrierRead(Decimal(1160)))
    read(second, 9000, 70)
    put(part, second, 60, boss, read=CarrierRead(Decimal(9050)))
    read(second, 9250, 20)
    read(first, 1900, 10)  # the first goes on without it
    assert Usage.objects.get(machine=part).machine_h == Decimal(160 + 200)
    assert hours_of_machine(part, "engine", day(70)) == Decimal(160)


def test_its_hoses_fall_due_by_the_hours_of_both(
    boss: Person, part: Machine, carriers: list[Machine]
) -> None:
    make.life_rule(site=part.site, hours_fitting=Decimal(300))
    first, second = carriers
    place = make.position(on=part)
    hose = make.stored(at=part.site)
    read(first, 1000, 100)
    put(part, first, 100, boss)
    moment = NOW - dt.timedelta(days=99)
    fitted = AtMachine(day(99), moment, Decimal(1010), "1010")
    fit_here(assembly=hose, position=place, when=fitted, person=boss, now=NOW)
    take(part, 80, boss, read=CarrierRead(Decimal(1160)))
    put(part, second, 60, boss, read=CarrierRead(Decimal(9050)))
    read(second, 9250, 20)
    due = Due.objects.get(assembly=hose)
    assert due.replace_on is not None
    assert due.replace_on <= day(20)  # 150 and 200 hours since it was fitted at 10
    stay = hose.stays.get(is_open=True)
    assert stay.from_machine_h == Decimal(10)
    off = OffTo(removal="due", to="scrapped")
    when = AtMachine(day(10), NOW - dt.timedelta(days=10), Decimal(9300), "9300")
    remove_here(position=place, off=off, when=when, person=boss, now=NOW)
    hose.refresh_from_db()
    assert hose.earlier_h == Decimal(160 + 250 - 10)


def test_off_its_carriers_it_stands(boss: Person, part: Machine, carriers: list[Machine]) -> None:
    put(part, carriers[0], 100, boss)
    for ago, hours in ((100, 0), (80, 100), (60, 200), (40, 300), (21, 400)):
        read(carriers[0], hours, ago)
    assert Usage.objects.get(machine=part).rate_h_per_day > 0
    take(part, 20, boss)
    usage = Usage.objects.get(machine=part)
    assert (usage.machine_h, usage.rate_h_per_day) == (Decimal(400), 0)


def test_by_its_own_meter_the_carriers_hours_are_not_counted(
    boss: Person, part: Machine, carriers: list[Machine]
) -> None:
    read(part, 500, 50)
    put(part, carriers[0], 40, boss, uses_carrier_hours=False)
    read(carriers[0], 8000, 40)
    read(part, 540, 5)
    assert Usage.objects.get(machine=part).machine_h == Decimal(540)


def test_a_part_on_a_part_counts_by_the_machine_below(
    boss: Person, part: Machine, carriers: list[Machine]
) -> None:
    hitch = make.machine(at=part.site, kind="component")
    put(hitch, carriers[0], 50, boss)
    put(part, hitch, 30, boss)
    read(carriers[0], 100, 50)
    read(carriers[0], 300, 30)
    read(carriers[0], 420, 5)
    assert Usage.objects.get(machine=part).machine_h == Decimal(120)
    take(hitch, 1, boss)
    with pytest.raises(Refused, match="rides on") as refused:
        put(hitch, part, 0, boss)
    assert refused.value.code == "goes_round"


def test_plant_without_an_hour_meter_goes_by_the_calendar(boss: Person) -> None:
    make.life_rule(site=boss.posts[0].site, hours_fitting=Decimal(300), fitted_months=24)
    plant = make.machine(at=boss.posts[0].site, machine_class=make.machine_class(hours_per_day=0))
    plant.meters.all().delete()
    hose = make.fitted(
        on=make.position(on=plant),
        stay_from_earliest_on=dt.date(2025, 1, 1),
        stay_from_latest_on=dt.date(2025, 1, 1),
    )
    refresh_all()
    due = Due.objects.get(assembly=hose)
    assert due.replace_on == dt.date(2027, 1, 1)
    assert due.flags & (Flag.HOURS_UNKNOWN | Flag.STANDING | Flag.ESTIMATED_FROM_DAYS)


def test_typed_hours_of_plant_without_a_meter_count_like_a_meters(boss: Person) -> None:
    plant = make.machine(at=boss.posts[0].site)
    for ago, hours in ((90, 0), (60, 60), (30, 120), (1, 180)):
        read(plant, hours, ago)
    usage = Usage.objects.get(machine=plant)
    assert (usage.machine_h, round(usage.rate_h_per_day)) == (Decimal(180), 2)


def _refusals(boss: Person, part: Machine, carriers: list[Machine]) -> dict[str, Any]:
    first, second = carriers
    elsewhere = make.machine(at=make.site())
    sold = make.machine(at=part.site, status="sold")
    return {
        "not_a_part": lambda: put(second, first, 1, boss),
        "itself": lambda: put(part, part, 1, boss),
        "carrier_gone": lambda: put(part, sold, 1, boss),
        "elsewhere": lambda: put(part, elsewhere, 1, boss),
        "in_the_future": lambda: put(part, first, -1, boss),
        "rides_on_nothing": lambda: take(part, 1, boss),
        "not_hours": lambda: put(part, first, 1, boss, read=CarrierRead(Decimal(-1))),
    }


@pytest.mark.parametrize(
    "code",
    [
        *("not_a_part", "itself", "carrier_gone", "elsewhere", "in_the_future"),
        *("rides_on_nothing", "not_hours"),
    ],
)
def test_refuses_a_move_that_cannot_be(
    boss: Person, part: Machine, carriers: list[Machine], code: str
) -> None:
    with pytest.raises(Refused) as refused:
        _refusals(boss, part, carriers)[code]()
    assert refused.value.code == code
    assert not Mount.objects.exists()


def test_refuses_a_second_carrier_and_days_that_overlap(
    boss: Person, part: Machine, carriers: list[Machine]
) -> None:
    put(part, carriers[0], 30, boss)
    with pytest.raises(Refused, match="take it off there first"):
        put(part, carriers[1], 10, boss)
    with pytest.raises(Refused, match="before that"):
        take(part, 31, boss)
    with pytest.raises(Refused, match="still to come"):
        take(part, -1, boss)
    take(part, 20, boss)
    with pytest.raises(Refused, match="is before that") as refused:
        put(part, carriers[1], 25, boss)
    assert refused.value.code == "day_before_last_ride"
    put(part, carriers[1], 20, boss)
    deeds = TrailEntry.objects.filter(subject_label="BREAKER 1").values_list("deed", flat=True)
    put_on, took_off = "put on a carrier", "took off a carrier"
    assert list(deeds.order_by("id")) == [put_on, took_off, put_on]


def test_needs_the_right_at_the_site(boss: Person, part: Machine, carriers: list[Machine]) -> None:
    for stranger in (make.person("fitter", at=part.site), make.person("planner", at=make.site())):
        with pytest.raises(NotAllowed):
            put(part, carriers[0], 1, stranger)
        with pytest.raises(NotAllowed):
            take(part, 1, stranger)


def test_a_part_is_moved_on_its_page(
    client: Client, boss: Person, part: Machine, carriers: list[Machine]
) -> None:
    client.force_login(boss)
    url = reverse("fleet:mount", args=[part.pk])
    given = {"carrier": carriers[0].pk, "on": TODAY.isoformat(), "hours": "carrier"}
    client.post(url, {**given, "reading": "1000"})
    assert Mount.objects.get().uses_carrier_hours
    assert f"On {carriers[0]} since" in client.get(url).content.decode()
    client.post(url, {"on": TODAY.isoformat()})
    assert Mount.objects.get().to_on == TODAY


MOVES: list[tuple[str, dict[str, str], str]] = [
    ("carrier", {"carrier": ""}, "This field is required"),
    ("carrier", {"carrier": "999999"}, "Select a valid choice"),
    ("on", {"on": ""}, "This field is required"),
    ("on", {"on": "9/3/2026"}, "could be two days"),
    ("on", {"on": "2999-01-01"}, "is still to come"),
    ("hours", {"hours": ""}, "This field is required"),
    ("hours", {"hours": "both"}, "Select a valid choice"),
    ("reading", {"reading": "twelve"}, "twelve"),
]


@pytest.mark.parametrize(("field", "typed", "sentence"), MOVES)
def test_refuses_on_the_page_what_is_wrong(
    client: Client,
    boss: Person,
    part: Machine,
    carriers: list[Machine],
    field: str,
    typed: dict[str, str],
    sentence: str,
) -> None:
    client.force_login(boss)
    given = {"carrier": str(carriers[0].pk), "on": TODAY.isoformat(), "hours": "own", **typed}
    page = client.post(reverse("fleet:mount", args=[part.pk]), given).content.decode()
    assert sentence in page
    assert not Mount.objects.exists(), field


def test_every_field_of_a_move_has_its_refusals() -> None:
    assert {field for field, _, _ in MOVES} == set(MountForm.base_fields)
    assert set(UnmountForm.base_fields) < set(MountForm.base_fields)


def test_the_page_is_for_who_may_change_machines_of_the_site(
    client: Client, boss: Person, part: Machine, carriers: list[Machine]
) -> None:
    url = reverse("fleet:mount", args=[part.pk])
    answers = {}
    for role, at in (("planner", part.site), ("fitter", part.site), ("planner", make.site())):
        client.force_login(make.person(role, at=at))
        answers[role, at == part.site] = client.get(url).status_code
    assert list(answers.values()) == [200, 403, 404]
    client.logout()
    assert client.get(url).status_code == 302
    client.force_login(boss)
    assert client.get(reverse("fleet:mount", args=[carriers[0].pk])).status_code == 404
