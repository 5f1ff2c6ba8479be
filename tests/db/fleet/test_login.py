"""Coming in: who is let in, from where, and after how many tries."""

import datetime as dt
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client

from fleet.actions.logins import count_failure, wait_sentence
from fleet.models import FailedLogin, Person
from tests import factories

pytestmark = pytest.mark.django_db
NOON = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
GOOD = "correct horse battery"


@pytest.fixture
def ruth() -> Person:
    made = factories.person("planner", username="ruth")
    made.set_password(GOOD)
    made.save()
    return made


@pytest.fixture
def demo_ruth(ruth: Person) -> Person:
    ruth.demo = True
    ruth.save()
    return ruth


def log_in(client: Client, password: str = GOOD, **meta: Any) -> Any:
    return client.post("/login/", {"username": "ruth", "password": password}, **meta)


def is_in(answer: HttpResponse) -> bool:
    return answer.status_code == 302


def test_lets_a_person_in_with_the_right_password(client: Client, ruth: Person) -> None:
    assert is_in(log_in(client))


def test_keeps_a_person_out_with_a_wrong_one_and_says_so(client: Client, ruth: Person) -> None:
    answer = log_in(client, "wrong")
    assert not is_in(answer)
    assert "look at both and try again" in answer.content.decode()


def test_keeps_a_deactivated_person_out(client: Client, ruth: Person) -> None:
    Person.objects.update(is_active=False)
    assert not is_in(log_in(client))


def test_ends_the_session_of_a_person_who_is_deactivated(client: Client, ruth: Person) -> None:
    log_in(client)
    Person.objects.update(is_active=False)
    assert client.get("/")["Location"].startswith("/login/")


def test_the_sixth_try_is_refused_even_with_the_right_password(
    client: Client, ruth: Person
) -> None:
    for _ in range(5):
        log_in(client, "wrong")
    answer = log_in(client)
    assert not is_in(answer)
    assert "wait 15 minutes" in answer.content.decode()


def test_a_name_written_another_way_is_the_same_name() -> None:
    for name in ("ruth", "RUTH", " ruth", "ｒuth", "ruth"):
        count_failure(name=name, address="10.0.0.1", at=NOON)
    assert wait_sentence(name="Ruth", address="10.0.0.1", at=NOON)


def test_tries_at_one_name_from_many_places_are_counted_together() -> None:
    for n in range(20):
        count_failure(name="ruth", address=f"10.0.0.{n}", at=NOON)
    assert wait_sentence(name="ruth", address="10.0.1.1", at=NOON)
    assert not wait_sentence(name="sam", address="10.0.1.1", at=NOON)


def test_tries_at_many_names_from_one_place_are_counted_together() -> None:
    for n in range(50):
        count_failure(name=f"person {n}", address="10.0.0.1", at=NOON)
    assert wait_sentence(name="ruth", address="10.0.0.1", at=NOON)


def test_after_a_quarter_of_an_hour_tries_are_forgotten_and_gone() -> None:
    for _ in range(5):
        count_failure(name="ruth", address="10.0.0.1", at=NOON)
    later = NOON + dt.timedelta(minutes=15)
    assert not wait_sentence(name="ruth", address="10.0.0.1", at=later)
    count_failure(name="sam", address="10.0.0.2", at=later)
    assert FailedLogin.objects.count() == 1


def test_coming_in_forgets_the_tries_from_that_place(client: Client, ruth: Person) -> None:
    for _ in range(4):
        log_in(client, "wrong")
    log_in(client)
    assert not FailedLogin.objects.exists()


def test_a_demo_log_in_works_on_this_machine(client: Client, demo_ruth: Person) -> None:
    assert is_in(log_in(client, HTTP_HOST="127.0.0.1:8000"))
    assert is_in(log_in(Client(), HTTP_HOST="[::1]:8000", REMOTE_ADDR="::1"))


@pytest.mark.parametrize(
    "meta",
    [
        {"REMOTE_ADDR": "192.0.2.7"},
        {"REMOTE_ADDR": "::ffff:127.0.0.2"},
        {"HTTP_HOST": "testserver"},
        {"HTTP_X_FORWARDED_FOR": "192.0.2.7"},
        {"HTTP_FORWARDED": "for=192.0.2.7"},
        {"HTTP_X_REAL_IP": "127.0.0.1"},
    ],
)
def test_a_demo_log_in_from_elsewhere_is_refused_with_the_reason(
    meta: dict[str, str], client: Client, demo_ruth: Person
) -> None:
    answer = log_in(client, **{"HTTP_HOST": "127.0.0.1:8000", **meta})
    assert not is_in(answer)
    assert "only on the machine that Layline runs on" in answer.content.decode()


def test_is_sent_on_only_to_a_page_of_this_server(client: Client, ruth: Person) -> None:
    away = client.post("/login/?next=//elsewhere.example/", {"username": "ruth", "password": GOOD})
    assert away["Location"] == "/"
