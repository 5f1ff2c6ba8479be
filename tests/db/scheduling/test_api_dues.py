"""The due list over the API: narrowed as on its page, scoped, page by page."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from assemblies.models import Assembly, Position
from scheduling.calc.inputs import Trigger
from scheduling.models import Due
from tests import factories as make
from tests.api_client import Caller

pytestmark = pytest.mark.django_db


def due(days: int | None, *, on: Position | None = None, **facts: Any) -> Due:
    """A hose that is to be replaced in some days from now; None: no date known."""
    place = on or make.position()
    hose = make.fitted(on=place)
    day = None if days is None else timezone.now().date() + dt.timedelta(days=days)
    dates = dict.fromkeys(("due_on", "replace_early_on", "replace_on", "replace_late_on"), day)
    # A hose may have its row from the receivers already: this one is worked out by hand.
    row, _ = Due.objects.update_or_create(
        assembly=hose,
        defaults={
            "site": hose.site,
            "machine": place.machine,
            "replace_trigger": int(Trigger.BUILT) if day else 0,
            **dates,
            **facts,
        },
    )
    return row


def ids(caller: Caller, **parameters: Any) -> list[int]:
    said = caller.get("dues/", **parameters).said
    assert "items" in said, said
    return [item["assembly_id"] for item in said["items"]]


def test_tells_what_falls_due_the_first_first() -> None:
    late, soon, over = due(400), due(10), due(-3)
    caller = Caller(make.person("planner"))
    assert ids(caller) == [over.pk, soon.pk, late.pk]
    first = caller.get("dues/").said["items"][0]
    assert (first["standing"], first["what"]) == ("over", "replace")
    assert first["binds"] == "Age of the assembly"


def test_tells_a_person_of_their_sites_only() -> None:
    mine, _ = due(10), due(10)
    assert ids(Caller(make.person("storeman", at=mine.site))) == [mine.pk]
    assert ids(Caller(make.person("planner", at=make.site()))) == []
    assert Caller().get("dues/").status == 401


@pytest.mark.parametrize(
    ("parameters", "which"),
    [
        ({"standing": "over"}, [0]),
        ({"standing": "soon"}, [1]),
        ({"standing": "fine"}, [2]),
        ({"standing": "undated"}, [3]),
        ({"within_days": 30}, [0, 1]),
        ({"trigger": "storage"}, [2]),
    ],
)
def test_narrows_as_the_page_does(parameters: dict[str, Any], which: list[int]) -> None:
    rows = [due(-3), due(10), due(400, replace_trigger=int(Trigger.STORAGE)), due(None)]
    assert ids(Caller(make.person("planner")), **parameters) == [rows[n].pk for n in which]


def test_narrows_by_machine_site_class_circuit_and_consequence() -> None:
    row = due(10, on=make.position(circuit="steering", consequence="hurts"))
    due(10)
    assert row.machine is not None
    for parameters in (
        {"machine_id": row.machine_id},
        {"machine_class_id": row.machine.machine_class_id},
        {"site": row.site.code},
        {"circuit": "steering"},
        {"consequence": "hurts"},
        {"circuit": "steering", "consequence": "hurts"},
    ):
        assert ids(Caller(make.person("planner")), **parameters) == [row.pk]


@pytest.mark.parametrize("ordering", ["due_on", "machine"])
@pytest.mark.parametrize("standing", ["", "undated"])
def test_pages_join_to_the_whole_list(ordering: str, standing: str) -> None:
    rows = [due(None if standing else days) for days in (5, 3, 3, 9, 1)]
    caller, seen, cursor = Caller(make.person("planner")), [], ""
    chosen = {"standing": standing} if standing else {}
    while cursor is not None:
        more = {"cursor": cursor} if cursor else {}
        told = caller.get("dues/", page_size=2, ordering=ordering, **chosen, **more).said
        seen += [item["assembly_id"] for item in told["items"]]
        cursor = told["next"]
    assert sorted(seen) == sorted(row.pk for row in rows)
    assert seen == ids(caller, ordering=ordering, **chosen)


@pytest.mark.parametrize(
    ("parameters", "code"),
    [
        ({"until_on": "2026-03-09", "within_days": 3}, "two_horizons"),
        ({"until_on": "9/3/2026"}, "invalid"),
        ({"within_days": 10**9}, "max_value"),
        ({"trigger": "moon"}, "unknown_word"),
        ({"standing": "late"}, "unknown_word"),
        ({"ordering": "-due_on"}, "unknown_word"),
        ({"site": "NOPE"}, "unknown_site"),
        ({"colour": "red"}, "unknown_parameter"),
        ({"cursor": "WyJkdWVfb24sYXNzZW1ibHlfaWQiLCJuZXZlciIsMV0"}, "cursor_unreadable"),
    ],
)
def test_refuses_a_query_it_does_not_know(parameters: dict[str, Any], code: str) -> None:
    answer = Caller(make.person("planner")).get("dues/", **parameters)
    assert (answer.status, answer.code) == (400, code)


def test_a_longer_list_takes_no_more_queries_and_counts_nothing() -> None:
    site, counts = make.site(), []
    caller = Caller(make.person("planner", at=site))
    for size in (1, 6):
        for _ in range(size):
            due(10, on=make.position(on=make.machine(at=site)))
        with CaptureQueriesContext(connection) as asked:
            caller.get("dues/")
        counts.append(len(asked))
        assert not [query for query in asked if "COUNT(" in query["sql"].upper()]
    assert counts[0] == counts[1]
    assert Assembly.objects.count() == 7
