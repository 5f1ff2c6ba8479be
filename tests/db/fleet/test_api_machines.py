"""Machines over the API: who sees what, page by page."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import factories as make
from tests.api_client import Caller

pytestmark = pytest.mark.django_db


def test_tells_a_person_of_the_machines_of_their_site_only() -> None:
    here, there = make.site(), make.site()
    mine, _ = make.machine(at=here), make.machine(at=there)
    told = Caller(make.person("planner", at=here)).get("machines/").said
    assert [item["id"] for item in told["items"]] == [mine.pk]
    assert told["next"] is None


@pytest.mark.parametrize("role", ["fitter", "storeman", "safety officer"])
def test_any_colleague_of_the_site_may_read_a_machine(role: str) -> None:
    machine = make.machine(maker="Tarn", model="L9")
    said = Caller(make.person(role, at=machine.site)).get(f"machines/{machine.pk}/").said
    assert (said["fleet_number"], said["maker"]) == (machine.fleet_number, "Tarn")
    assert said["counters"][0]["rate_h_per_day"] == "8.000"


def test_another_sites_machine_answers_like_an_unknown_one() -> None:
    stranger = Caller(make.person("planner", at=make.site()))
    foreign = stranger.get(f"machines/{make.machine().pk}/")
    assert foreign.status == 404
    assert foreign == stranger.get("machines/999999/")
    assert foreign == stranger.get(f"machines/{10**30}/")


@pytest.mark.parametrize("path", ["machines/", "machines/1/"])
def test_nobody_is_told_to_sign_in(path: str) -> None:
    answer = Caller().get(path)
    assert (answer.status, answer.code) == (401, "not_signed_in")


def test_someone_deactivated_is_nobody() -> None:
    person = make.person("planner")
    caller = Caller(person)
    person.is_active = False
    person.save()
    assert caller.get("machines/").status == 401


@pytest.mark.parametrize("ordering", ["fleet_number", "-fleet_number"])
def test_pages_join_to_the_whole_list(ordering: str) -> None:
    site = make.site()
    numbers = [make.machine(at=site).fleet_number for _ in range(7)]
    caller, seen, cursor = Caller(make.person("planner", at=site)), [], ""
    for _ in range(4):
        more = {"cursor": cursor} if cursor else {}
        told = caller.get("machines/", page_size=2, ordering=ordering, **more).said
        seen += [item["fleet_number"] for item in told["items"]]
        cursor = told["next"]
    assert cursor is None
    assert sorted(seen) == sorted(numbers)
    assert seen == sorted(seen, key=str.casefold, reverse=ordering.startswith("-"))


@pytest.mark.parametrize(
    ("parameters", "code", "field"),
    [
        ({"colour": "red"}, "unknown_parameter", "colour"),
        ({"ordering": "site"}, "unknown_word", "ordering"),
        ({"status": "asleep"}, "unknown_word", "status"),
        ({"page_size": "0"}, "min_value", "page_size"),
        ({"page_size": "201"}, "max_value", "page_size"),
        ({"page_size": str(2**70)}, "max_value", "page_size"),
        ({"page_size": "9" * 5000}, "max_string_length", "page_size"),
        ({"cursor": "zzz"}, "cursor_unreadable", "cursor"),
        ({"cursor": "WyJmbGVldF9udW1iZXIiLDEsMl0"}, "cursor_unreadable", "cursor"),
        ({"site": "B\0Q"}, "null_characters_not_allowed", "site"),
        ({"site": ["A", "B"]}, "given_twice", "site"),
    ],
)
def test_refuses_a_query_it_does_not_know(
    parameters: dict[str, str], code: str, field: str
) -> None:
    answer = Caller(make.person("planner")).get("machines/", **parameters)
    assert (answer.status, answer.code, answer.said["field"]) == (400, code, field)
    assert answer.said["sentence"]


def test_a_cursor_of_one_order_is_refused_in_another() -> None:
    site = make.site()
    for _ in range(2):
        make.machine(at=site)
    caller = Caller(make.person("planner", at=site))
    cursor = caller.get("machines/", page_size=1).said["next"]
    answer = caller.get("machines/", ordering="-fleet_number", cursor=cursor)
    assert answer.code == "cursor_of_another_list"


def test_filters_by_every_fact_that_is_given() -> None:
    site = make.site()
    wanted = make.machine(at=site, status="standing", fleet_number="ЕХ-7")
    make.machine(at=site, status="in_service")
    told = Caller(make.person("planner")).get(
        "machines/", site=site.code.lower(), status="standing", fleet_number="ex-7"
    )
    assert [item["id"] for item in told.said["items"]] == [wanted.pk]


def test_a_longer_list_takes_no_more_queries() -> None:
    site = make.site()
    caller = Caller(make.person("planner", at=site))
    counts = []
    for size in (2, 12):
        for _ in range(size):
            make.machine(at=site)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            caller.get("machines/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_never_counts_the_rows() -> None:
    caller = Caller(make.person("planner", at=make.machine().site))
    with CaptureQueriesContext(connection) as asked:
        caller.get("machines/", page_size=1)
    assert not [query for query in asked if "COUNT(" in query["sql"].upper()]


def test_an_answer_is_kept_in_no_cache() -> None:
    caller = Caller(make.person("planner"))
    assert caller.client.get("/api/v1/machines/")["Cache-Control"] == "no-store"


@pytest.mark.parametrize("verb", ["put", "patch", "delete", "options"])
def test_refuses_verbs_in_the_same_shape(verb: str) -> None:
    caller = Caller(make.person("planner"))
    response = getattr(caller.client, verb)("/api/v1/machines/")
    assert response.status_code == 405
    assert response.json()["code"] == "method_not_allowed"
