"""The published description of the API: complete, valid, and for those who may call."""

import io

import pytest
from django.core.management import call_command

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
