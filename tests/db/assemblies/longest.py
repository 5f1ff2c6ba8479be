"""Rows whose every text is as long as its column allows, in many scripts."""

from typing import Any

from django.db import models

from assemblies.models import (
    FittingRevision,
    HoseRevision,
    ShellRevision,
    SpecRevision,
)
from fleet.models.fields import TextKeyField
from tests.unit.assemblies.fitting_samples import said

_COUNTED = (models.CharField, models.TextField)


def longest(model: type[models.Model], *but_not: str) -> dict[str, str]:
    """For each free text of a table a text just as long as the column."""
    return {
        field.name: said(field.name, field.max_length)
        for field in model._meta.get_fields()
        if isinstance(field, _COUNTED)
        and not isinstance(field, TextKeyField)
        and field.max_length
        and not field.choices
        and not field.primary_key
        and field.name not in but_not
    }


def texts_of(row: models.Model, *but_not: str) -> dict[str, str]:
    """The free texts of a row as they stand."""
    return {name: getattr(row, name) for name in longest(type(row), *but_not)}


def put(row: models.Model, *but_not: str, **facts: Any) -> None:
    """Write a row's texts to their full length, past what the actions would say of it."""
    given = {**longest(type(row), *but_not), **facts}
    type(row)._default_manager.filter(pk=row.pk).update(**given)


_OF_A_DECISION = ("withdrawal_reason", "approval_note")
Coded = HoseRevision | FittingRevision | ShellRevision | SpecRevision


def put_revision(row: Coded, **facts: Any) -> None:
    """The same for a revision and the header that has its code."""
    put(row, *_OF_A_DECISION, **facts)
    header: models.Model = row.header
    key = f"k{header.pk}{type(row).__name__}"[:40]
    put(header, "withdrawal_reason", code=said(str(header), 40), code_key=key)
