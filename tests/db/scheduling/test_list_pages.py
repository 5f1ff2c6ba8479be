"""The lists: what they show, how they go on, and that their queries don't grow with rows."""

import datetime as dt
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qs

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import HourReading
from scheduling.models import Failure
from tests import factories
from tests.db.scheduling.yard import Yard, fall_due, more_hoses, yard

pytestmark = pytest.mark.django_db


@pytest.fixture
def where(client: Client) -> Iterator[Yard]:
    with time_machine.travel(factories.NOW, tick=False):
        found = yard()
        client.force_login(found.planner)
        yield found


def shown(client: Client, name: str, **query: Any) -> str:
    answer = client.get(reverse(f"scheduling:{name}"), query)
    assert answer.status_code == 200
    return answer.content.decode()


def queries_of(client: Client, url: str) -> int:
    client.get(url)  # sessions and content types are read once
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


def grow(where: Yard) -> None:
    for hose in more_hoses(where, 12):
        stay = hose.stays.get()
        Failure.objects.create(
            assembly=hose,
            stay=stay,
            machine=where.machine,
            site=where.site,
            failed_at=factories.NOW,
            failed_on=factories.TODAY,
            mode="burst",
        )
    for _ in range(12):
        machine = factories.machine(at=where.site)
        meter = machine.meters.get()
        HourReading.objects.create(
            meter=meter,
            site=where.site,
            read_at=factories.NOW,
            read_on=factories.TODAY,
            reading_h=5,
            machine_h=5,
            doubt="It goes back.",
            recorded_at=factories.NOW,
        )


@pytest.mark.parametrize("name", ["today", "machines", "due", "untagged", "doubtful", "failures"])
def test_the_queries_of_a_list_do_not_grow_with_its_rows(
    client: Client, where: Yard, name: str
) -> None:
    grow(where)
    few = queries_of(client, reverse(f"scheduling:{name}"))
    grow(where)
    assert queries_of(client, reverse(f"scheduling:{name}")) == few


def test_the_queries_of_the_machine_page_do_not_grow_with_its_positions(
    client: Client, where: Yard
) -> None:
    url = reverse("scheduling:machine", args=[where.machine.pk])
    few = queries_of(client, url)
    more_hoses(where, 12)
    assert queries_of(client, url) == few


@pytest.mark.parametrize("by", ["", "machine"])
def test_the_due_list_goes_on_page_by_page_without_gap_or_repeat(
    client: Client, where: Yard, by: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scheduling.views.due.SIZE", 5)
    hoses = [where.hose, *more_hoses(where, 13)]
    query: dict[str, Any] = {"by": by}
    seen: list[int] = []
    while query:
        answer = client.get(reverse("scheduling:due"), query)
        page = answer.context["page"]
        seen += [line.hose_id for line in page.rows]
        query = parse_qs(page.next_query)
    assert sorted(seen) == sorted(hose.pk for hose in hoses)
    assert len(seen) == len(set(seen))


def test_the_due_list_is_in_order_of_day(client: Client, where: Yard) -> None:
    more_hoses(where, 4)
    page = client.get(reverse("scheduling:due")).context["page"]
    days = [line.due_on for line in page.rows]
    assert days == sorted(days)


@pytest.mark.parametrize(
    ("standing", "marks"),
    [
        ("over", {"BQ 17", "yesterday"}),
        ("soon", {"today", "thirty"}),
        ("fine", {"later"}),
        ("undated", {"never"}),
    ],
)
def test_the_due_list_is_narrowed_by_state(
    client: Client, where: Yard, standing: str, marks: set[str]
) -> None:
    days = {"yesterday": -1, "today": 0, "thirty": 30, "later": 31, "never": None}
    for mark, ahead in days.items():
        hose = factories.fitted(on=factories.position(on=where.machine), owner_mark=mark)
        day = None if ahead is None else factories.TODAY + dt.timedelta(days=ahead)
        fall_due(hose, day)
    page = client.get(reverse("scheduling:due"), {"standing": standing}).context["page"]
    assert {line.owner_mark for line in page.rows} == marks


@pytest.mark.parametrize(
    ("query", "kept"),
    [
        ({"circuit": "steering"}, True),
        ({"circuit": "brakes"}, False),
        ({"consequence": "hurts"}, True),
        ({"consequence": "nuisance"}, False),
        ({"trigger": "2"}, True),
        ({"trigger": "5"}, False),
        ({"until": "2026-04-01"}, True),
        ({"until": "2026-03-31"}, False),
        ({"within": "30"}, True),
        ({"circuit": "steering", "consequence": "nuisance"}, False),
    ],
)
def test_the_due_list_is_narrowed_by_each_fact(
    client: Client, where: Yard, query: dict[str, str], kept: bool
) -> None:
    place = factories.position(on=where.machine, circuit="steering", consequence="hurts")
    hose = factories.fitted(on=place)
    fall_due(hose, dt.date(2026, 4, 1))
    page = client.get(reverse("scheduling:due"), query).context["page"]
    assert (hose.pk in {line.hose_id for line in page.rows}) is kept


def test_a_filter_that_cannot_be_read_narrows_nothing(client: Client, where: Yard) -> None:
    page = shown(client, "due", site="x", within="\0", after="[1,2", until="1/2/2026")
    assert "BQ 17" in page


def test_the_csv_holds_the_list_with_formulas_guarded(client: Client, where: Yard) -> None:
    hose = factories.fitted(on=factories.position(on=where.machine), owner_mark="=1+1")
    fall_due(hose, dt.date(2026, 4, 1))
    rows = b"".join(client.get(reverse("scheduling:due_csv"))).decode("utf-8-sig").splitlines()
    assert len(rows) == 3
    assert "'=1+1" in rows[2]


def test_the_csv_of_ticked_rows_holds_only_those_in_reach(client: Client, where: Yard) -> None:
    other = yard()
    ids = {"hose": [where.hose.pk, other.hose.pk]}
    rows = b"".join(client.get(reverse("scheduling:due_csv"), ids)).decode().splitlines()
    assert len(rows) == 2


@pytest.mark.parametrize(
    ("typed", "found"), [("ex-0", True), ("ＥＸ－０１４", True), ("WL", False), ("  ", True)]
)
def test_machines_are_found_by_part_of_the_number(
    client: Client, where: Yard, typed: str, found: bool
) -> None:
    assert (">EX-014</a>" in shown(client, "machines", q=typed)) is found


def test_the_machine_list_goes_on_without_gap_or_repeat(
    client: Client, where: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scheduling.views.machines.SIZE", 3)
    made = [factories.machine(at=where.site) for _ in range(7)]
    query: dict[str, Any] = {"from": "start"}
    seen: list[int] = []
    while query:
        page = client.get(reverse("scheduling:machines"), query).context["page"]
        seen += [line.machine_id for line in page.rows]
        query = parse_qs(page.next_query)
    assert sorted(seen) == sorted([where.machine.pk, *(m.pk for m in made)])


def test_a_count_on_the_board_leads_to_a_list_of_that_many(client: Client, where: Yard) -> None:
    more_hoses(where, 6)
    facts = client.get(reverse("scheduling:today")).context["facts"]
    for standing in ("over", "soon", "undated", "out"):
        page = client.get(reverse("scheduling:due"), {"standing": standing}).context["page"]
        name = {"out": "out_now"}.get(standing, standing)
        assert getattr(facts, name).number == len(page.rows)
