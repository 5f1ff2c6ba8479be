"""A register that stands is taken over by a newer Layline: seals make way, and come back."""

from typing import Any

import pytest
from django.apps import apps
from django.db.migrations import Migration
from django.db.models.signals import post_migrate, pre_migrate

from fleet.queries.proofs import seals_are_on

pytestmark = pytest.mark.django_db
SOMETHING: list[Any] = [(Migration("0009_something", "fleet"), False)]


def send(signal: Any, plan: list[Any]) -> None:
    told = {"app_config": None, "verbosity": 0, "interactive": False, "using": "default"}
    for app in apps.get_app_configs():
        signal.send(sender=app, **{**told, "app_config": app}, apps=apps, plan=plan)


def test_seals_make_way_for_a_migration_and_come_back_after_it() -> None:
    send(pre_migrate, SOMETHING)
    assert len(list(seals_are_on())) > 10
    send(post_migrate, SOMETHING)
    assert list(seals_are_on()) == []


def test_seals_stay_on_where_nothing_is_to_be_migrated() -> None:
    send(pre_migrate, [])
    assert list(seals_are_on()) == []
