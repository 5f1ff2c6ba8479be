"""Fields that keep whole numbers in the database and show what the trade writes."""

import datetime as dt
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.expressions import Combinable

from fleet.calc.keys import text_key

EPOCH = dt.date(1970, 1, 1)


class DayField(models.IntegerField):  # type: ignore[type-arg]  # the stubs' two parameters are get and set
    """A calendar day: whole days since 1970-01-01 in the database, a `date` in Python."""

    description = "day"
    _pyi_private_set_type: dt.date | str | Combinable  # type: ignore[assignment]  # what the plugin reads
    _pyi_private_get_type: dt.date  # type: ignore[assignment]  # likewise

    def from_db_value(self, value: int | None, expression: Any, connection: Any) -> dt.date | None:
        return None if value is None else EPOCH + dt.timedelta(days=value)

    def to_python(self, value: Any) -> dt.date | None:
        if value is None or value == "":
            return None
        if isinstance(value, dt.datetime):
            raise ValidationError("A day was expected here, not a moment.")
        if isinstance(value, dt.date):
            return value
        if isinstance(value, int):
            return EPOCH + dt.timedelta(days=value)
        try:
            return dt.date.fromisoformat(str(value))
        except ValueError as error:
            raise ValidationError(f"“{value}” is not a day: write 2026-03-09.") from error

    def get_prep_value(self, value: Any) -> int | None:
        day = self.to_python(value)
        return None if day is None else (day - EPOCH).days

    def value_to_string(self, obj: Any) -> str:
        day = self.value_from_object(obj)
        return "" if day is None else day.isoformat()

    def formfield(self, *args: Any, **kwargs: Any) -> Any:
        from django import forms

        return models.Field.formfield(self, **{"form_class": forms.DateField, **kwargs})

    @property
    def validators(self) -> list[Any]:
        return list(self._validators)  # type: ignore[attr-defined]  # Django's name for those given


class ScaledField(models.BigIntegerField):  # type: ignore[type-arg]  # as above
    """A decimal of stated places: a whole number in the database, a `Decimal` in Python."""

    description = "decimal of %(places)s places"
    _pyi_private_set_type: Decimal | int | str | Combinable  # type: ignore[assignment]  # as above
    _pyi_private_get_type: Decimal  # type: ignore[assignment]  # likewise

    def __init__(self, *args: Any, places: int = 2, low: Any = 0, high: Any = 10**9, **kwargs: Any):
        self.places, self.low, self.high = places, low, high
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        return (
            name,
            path,
            args,
            {**kwargs, "places": self.places, "low": self.low, "high": self.high},
        )

    @property
    def step(self) -> Decimal:
        return Decimal(1).scaleb(-self.places)

    def from_db_value(self, value: int | None, expression: Any, connection: Any) -> Decimal | None:
        return None if value is None else Decimal(value).scaleb(-self.places)

    def to_python(self, value: Any) -> Decimal | None:
        if value is None or value == "":
            return None
        try:
            number = Decimal(str(value))
        except InvalidOperation as error:
            raise ValidationError(f"“{value}” is not a number.") from error
        if not number.is_finite():
            raise ValidationError(f"“{value}” is not a number.")
        return number.quantize(self.step, rounding=ROUND_HALF_EVEN)

    def get_prep_value(self, value: Any) -> int | None:
        number = self.to_python(value)
        return None if number is None else int(number.scaleb(self.places))

    @property
    def validators(self) -> list[Any]:
        bounds = [MinValueValidator(self.low), MaxValueValidator(self.high)]
        given = self._validators  # type: ignore[attr-defined]  # as above
        return [*given, *bounds]

    def formfield(self, *args: Any, **kwargs: Any) -> Any:
        from django import forms

        options = {"form_class": forms.DecimalField, "decimal_places": self.places}
        return models.Field.formfield(self, **{**options, **kwargs})


class TextKeyField(models.CharField):  # type: ignore[type-arg]  # as above
    """The folded key of another column, unique and ordered by code point on every database."""

    def __init__(self, *args: Any, source: str = "", **kwargs: Any):
        self.source = source
        super().__init__(*args, **{"max_length": 200, "editable": False, **kwargs})

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        return name, path, args, {**kwargs, "source": self.source}

    def db_parameters(self, connection: Any) -> Any:
        found = super().db_parameters(connection)
        return {**found, "collation": "C" if connection.vendor == "postgresql" else None}

    def pre_save(self, model_instance: Any, add: bool) -> str:
        key = text_key(getattr(model_instance, self.source) or "")
        setattr(model_instance, self.attname, key)
        return key
