"""Form fields of the catalogue: sizes in any notation, pressures as printed, items by code."""

from typing import Any

from django import forms

from assemblies.calc.sizes import SizeError, parse_size, tube_size_dn
from assemblies.queries.catalogue import item_named
from fleet.calc.units import Pressure, UnitError, parse_pressure

TUBE_NAMED = frozenset({"100R5", "100R14"})


class SizeBox(forms.CharField):
    """A hose size: `DN12`, `-8`, `1/2`. A bare `12` is asked about, with what it could be."""

    def __init__(self, **options: Any) -> None:
        hint = 'In any notation: DN12, -8, 1/2" or 12.7 mm.'
        super().__init__(**{"label": "Size", "max_length": 20, "help_text": hint, **options})

    def prepare_value(self, value: Any) -> Any:
        return f"DN{value}" if isinstance(value, int) else value


def read_size(typed: str, hose_type: str = "") -> int:
    """The DN of a typed size; the dash of 100R5 and 100R14 hose names the tube it replaces.

    Raises `ValidationError`.
    """
    try:
        if hose_type in TUBE_NAMED and typed.strip().startswith("-"):
            return tube_size_dn(int(typed.strip()[1:]))
        return parse_size(typed).dn
    except SizeError as error:
        raise forms.ValidationError(str(error), code="size") from error
    except ValueError as error:
        raise forms.ValidationError(f"“{typed}” is no size of {hose_type}.") from error


class PressureBox(forms.CharField):
    """A pressure in bar, psi or MPa; gives a `Pressure`, with the text as it was typed."""

    def __init__(self, **options: Any) -> None:
        box = forms.TextInput(attrs={"autocomplete": "off"})
        hint = "275 bar, 27.5 MPa or 4000 psi. A bare figure is bar."
        super().__init__(**{"max_length": 40, "widget": box, "help_text": hint, **options})

    def prepare_value(self, value: Any) -> Any:
        return value if isinstance(value, str) or value is None else f"{value.normalize():f} bar"

    def clean(self, value: Any) -> Pressure | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse_pressure(text, default_unit="bar")
        except UnitError as error:
            raise forms.ValidationError(str(error), code="pressure") from error


class ItemBox(forms.CharField):
    """An item of the catalogue by its code, with codes suggested; gives the item."""

    def __init__(self, slug: str, **options: Any) -> None:
        self.slug = slug
        box = forms.TextInput(attrs={"list": f"codes-{slug}", "autocomplete": "off"})
        super().__init__(**{"max_length": 40, "widget": box, **options})

    def prepare_value(self, value: Any) -> Any:
        return getattr(value, "code", value)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        found = item_named(self.slug, text)
        if found is None:
            raise forms.ValidationError(
                f"The catalogue has no {self.slug} with the code “{text}”.", code="no_such_item"
            )
        return found


def whole_box(label: str, low: int, high: int, **options: Any) -> forms.IntegerField:
    """A whole figure without a spinner."""
    box = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    given = {"required": False, "widget": box, **options}
    return forms.IntegerField(label=label, min_value=low, max_value=high, **given)


def text_box(label: str, longest: int, **options: Any) -> forms.CharField:
    """A line of text that may be left."""
    return forms.CharField(label=label, max_length=longest, **{"required": False, **options})


def printed_text(pressure: Pressure | None, printed: str) -> str:
    """What stands on the hose: as it was said to be printed, else as the pressure was typed."""
    return printed.strip() or (pressure.typed if pressure else "")
