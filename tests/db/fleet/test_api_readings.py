"""Readings over the API: judged, recorded once, refused in one shape."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.models import HourReading, Machine, Sending, TrailEntry
from tests import factories as make
from tests.api_client import Answer, Caller, key_of

pytestmark = pytest.mark.django_db


def body(**facts: Any) -> dict[str, Any]:
    usual = {"reading_h": "12450.5", "read_at": "2026-03-09T08:00:00+01:00"}
    return {**usual, "client_id": "loader-link-0001", **facts}


def send(machine: Machine, caller: Caller | None = None, **facts: Any) -> Answer:
    who = caller or Caller(make.person("fitter", at=machine.site))
    return who.post(f"machines/{machine.pk}/readings/", body(**facts))


def test_records_a_reading_and_says_what_was_made_of_it() -> None:
    machine = make.machine()
    answer = send(machine)
    assert answer.status == 201
    assert (answer.said["reading_h"], answer.said["doubt"]) == ("12450.5", "")
    assert answer.said["counts_in_forecasts"] is True
    assert answer.said["read_at"] == "2026-03-09T07:00:00Z"
    reading = HourReading.objects.get()
    assert (reading.reading_h, reading.source) == (Decimal("12450.5"), "telematics")
    assert TrailEntry.objects.filter(deed="recorded a reading").count() == 1


def test_a_reading_that_goes_back_is_kept_doubted_and_left_out_of_forecasts() -> None:
    machine = make.machine()
    send(machine)
    answer = send(
        machine, client_id="loader-link-0002", reading_h=9, read_at="2026-03-10T08:00:00Z"
    )
    assert answer.status == 201
    assert answer.said["doubt"]
    assert answer.said["counts_in_forecasts"] is False


@pytest.mark.parametrize("times", [2, 5])
def test_the_same_sending_again_is_answered_with_the_first(times: int) -> None:
    machine = make.machine()
    caller = Caller(make.person("fitter", at=machine.site))
    answers = [send(machine, caller) for _ in range(times)]
    assert [answer.status for answer in answers] == [201] + [200] * (times - 1)
    assert len({answer.said["id"] for answer in answers}) == 1
    assert HourReading.objects.count() == Sending.objects.count() == 1


def test_the_same_reading_under_another_id_is_not_recorded_twice() -> None:
    machine = make.machine()
    first = send(machine)
    again = send(machine, client_id="loader-link-0002", read_at="2026-03-09T07:00:00Z")
    assert (again.status, again.said["id"]) == (200, first.said["id"])


@pytest.mark.parametrize("change", [{"reading_h": 1}, {"counts": "hydraulics"}, {"reference": "x"}])
def test_another_content_under_the_same_id_is_refused_and_both_are_kept(
    change: dict[str, Any],
) -> None:
    machine = make.machine()
    caller = Caller(make.person("fitter", at=machine.site))
    send(machine, caller)
    for _ in range(2):
        answer = send(machine, caller, **change)
        assert (answer.status, answer.code) == (409, "sent_otherwise")
    assert HourReading.objects.count() == 1
    assert sorted(Sending.objects.values_list("is_first", flat=True)) == [False, True]


def test_two_people_may_use_the_same_id() -> None:
    machine = make.machine()
    assert send(machine).status == 201
    assert send(machine, reading_h=12451, read_at="2026-03-09T09:00:00Z").status == 201


def test_a_refused_sending_leaves_its_id_free() -> None:
    machine = make.machine()
    caller = Caller(make.person("fitter", at=machine.site))
    assert send(machine, caller, counts="hydraulics").code == "no_meter"
    assert Sending.objects.count() == 0
    assert send(machine, caller).status == 201


def test_the_id_may_stand_in_the_header() -> None:
    machine = make.machine()
    caller = Caller(make.person("fitter", at=machine.site))
    path, sent = f"machines/{machine.pk}/readings/", body()
    del sent["client_id"]
    assert caller.post(path, sent).code == "id_missing"
    assert caller.post(path, sent, Idempotency_Key="loader-link-0001").status == 201
    assert caller.post(path, body(), Idempotency_Key="loader-link-0001").status == 200
    assert caller.post(path, body(), Idempotency_Key="loader-link-0009").code == "ids_differ"


@pytest.mark.parametrize(
    ("role", "status"),
    [("planner", 201), ("fitter", 201), ("inspector", 201), ("storeman", 403), ("manager", 403)],
)
def test_each_role_records_as_it_may(role: str, status: int) -> None:
    machine = make.machine()
    answer = send(machine, Caller(make.person(role, at=machine.site)))
    assert answer.status == status
    if status == 403:
        assert answer.code == "not_allowed"


def test_a_stranger_is_told_that_there_is_no_such_machine() -> None:
    stranger = Caller(make.person("planner", at=make.site()))
    foreign = send(make.machine(), stranger)
    assert foreign.status == 404
    assert foreign == stranger.post("machines/999999/readings/", body())
    assert HourReading.objects.count() == Sending.objects.count() == 0


def test_nobody_records_nothing() -> None:
    assert send(make.machine(), Caller()).status == 401


def test_a_key_that_only_reads_records_nothing_and_a_writing_one_does() -> None:
    machine = make.machine()
    owner = make.person("fitter", at=machine.site)
    reading_key, writing_key = key_of(owner)[1], key_of(owner, may_write=True)
    assert send(machine, Caller(key=reading_key)).code == "key_only_reads"
    assert send(machine, Caller(key=writing_key[1])).status == 201
    assert HourReading.objects.get().source_ref == f"API key {writing_key[0].prefix}"


def test_a_session_without_its_csrf_token_is_refused() -> None:
    machine = make.machine()
    client = Client(enforce_csrf_checks=True)
    client.force_login(make.person("fitter", at=machine.site))
    path = f"/api/v1/machines/{machine.pk}/readings/"
    answer = client.post(path, body(), content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (403, "permission_denied")


@pytest.mark.parametrize(
    ("facts", "code", "field"),
    [
        ({"reading_h": "many"}, "invalid", "reading_h"),
        ({"reading_h": -1}, "min_value", "reading_h"),
        ({"reading_h": 10**7 + 1}, "max_value", "reading_h"),
        ({"reading_h": None}, "null", "reading_h"),
        ({"reading_h": "1.23456"}, "max_decimal_places", "reading_h"),
        ({"reading_h": [1]}, "invalid", "reading_h"),
        ({"reading_h": True}, "invalid", "reading_h"),
        ({"reading_h": "9" * 2000}, "max_string_length", "reading_h"),
        ({"read_at": "2026-03-09T08:00:00"}, "zone_missing", "read_at"),
        ({"read_at": "9/3/2026"}, "not_a_moment", "read_at"),
        ({"read_at": "0001-01-01T00:00:00+14:00"}, "not_a_moment", "read_at"),
        ({"read_at": "9999-12-31T23:59:59-14:00"}, "not_a_moment", "read_at"),
        ({"read_at": 5}, "not_a_moment", "read_at"),
        ({"counts": "km"}, "unknown_word", "counts"),
        ({"origin": "job"}, "unknown_word", "origin"),
        ({"reference": "x" * 81}, "max_length", "reference"),
        ({"client_id": "short"}, "id_shape", "client_id"),
        ({"client_id": "with a space in it"}, "id_shape", "client_id"),
        ({"doubt": ""}, "unknown_field", "doubt"),
        ({"machine_id": 7}, "unknown_field", "machine_id"),
    ],
)
def test_refuses_a_body_that_says_nothing_sure(
    facts: dict[str, Any], code: str, field: str
) -> None:
    answer = send(make.machine(), **facts)
    assert (answer.status, answer.code, answer.said["field"]) == (400, code, field)
    assert HourReading.objects.count() == 0


@pytest.mark.parametrize(
    "raw",
    [b"[" * 100_000, b'{"reading_h": NaN}', b'{"reference": "\\u0000"}', b"[]", b"\xff", b""],
)
def test_refuses_a_body_that_is_no_plain_object(raw: bytes) -> None:
    machine = make.machine()
    caller = Caller(make.person("fitter", at=machine.site))
    answer = caller.post(f"machines/{machine.pk}/readings/", raw)
    assert answer.status == 400
    assert set(answer.said) >= {"code", "sentence", "field"}


def test_refuses_what_is_not_json_by_its_type() -> None:
    machine = make.machine()
    caller = Caller(make.person("fitter", at=machine.site))
    answer = caller.client.post(f"/api/v1/machines/{machine.pk}/readings/", {"reading_h": 1})
    assert (answer.status_code, answer.json()["code"]) == (415, "media_type")


def test_tells_every_fault_of_a_body_at_once() -> None:
    answer = send(make.machine(), reading_h="x", read_at="y")
    assert [answer.said["field"], *(more["field"] for more in answer.said["more"])] == [
        "reading_h",
        "read_at",
    ]


def test_lists_the_readings_the_last_first_page_by_page() -> None:
    machine = make.machine()
    caller = Caller(make.person("fitter", at=machine.site))
    for hour in range(5):
        send(
            machine,
            caller,
            reading_h=100 + hour,
            read_at=f"2026-03-0{hour + 1}T08:00:00Z",
            client_id=f"loader-{hour:04}",
        )
    path = f"machines/{machine.pk}/readings/"
    first = caller.get(path, page_size=3).said
    second = caller.get(path, page_size=3, cursor=first["next"]).said
    hours = [item["reading_h"] for item in first["items"] + second["items"]]
    assert hours == ["104.0", "103.0", "102.0", "101.0", "100.0"]
    assert second["next"] is None


def test_a_longer_list_of_readings_takes_no_more_queries() -> None:
    machine = make.machine()
    caller = Caller(make.person("fitter", at=machine.site))
    counts = []
    for hour in range(6):
        when = f"2026-03-0{hour + 1}T08:00:00Z"
        send(machine, caller, reading_h=100 + hour, read_at=when, client_id=f"loader-{hour:04}")
        with CaptureQueriesContext(connection) as asked:
            caller.get(f"machines/{machine.pk}/readings/")
        counts.append(len(asked))
    assert len(set(counts)) == 1


def test_the_readings_of_anothers_machine_are_not_there() -> None:
    stranger = Caller(make.person("planner", at=make.site()))
    assert stranger.get(f"machines/{make.machine().pk}/readings/").status == 404
