"""The form of a position: where it is, and what it must stand."""

from typing import Any

from django import forms

from assemblies.models import AssemblySpec, Position
from fleet.forms.typed import length_box, number_box, pressure_box
from fleet.models import Counter


def _choice(label: str, choices: Any, **options: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, **options)


def _whole(label: str, low: int, high: int, **options: Any) -> forms.IntegerField:
    box = forms.TextInput(attrs={"inputmode": "numeric"})
    return forms.IntegerField(
        label=label, min_value=low, max_value=high, widget=box, **{"required": False, **options}
    )


class PositionForm(forms.Form):
    """A position and its duty. What is not known is left empty and shown as not known."""

    place = forms.CharField(
        label="Place", max_length=120, help_text="In words: boom lift, rod side, left."
    )
    place_no = _whole("Number there", 1, 999, initial=1, required=True)
    walk_order = _whole(
        "Place in the walk round", 0, 100_000, help_text="Empty: last. Steps of 10 leave room."
    )
    circuit = _choice("Circuit", Position.Circuit.choices, initial="working")
    counts = _choice("Aged by", Counter.choices, initial="engine")
    consequence = _choice("If it fails", Position.Consequence.choices, initial="unknown")
    exposure = _choice("Exposure", Position.Exposure.choices, initial="normal")
    pressure_bar = pressure_box(
        label="Pressure", required=False, help_text="280, 28 MPa or 4000 psi."
    )
    surge_bar = pressure_box(label="Surges to", required=False)
    flow_l_per_min = number_box(label="Flow", required=False)
    oil_temperature_c = _whole("Oil", -60, 300)
    ambient_temperature_c = _whole("Around it", -60, 300)
    fluid = forms.CharField(label="Fluid", max_length=80, required=False)
    bend_radius_mm = length_box(label="Bend radius", required=False)
    port_a = forms.CharField(label="Port at end A", max_length=80, required=False)
    port_b = forms.CharField(label="Port at end B", max_length=80, required=False)
    required_spec = forms.ModelChoiceField(
        AssemblySpec.objects.none(), label="Required spec", required=False, empty_label="none yet"
    )
    labour_h = number_box(label="Work", required=False)
    people = _whole("People", 1, 20, initial=1, required=True)
    lifting_needed = forms.CharField(
        label="Crane, guards to take off", max_length=160, required=False
    )
    access_group = forms.CharField(
        label="Changed together with",
        max_length=40,
        required=False,
        help_text="The same word on neighbours that are changed in one go.",
    )
    note = forms.CharField(label="Note", max_length=500, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        specs: Any = self.fields["required_spec"]
        specs.queryset = AssemblySpec.objects.filter(withdrawn_at=None)

    def facts(self) -> dict[str, Any]:
        """What the actions take; an empty place in the walk round is left to them."""
        given = dict(self.cleaned_data)
        if given["walk_order"] is None:
            del given["walk_order"]
        return given
