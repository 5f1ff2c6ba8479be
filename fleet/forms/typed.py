"""Form fields that take what people write: hours, days, measures; never a number spinner."""

import datetime as dt
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms

from fleet.calc.typed_moments import TypedMoment, parse_moment
from fleet.calc.units import parse_hours, parse_length, parse_pressure

_WRITTEN = ("%Y-%m-%d", "%d %b %Y", "%d %B %Y")


class DayBox(forms.DateField):
    """A day without doubt: 2026-03-09 or 9 Mar 2026. 9/3/2026 is asked about, not guessed."""

    def __init__(self, **options: Any) -> None:
        box = forms.DateInput(
            format="%Y-%m-%d", attrs={"inputmode": "text", "autocomplete": "off", "size": 12}
        )
        super().__init__(**{"input_formats": _WRITTEN, "widget": box, **options})

    def to_python(self, value: Any) -> dt.date | None:
        if isinstance(value, str) and re.fullmatch(r"\s*\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4}\s*", value):
            raise forms.ValidationError(
                f"“{value.strip()}” could be two days: write 2026-03-09 or 9 Mar 2026."
            )
        try:
            return super().to_python(value)
        except forms.ValidationError as error:
            raise forms.ValidationError(
                f"“{value}” is not a day: write 2026-03-09 or 9 Mar 2026."
            ) from error


class MomentBox(forms.CharField):
    """A day, a time or both: 2026-03-09 07:30, 9 Mar 2026, 07:30. Gives a `TypedMoment`."""

    def __init__(self, **options: Any) -> None:
        box = forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off", "size": 16})
        super().__init__(**{"max_length": 40, "widget": box, **options})

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text.strip():
            return TypedMoment(None, None)
        try:
            return parse_moment(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error


class MeasureBox(forms.CharField):
    """A figure with or without its unit; gives the figure in the field's own unit."""

    def __init__(self, read: Callable[[str], Decimal], **options: Any) -> None:
        self.read = read
        box = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__(**{"max_length": 40, "widget": box, **options})

    def prepare_value(self, value: Any) -> Any:
        """A figure that stands already is shown without idle noughts."""
        if not isinstance(value, Decimal):
            return value
        text = f"{value:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if text == "":
            return None
        try:
            return self.read(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error


def hours_box(**options: Any) -> MeasureBox:
    """Meter hours: `12450`, `12 450,5 h`."""
    return MeasureBox(lambda text: Decimal(parse_hours(text).tenths) / 10, **options)


def pressure_box(**options: Any) -> MeasureBox:
    """A pressure; a bare figure is bar."""
    return MeasureBox(lambda text: parse_pressure(text, default_unit="bar").bar, **options)


def length_box(**options: Any) -> MeasureBox:
    """A length; a bare figure is millimetres."""
    return MeasureBox(lambda text: parse_length(text, default_unit="mm").mm, **options)


def number_box(**options: Any) -> MeasureBox:
    """A plain figure: `12.5` or `12,5`."""
    return MeasureBox(_plain_number, **options)


def _plain_number(text: str) -> Decimal:
    if not re.fullmatch(r"\d{1,9}([.,]\d{1,3})?", text.strip()):
        raise ValueError(f"“{text}” is not a plain figure: write 12.5.")
    return Decimal(text.strip().replace(",", "."))
