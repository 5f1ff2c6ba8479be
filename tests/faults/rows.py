"""Plain rows of any table: what a row needs is made with it."""

import datetime as dt
import hashlib
from decimal import Decimal
from typing import Any

from django.db import models

from fleet.models.fields import DayField, ScaledField, TextKeyField

MOMENT = dt.datetime(2026, 3, 9, 8, 0, tzinfo=dt.UTC)

# Values that a row needs beside what its fields ask for: its check constraints ask for them.
NEEDED: dict[str, dict[str, Any]] = {
    "assemblies.stay": {"place": "store"},
    "assemblies.buildend": {"which": "A"},
    "assemblies.specend": {"which": "A"},
    "fleet.apikey": {"expires_at": MOMENT + dt.timedelta(days=1)},
    "assemblies.stockitem": {"name": "cap"},
    "assemblies.reciperevision": {"basis": "trial"},
    "scheduling.liferulerevision": {"built_months": 72},
    "scheduling.recall": {"verdict": "out_now"},
}
# Rows that may be missing by themselves but not all at once.
POINTED_AT: dict[str, set[str]] = {"assemblies.frozenpaper": {"assembly"}}


Made = dict[type[models.Model], int]


def values_for(
    model: type[models.Model], mark: str, made: Made | None = None, **given: Any
) -> dict[str, Any]:
    """Column values of one plain row of the model, keyed by attribute; `mark` makes it its own.

    Rows that it needs are made once each: its site is the site of what it points at.
    """
    made = {} if made is None else made
    wanted = {**NEEDED.get(model._meta.label_lower, {}), **given}
    values: dict[str, Any] = {}
    for field in model._meta.local_concrete_fields:
        if field.name in wanted or field.attname in wanted:
            value = wanted.get(field.name, wanted.get(field.attname))
            values[field.attname] = value.pk if isinstance(value, models.Model) else value
        elif _must_be_given(field) or field.name in POINTED_AT.get(model._meta.label_lower, ()):
            values[field.attname] = _value(field, mark, made)
    return values


def make_row(
    model: type[models.Model], mark: str, made: Made | None = None, **given: Any
) -> models.Model:
    """A plain row, written."""
    return model._base_manager.create(**values_for(model, mark, made, **given))


def _must_be_given(field: "models.Field[Any, Any]") -> bool:
    if field.auto_created or isinstance(field, TextKeyField):
        return False
    if isinstance(field, models.CharField | models.TextField) and not field.choices:
        return not field.blank or field.unique
    return not (field.null or field.has_default())


def _value(field: "models.Field[Any, Any]", mark: str, made: Made) -> Any:
    if isinstance(field, models.ForeignKey):
        target = field.related_model
        if target not in made:
            made[target] = make_row(target, mark, made).pk
        return made[target]
    if field.choices:
        return next(iter(field.flatchoices))[0]
    return _plain(field, mark)


def _plain(field: "models.Field[Any, Any]", mark: str) -> Any:
    if isinstance(field, DayField):
        return MOMENT.date()
    if isinstance(field, ScaledField):
        return Decimal(1)
    if isinstance(field, models.DateTimeField):
        return MOMENT
    if isinstance(field, models.BooleanField):
        return False
    if isinstance(field, models.IntegerField):
        return 1
    if isinstance(field, models.JSONField):
        return {}
    if isinstance(field, models.BinaryField):
        return b""
    return _short(mark, field.max_length or 40)


def _short(mark: str, length: int) -> str:
    """The mark, or as much of it as fits with a sum that keeps it apart from others."""
    if len(mark) <= length:
        return mark
    digest = hashlib.sha256(mark.encode()).hexdigest()
    return digest[:length]
