"""What was signed or used is closed by the database, for every sealed table there is."""

from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction

from fleet.models.seals import Seal, install_seals, remove_seals, sealed_models
from tests.faults.rows import MOMENT, make_row

pytestmark = pytest.mark.django_db
SEALED = sorted((model._meta.label for model in sealed_models()), key=str)


def _closed_row(label: str) -> models.Model:
    """A row of the table in the state in which its seal holds."""
    model = apps.get_model(label)
    seal: Seal = model.seal
    given: dict[str, Any] = {}
    if "OLD.state" in seal.when:
        given = {"state": "withdrawn"}
    if "OLD.is_open" in seal.when:
        given = {"is_open": False, "to_on": MOMENT.date()}
    if "OLD.ended_at" in seal.when:
        given = {"ended_at": MOMENT, "state": "done"}
    if "OLD.closed_at" in seal.when:
        given = {"closed_at": MOMENT}
    if "OLD.finished_at" in seal.when:
        given = {"finished_at": MOMENT}
    if label == "assemblies.BuildRecord":
        given = {"signed_at": MOMENT, "signed_by": make_row(apps.get_model("fleet.Person"), "s")}
    row = make_row(model, label, **given)
    _close_parent(label, row)
    return row


def _close_parent(label: str, row: Any) -> None:
    """Close what a row is part of, where that is what closes the row."""
    if label == "assemblies.BuildEnd":
        signer = make_row(apps.get_model("fleet.Person"), "s")
        type(row.build).objects.update(signed_at=MOMENT, signed_by=signer)
    if label in ("assemblies.SpecEnd", "assemblies.SpecSleeve"):
        type(row.spec).objects.update(state="withdrawn")


def _changed(field: "models.Field[Any, Any]") -> str:
    """SQL for another value of a column, of the column's own kind."""
    text = isinstance(
        field, models.CharField | models.TextField | models.JSONField | models.BinaryField
    )
    if isinstance(field, models.JSONField):
        return "'[1]'"
    if isinstance(field, models.BooleanField):
        return f"NOT COALESCE({field.column}, false)"
    if isinstance(field, models.DateTimeField):
        return "'2001-01-01 00:00:00'"
    return "'Z'" if text else "9876"


def _open_columns(model: type[models.Model]) -> frozenset[str]:
    seal: Seal = model.seal  # type: ignore[attr-defined]  # as above
    return seal.may_change


@pytest.mark.parametrize("label", SEALED)
def test_no_fixed_column_of_a_closed_row_can_change(label: str) -> None:
    row = _closed_row(label)
    model = type(row)
    for field in model._meta.local_concrete_fields:
        if field.primary_key or field.column in _open_columns(model):
            continue
        statement = f'UPDATE {model._meta.db_table} SET "{field.column}" = {_changed(field)}'
        with pytest.raises(IntegrityError, match="sealed"), transaction.atomic():
            connection.cursor().execute(statement)


@pytest.mark.parametrize("label", SEALED)
def test_no_closed_row_can_be_deleted(label: str) -> None:
    row = _closed_row(label)
    statement = f"DELETE FROM {row._meta.db_table}"
    with pytest.raises(IntegrityError, match="sealed"), transaction.atomic():
        connection.cursor().execute(statement)


@pytest.mark.parametrize("label", SEALED)
def test_without_its_seal_a_row_can_be_deleted(label: str) -> None:
    """The check above would mean nothing if the row could not go anyway."""
    row = _closed_row(label)
    remove_seals(using="default")
    try:
        with transaction.atomic():
            removed = type(row)._base_manager.filter(pk=row.pk)._raw_delete("default")
            assert removed == 1
            transaction.set_rollback(True)
    finally:
        install_seals(using="default")


def test_an_approved_spec_takes_no_further_end() -> None:
    end = _closed_row("assemblies.SpecEnd")
    with pytest.raises(IntegrityError, match="sealed"), transaction.atomic():
        type(end)._base_manager.create(
            spec_id=end.spec_id,  # type: ignore[attr-defined]  # a SpecEnd
            which="B",
            fitting_id=end.fitting_id,  # type: ignore[attr-defined]  # likewise
        )


def test_the_end_of_a_draft_spec_can_go() -> None:
    end = make_row(apps.get_model("assemblies.SpecEnd"), "draft")
    assert end.delete()[0] == 1
