"""What every answer of the server carries, and what it takes in."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client, RequestFactory, override_settings

from fleet.config.middleware import CONTENT_POLICY
from fleet.config.uploads import UploadLimit
from tests import factories

pytestmark = pytest.mark.django_db


def test_every_answer_carries_the_content_policy_and_a_request_id(client: Client) -> None:
    first, second = client.get("/health/live"), client.get("/no-such-page")
    assert first["Content-Security-Policy"] == second["Content-Security-Policy"] == CONTENT_POLICY
    assert first["X-Request-ID"] != second["X-Request-ID"]
    assert first["X-Content-Type-Options"] == "nosniff"
    assert first["X-Frame-Options"] == "DENY"
    assert first["Referrer-Policy"] == "same-origin"


def test_the_content_policy_allows_nothing_written_into_a_page() -> None:
    assert CONTENT_POLICY.startswith("default-src 'none'")
    assert "unsafe" not in CONTENT_POLICY
    assert "*" not in CONTENT_POLICY


def test_what_a_person_was_shown_stays_in_no_cache(client: Client) -> None:
    assert "Cache-Control" not in client.get("/health/live")
    client.force_login(factories.person("planner"))
    assert client.get("/health/live")["Cache-Control"] == "no-store"


def test_nobody_sees_a_page_without_a_log_in(client: Client) -> None:
    answer = client.get("/")
    assert answer.status_code == 302
    assert answer["Location"].startswith("/login/")


def test_leaving_takes_a_press_and_not_a_link(client: Client) -> None:
    client.force_login(factories.person("planner"))
    assert client.get("/logout/").status_code == 405
    assert client.post("/logout/").status_code == 302
    assert client.get("/")["Location"].startswith("/login/")


def test_a_healthy_server_says_so_and_names_nothing_of_the_register(client: Client) -> None:
    assert client.get("/health/live").json() == {"state": "alive"}
    answer = client.get("/health/ready").json()
    assert set(answer) == {"state", "failing"}


@override_settings(UPLOAD_LIMIT_BYTES=1000)
@pytest.mark.parametrize(("size", "kept"), [(400, True), (5000, False)])
def test_a_file_over_the_limit_is_stopped_with_a_sentence(size: int, kept: bool) -> None:
    file = SimpleUploadedFile("register.csv", b"x" * size)
    request = RequestFactory().post("/", {"name": "BQ", "file": file})
    request.upload_handlers.insert(0, UploadLimit(request))
    assert request.POST["name"] == "BQ"
    assert ("file" in request.FILES) is kept
    assert ("larger than" in getattr(request, "upload_refusal", "")) is not kept
