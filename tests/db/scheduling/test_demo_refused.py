"""Where the demo is not loaded: into a register that holds something of its own."""

import pytest
from django.core.management import CommandError, call_command

from fleet.models import Machine
from tests import factories


@pytest.mark.django_db
def test_a_register_with_sites_of_its_own_is_refused() -> None:
    factories.site(code="REAL", name="A quarry of its own")
    with pytest.raises(CommandError, match="sites or people of its own"):
        call_command("load_demo")
    assert Machine.objects.count() == 0


@pytest.mark.django_db
def test_a_register_with_people_alone_is_refused_too() -> None:
    factories.person(username="someone")
    with pytest.raises(CommandError, match="sites or people of its own"):
        call_command("load_demo")
