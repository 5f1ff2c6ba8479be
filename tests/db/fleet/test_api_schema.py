"""The published description of the API: complete, valid, and for those who may call."""

import io

import pytest
from django.core.management import call_command

from fleet.api.access import Pace
from tests import factories as make
from tests.api_client import Caller

pytestmark = pytest.mark.django_db


def test_the_description_is_valid_and_has_no_warning() -> None:
    out = io.StringIO()
    call_command("spectacular", "--fail-on-warn", "--validate", stdout=out)
    assert "operationId: machines" in out.getvalue()


def test_every_operation_tells_its_refusals() -> None:
    told = Caller(make.person("fitter")).get("schema/").said
    verbs = [verb for path in told["paths"].values() for verb in path.values()]
    assert len(verbs) >= 4
    for verb in verbs:
        assert {"400", "401", "403", "404", "429"} <= set(verb["responses"])
        assert verb["security"] == [{"apiKey": []}, {"cookieAuth": []}]


def test_nobody_reads_the_description() -> None:
    assert Caller().get("schema/").status == 401


@pytest.mark.parametrize("path", ["hoses/", "machines", "machines/1/2/3/", "%00", ""])
def test_an_unknown_address_is_refused_in_the_same_shape(path: str) -> None:
    caller = Caller(make.person("fitter"))
    for answer in (caller.get(path), caller.post(path, {})):
        assert (answer.status, set(answer.said)) == (404, {"code", "sentence", "field"})
    assert Caller().get(path).status == 401


def test_too_many_calls_are_told_when_to_come_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Pace, "rate", "3/min")
    caller = Caller(make.person("fitter"))
    answers = [caller.client.get("/api/v1/machines/") for _ in range(4)]
    assert [answer.status_code for answer in answers] == [200, 200, 200, 429]
    assert 0 < int(answers[-1]["Retry-After"]) <= 60
    assert Caller(make.person("fitter")).get("machines/").status == 200


def test_a_cache_that_is_down_stops_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    def down(*_: object, **__: object) -> None:
        raise ConnectionError

    caller = Caller(make.person("fitter"))
    monkeypatch.setattr(Pace.cache, "get", down)
    assert caller.get("machines/").status == 200
