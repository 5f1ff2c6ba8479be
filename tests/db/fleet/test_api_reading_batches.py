"""Many readings over the API at once: each by itself, each once, each answered."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import HourReading, Machine, Sending
from tests import factories as make
from tests.api_client import Answer, Caller, key_of

pytestmark = pytest.mark.django_db


def item(machine: Machine, n: int = 1, **facts: Any) -> dict[str, Any]:
    usual = {"machine_id": machine.pk, "reading_h": f"{1000 + n}", "client_id": f"gateway-{n:04}"}
    return {**usual, "read_at": f"2026-03-0{n}T08:00:00Z", **facts}


def send(caller: Caller, *items: dict[str, Any]) -> Answer:
    return caller.post("readings/", {"items": list(items)})


@pytest.fixture
def machine() -> Machine:
    return make.machine()


@pytest.fixture
def caller(machine: Machine) -> Caller:
    return Caller(make.person("fitter", at=machine.site))


def test_records_each_and_answers_each_in_order(machine: Machine, caller: Caller) -> None:
    other = make.machine(at=machine.site)
    answer = send(caller, item(machine, 1), item(other, 2), item(machine, 3))
    assert answer.status == 200
    assert [one["status"] for one in answer.said["items"]] == [201] * 3
    told = [(one["reading"]["machine_id"], one["reading"]["reading_h"]) for one in _items(answer)]
    assert told == [(machine.pk, "1001.0"), (other.pk, "1002.0"), (machine.pk, "1003.0")]


def test_one_that_is_refused_keeps_none_of_the_others_back(
    machine: Machine, caller: Caller
) -> None:
    answer = send(
        caller,
        item(machine, 1, reading_h="many"),
        item(make.machine(), 2),
        item(machine, 3, counts="hydraulics"),
        item(machine, 4, client_id="short"),
        item(machine, 5, client_id=""),
        item(machine, 6, doubt="x"),
        item(machine, 7, read_at="2026-03-07T08:00:00"),
        item(machine, 8),
    )
    assert [one["status"] for one in _items(answer)] == [400, 404, 400, 400, 400, 400, 400, 201]
    codes = [one["problem"]["code"] for one in _items(answer)[:-1]]
    assert codes == [
        *("invalid", "not_found", "no_meter", "id_shape", "blank"),
        *("unknown_field", "zone_missing"),
    ]
    assert HourReading.objects.get().reading_h == 1008


def test_the_same_batch_again_is_answered_with_the_first(machine: Machine, caller: Caller) -> None:
    first, again = (send(caller, item(machine, 1), item(machine, 2)) for _ in range(2))
    assert [one["status"] for one in _items(again)] == [200, 200]
    assert [one["reading"]["id"] for one in _items(again)] == [
        one["reading"]["id"] for one in _items(first)
    ]
    assert HourReading.objects.count() == Sending.objects.count() == 2


def test_another_content_under_one_id_is_refused_within_a_batch_too(
    machine: Machine, caller: Caller
) -> None:
    answer = send(caller, item(machine, 1), item(machine, 1, reading_h="1009"))
    assert [one["status"] for one in _items(answer)] == [201, 409]
    assert _items(answer)[1]["problem"]["code"] == "sent_otherwise"


def test_an_id_is_one_for_single_sendings_and_batches(machine: Machine, caller: Caller) -> None:
    single = item(machine, 1)
    del single["machine_id"]
    assert caller.post(f"machines/{machine.pk}/readings/", single).status == 201
    assert _items(send(caller, item(machine, 1)))[0]["status"] == 200


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({}, "required"),
        ({"items": []}, "min_length"),
        ({"items": [{}] * 101}, "max_length"),
        ({"items": [1]}, "not_a_dict"),
        ({"items": "x"}, "not_a_list"),
        ({"items": [{}], "more": 1}, "unknown_field"),
    ],
)
def test_refuses_a_batch_that_is_none(caller: Caller, body: Any, code: str) -> None:
    answer = caller.post("readings/", body)
    assert (answer.status, answer.code) == (400, code)


def test_an_item_without_anything_is_refused_alone(machine: Machine, caller: Caller) -> None:
    answer = send(caller, {}, item(machine, 1))
    assert [one["status"] for one in _items(answer)] == [400, 201]


@pytest.mark.parametrize(("role", "status"), [("planner", 201), ("storeman", 403)])
def test_each_role_records_as_it_may(machine: Machine, role: str, status: int) -> None:
    answer = send(Caller(make.person(role, at=machine.site)), item(machine, 1))
    assert _items(answer)[0]["status"] == status


def test_nobody_and_a_key_that_only_reads_record_nothing(machine: Machine) -> None:
    owner = make.person("fitter", at=machine.site)
    assert send(Caller(), item(machine, 1)).status == 401
    assert send(Caller(key=key_of(owner)[1]), item(machine, 1)).code == "key_only_reads"


def test_lists_all_readings_of_the_caller_s_sites_page_by_page(
    machine: Machine, caller: Caller
) -> None:
    send(caller, *(item(machine, n) for n in range(1, 6)))
    stranger = make.machine()
    send(Caller(make.person("fitter", at=stranger.site)), item(stranger, 6))
    first = caller.get("readings/", page_size=3).said
    second = caller.get("readings/", page_size=3, cursor=first["next"]).said
    hours = [one["reading_h"] for one in first["items"] + second["items"]]
    assert hours == ["1005.0", "1004.0", "1003.0", "1002.0", "1001.0"]
    assert second["next"] is None


def test_a_site_is_chosen_by_its_code(machine: Machine) -> None:
    other = make.machine()
    everywhere = Caller(make.person("fitter"))
    send(everywhere, item(machine, 1), item(other, 2))
    told = everywhere.get("readings/", site=other.site.code).said["items"]
    assert [one["machine_id"] for one in told] == [other.pk]


def test_a_longer_list_takes_no_more_queries(machine: Machine, caller: Caller) -> None:
    counts = []
    for n in (1, 2, 3):
        send(caller, item(machine, n))
        with CaptureQueriesContext(connection) as asked:
            caller.get("readings/")
        counts.append(len(asked))
    assert len(set(counts)) == 1


def _items(answer: Answer) -> list[dict[str, Any]]:
    items: list[dict[str, Any]] = answer.said["items"]
    return items
