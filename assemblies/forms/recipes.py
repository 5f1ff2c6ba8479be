"""The form of a crimp recipe on a published chart, or a draft for a trial."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from assemblies.forms.boxes import ItemBox, PressureBox, text_box, whole_box
from assemblies.models import RecipeRevision
from fleet.forms.typed import number_box


class JointForm(forms.Form):
    """Which three parts are joined."""

    hose = ItemBox("hose", label="Hose")
    fitting = ItemBox("fitting", label="Fitting")
    shell = ItemBox(
        "shell", label="Shell", required=False, help_text="Empty for a one-piece fitting."
    )


class RecipeForm(forms.Form):
    """How the joint is crimped. What is not known is left empty: nothing is guessed."""

    basis = forms.ChoiceField(
        label="Basis", choices=RecipeRevision.Basis.choices, initial="published"
    )
    chart_source = text_box(
        "The maker's chart",
        300,
        help_text="Document, edition, page. It must name both the hose and the fitting.",
    )
    insertion_depth_mm = number_box(label="Insertion depth", required=False)
    die_set = text_box("Die set", 40)
    external_skive = forms.ChoiceField(
        label="Cover", choices=RecipeRevision.Skive.choices, initial="unknown"
    )
    external_skive_mm = number_box(label="Skived cover", required=False)
    internal_skive = forms.ChoiceField(
        label="Tube", choices=RecipeRevision.Skive.choices, initial="none"
    )
    internal_skive_mm = number_box(label="Skived tube", required=False)
    crimp_od_mm = number_box(label="Crimp OD", required=False)
    tolerance_plus_mm = number_box(label="Tolerance plus", initial=Decimal("0.1"))
    tolerance_minus_mm = number_box(label="Tolerance minus", initial=Decimal("0.1"))
    ovality_max_mm = number_box(label="Most ovality", initial=Decimal("0.2"))
    pin_mm = number_box(label="Pin", required=False)
    pin_from = text_box("Pin enters from", 80)
    must_pass_pin_mm = number_box(label="Pin that must still pass", required=False)
    closing_allowed = forms.BooleanField(
        label="An oversize crimp on the bench may be closed to size", required=False, initial=True
    )
    working_pressure_bar = PressureBox(
        label="Working pressure of the joint",
        required=False,
        help_text="Where the chart states one. A trial's is stated by a person.",
    )
    temperature_high_c = whole_box("Hottest", -50, 500)
    note = text_box("Note", 500)
    change_note = text_box("What changes, and why", 500)
    pairs = (
        ("basis",),
        ("chart_source",),
        ("insertion_depth_mm", "die_set"),
        ("external_skive", "external_skive_mm"),
        ("internal_skive", "internal_skive_mm"),
        ("crimp_od_mm", "ovality_max_mm"),
        ("tolerance_plus_mm", "tolerance_minus_mm"),
        ("pin_mm", "pin_from"),
        ("must_pass_pin_mm",),
        ("closing_allowed",),
        ("working_pressure_bar", "temperature_high_c"),
        ("note",),
        ("change_note",),
    )
    units: Mapping[str, str] = {
        "temperature_high_c": "°C",
        **dict.fromkeys(
            (
                *("insertion_depth_mm", "external_skive_mm", "internal_skive_mm", "crimp_od_mm"),
                *("tolerance_plus_mm", "tolerance_minus_mm", "ovality_max_mm", "pin_mm"),
                "must_pass_pin_mm",
            ),
            "mm",
        ),
    }

    def facts(self) -> dict[str, Any]:
        """What the actions take."""
        pressure = self.cleaned_data["working_pressure_bar"]
        return {**self.cleaned_data, "working_pressure_bar": pressure.bar if pressure else None}

    def rows(self) -> list[list[tuple[forms.BoundField, str]]]:
        """The fields as they stand on the page: in pairs, each with its unit."""
        return [[(self[name], self.units.get(name, "")) for name in names] for names in self.pairs]


def recipe_initial(revision: RecipeRevision) -> dict[str, Any]:
    """What a revision says, for its form; the reason of the change is not said again."""
    names = [name for name in RecipeForm.base_fields if name != "change_note"]
    return {name: getattr(revision, name) for name in names}
