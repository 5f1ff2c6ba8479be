"""What must always hold is held by the database: of two at once exactly one wins.

Each rule that only one row may satisfy is raced by two processes. Those of the register's own
law are raced 200 times, and again with the constraint taken away: then both must win, or the
race would prove nothing.
"""

import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, models, transaction

from assemblies.models import Assembly, Position, ShellItem, StockItem
from fleet.models import HourReading, Machine, Site
from fleet.models.seals import install_seals, remove_seals
from scheduling.models import Recall
from tests.faults.rows import MOMENT, make_row, values_for
from tests.faults.two_sessions import Attempt, Sessions

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(600)]
OURS = ("fleet", "assemblies", "scheduling")

# The register's own law: one place, one hose a position, one tag, one approved revision, one
# number. Raced 200 times, with the constraint and without.
LAW = (
    "assembly_in_one_place",
    "position_holds_one_assembly",
    "owner_mark_once_at_a_site",
    "fleet_number_once_at_a_site",
    "machine_at_one_site",
    "part_on_one_carrier",
    "one_meter_a_counter",
    "recipe_revision_one_approved",
    "spec_revision_one_approved",
    "life_rule_one_approved",
    "sheet_number_once",
    "paper_number_once",
)


def _unique_constraints() -> dict[str, tuple[type[models.Model], models.UniqueConstraint]]:
    tables = [model for label in OURS for model in apps.get_app_config(label).get_models()]
    return {
        str(rule.name): (model, rule)
        for model in tables
        for rule in model._meta.constraints
        if isinstance(rule, models.UniqueConstraint)
    }


UNIQUE = _unique_constraints()
# Rules that speak only of rows that point at something: the column, and what it points at.
POINTING: dict[str, tuple[str, type[models.Model]]] = {
    "posting_once_at_a_site": ("site", Site),
    "one_recipe_a_joint": ("shell", ShellItem),
    "recalled_once": ("recall", Recall),
}


def _given(name: str, mark: str) -> dict[str, Any]:
    """What a row must hold for the rule's condition to speak of it."""
    model = UNIQUE[name][0]
    given = _told(name, mark)
    if name == "position_holds_one_assembly":
        given |= {"place": "position", "position": make_row(Position, "p" + mark)}
    if name == "one_stale_mark_a_subject":
        given |= {"subject_id": zlib.crc32(mark.encode())}
    if name in POINTING:
        column, table = POINTING[name]
        given |= {column: make_row(table, mark)}
    if name == "part_on_one_carrier":
        given |= {"carrier": make_row(Machine, mark + "c")}
    if name == "owner_mark_once_at_a_site":
        given |= {"owner_mark": mark}
    if name in ("fitting_lot_once", "shell_lot_once"):
        kind = name.split("_", maxsplit=1)[0]
        target = model._meta.get_field(kind).related_model
        assert isinstance(target, type)
        given |= {kind: make_row(target, mark), "name": "", "lot": mark}
    if name == "small_part_once_at_a_site":
        given |= {"name": mark}
    if name.endswith("_one_approved"):
        given |= {"state": "approved", "approved_at": MOMENT, "approved_by": _person(mark)}
    if name == "recipe_revision_one_approved":
        given |= {"crimp_od_mm": 26, "working_pressure_bar": 100, "rated_by": _person(mark + "r")}
    if name == "reading_replaced_once":
        given |= {"replaces": make_row(HourReading, mark + "r")}
    if name == "errand_asked_once":
        given |= {"key": mark}
    if name == "errand_once_a_period":
        given |= {"period": mark[-40:]}
    return given


def _told(name: str, mark: str) -> dict[str, Any]:
    """The id under which something is told, and who tells it, where the rule speaks of those."""
    fields = UNIQUE[name][1].fields
    if "client_id" not in fields:
        return {}
    tellers = {field: _person(mark) for field in fields if field.endswith("_by")}
    return {"client_id": mark[-40:], **tellers}


def _person(mark: str) -> models.Model:
    return make_row(apps.get_model("fleet.Person"), mark)


def _second(name: str, mark: str) -> dict[str, Any]:
    """How the second session's row differs, so that no other rule decides the race."""
    if name.endswith("_one_approved"):
        return {"number": 2}
    if name == "position_holds_one_assembly":
        return {"assembly_id": make_row(Assembly, mark + "b").pk}
    return {}


def _attempts(name: str, rounds: int) -> list[Attempt]:
    model = UNIQUE[name][0]
    label, marks = model._meta.label_lower, [f"{name}-{i}" for i in range(rounds)]
    with transaction.atomic():
        return [
            Attempt(label, values_for(model, mark, **_given(name, mark)), _second(name, mark))
            for mark in marks
        ]


@contextmanager
def _without(name: str) -> Iterator[None]:
    model, rule = UNIQUE[name]
    rules = model._meta.constraints
    # SQLite makes the table anew from what the model says.
    model._meta.constraints = [other for other in rules if other is not rule]
    with connection.schema_editor() as editor:
        editor.remove_constraint(model, rule)
    try:
        yield
    finally:
        remove_seals(using="default")
        model._base_manager.all()._raw_delete(connection.alias)
        model._meta.constraints = rules
        with connection.schema_editor() as editor:
            editor.add_constraint(model, rule)
        install_seals(using="default")


@pytest.fixture(scope="module")
def sessions(django_db_setup: None, django_db_blocker: Any) -> Iterator[Sessions]:
    with django_db_blocker.unblock():
        both = Sessions()
    yield both
    both.close()


@pytest.mark.parametrize("name", sorted(UNIQUE))
def test_exactly_one_of_two_wins(sessions: Sessions, name: str) -> None:
    rounds = 200 if name in LAW else 10
    assert sessions.race(_attempts(name, rounds)) == [1] * rounds


@pytest.mark.parametrize("name", LAW)
def test_without_its_constraint_both_win(sessions: Sessions, name: str) -> None:
    with _without(name):
        assert 2 in sessions.race(_attempts(name, 20))


def test_stock_is_never_taken_twice(sessions: Sessions) -> None:
    with transaction.atomic():
        site = make_row(Site, "stock")
        items = [
            make_row(StockItem, "cap", site=site, name=f"cap {i}", balance=Decimal(5))
            for i in range(200)
        ]
    takes = [Attempt("assemblies.stockitem", take=(item.pk, "balance", 3000)) for item in items]
    assert sessions.race(takes) == [1] * 200
