import pytest
from django.test import Client

from tests import factories as make

pytestmark = pytest.mark.django_db
LONG = "9" * 25


@pytest.mark.parametrize("page", ["machines", "positions", "hoses"])
@pytest.mark.parametrize("number", [LONG, "9" * 18])
def test_a_number_that_no_row_can_have_is_unknown(client: Client, page: str, number: str) -> None:
    client.force_login(make.person("planner"))
    assert client.get(f"/{page}/{number}/").status_code == 404
