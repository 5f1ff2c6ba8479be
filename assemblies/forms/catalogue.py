"""Forms of the catalogue: a hose, a fitting, a shell."""

from collections.abc import Mapping
from typing import Any

from django import forms

from assemblies.calc.connections import ENDS
from assemblies.calc.lengths import Basis
from assemblies.calc.standard_notes import StandardNote, end_notes, hose_notes
from assemblies.forms.boxes import (
    PressureBox,
    SizeBox,
    printed_text,
    read_size,
    text_box,
    whole_box,
)
from assemblies.models import FittingRevision, HoseRevision
from assemblies.standards import tables
from fleet.forms.typed import length_box, number_box

_SOURCE_HINT = (
    "The document behind the figure. May be left where it is the standard's own; above the "
    "standard it must be the maker's."
)


class ItemForm(forms.Form):
    """What every item has. The code is typed once, when the item is added."""

    code = forms.CharField(label="Code", max_length=40, help_text="As the workshop calls it.")
    maker = forms.CharField(label="Maker", max_length=80)
    product = forms.CharField(label="Product", max_length=80)
    size_field = "tail_dn"
    pairs: tuple[tuple[str, ...], ...] = ()
    units: Mapping[str, str] = {}

    def __init__(self, *args: Any, adding: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["note"] = text_box("Note", 500)
        if not adding:
            self.fields["change_note"] = text_box("What changes, and why", 500)
            del self.fields["code"]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        typed = given.get(self.size_field)
        if isinstance(typed, str):
            try:
                given[self.size_field] = read_size(typed, given.get("standard_type", ""))
            except forms.ValidationError as error:
                self.add_error(self.size_field, error)
        return given

    def facts(self) -> dict[str, Any]:
        """What the actions take: a pressure in bar, and as it was printed or typed."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "code"}
        if "working_pressure_bar" in given:
            pressure, changed = given["working_pressure_bar"], self.changed_data
            # A print that was left as it stood belongs to the figure that stood beside it.
            stale = "working_pressure_bar" in changed and "printed_pressure" not in changed
            printed = "" if stale else given["printed_pressure"]
            given["printed_pressure"] = printed_text(pressure, printed)
            given["working_pressure_bar"] = pressure.bar if pressure else None
        return given

    def rows(self) -> list[list[tuple[forms.BoundField, str]]]:
        """The fields as they stand on the page: in pairs, each with its unit."""
        told = [[self[name] for name in names if name in self.fields] for names in self.pairs]
        return [[(bound, self.units.get(bound.name, "")) for bound in row] for row in told if row]


class HoseForm(ItemForm):
    """Bulk hose."""

    size_field = "size_dn"
    standard_type = forms.ChoiceField(
        label="Type",
        required=False,
        help_text="A three-braid or textile hose stands in no table: its maker's data count.",
    )
    size_dn = SizeBox()
    working_pressure_bar = PressureBox(label="Working pressure")
    printed_pressure = text_box(
        "As printed", 60, help_text="Where the maker prints two units: 345 bar / 5000 psi."
    )
    rating_source = text_box("Source of the pressure", 300, help_text=_SOURCE_HINT)
    reinforcement = forms.ChoiceField(
        label="Reinforcement", choices=HoseRevision.Reinforcement.choices
    )
    layers = whole_box("Layers", 1, 12, required=True, initial=1)
    temperature_low_c = whole_box("Coldest", -100, 100)
    temperature_high_c = whole_box("Hottest", -50, 500)
    bend_radius_mm = length_box(label="Smallest bend radius", required=False)
    tube_material = text_box("Tube", 80)
    fluids = text_box("Fluids", 200)
    bore_mm = number_box(label="Bore", required=False)
    wall_mm = number_box(label="Wall", required=False)
    outside_diameter_mm = number_box(label="Outside", required=False)
    reinforcement_diameter_mm = number_box(label="Over the reinforcement", required=False)
    pairs = (
        ("code",),
        ("maker", "product"),
        ("standard_type", "size_dn"),
        ("reinforcement", "layers"),
        ("working_pressure_bar", "printed_pressure"),
        ("rating_source",),
        ("temperature_low_c", "temperature_high_c"),
        ("bend_radius_mm", "tube_material"),
        ("fluids",),
        ("bore_mm", "wall_mm"),
        ("outside_diameter_mm", "reinforcement_diameter_mm"),
        ("note",),
        ("change_note",),
    )
    units: Mapping[str, str] = {
        "temperature_low_c": "°C",
        "temperature_high_c": "°C",
        "bend_radius_mm": "mm",
        **dict.fromkeys(
            ("bore_mm", "wall_mm", "outside_diameter_mm", "reinforcement_diameter_mm"), "mm"
        ),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        types: Any = self.fields["standard_type"]
        types.choices = [
            ("", "outside every standard"),
            *((row.type, f"{row.type} ({', '.join(row.names)})") for row in tables.hose_types()),
        ]


class FittingForm(ItemForm):
    """A hose end: an insert, or a one-piece fitting."""

    one_piece = forms.BooleanField(label="One piece: it has its own shell", required=False)
    connection = forms.CharField(
        label="Connection",
        max_length=80,
        widget=forms.TextInput(attrs={"list": "ends", "autocomplete": "off"}),
        help_text="As the trade says it: 24° cone L, DKOS, JIC, flange code 61.",
    )
    connection_size = forms.CharField(
        label="Its size", max_length=40, help_text="L22 M30×2, or 3/4, or 1 1/16-12."
    )
    connection_standard = text_box("Its standard", 60)
    form = forms.ChoiceField(label="Form", choices=FittingRevision.Form.choices)
    turns = forms.ChoiceField(
        label="Turns", choices=FittingRevision.Turns.choices, initial="swivel_nut"
    )
    tail_dn = SizeBox(label="Size of the tail")
    tail_od_mm = number_box(label="Tail outside", required=False)
    tail_bore_mm = number_box(label="Tail bore", required=False)
    nose_bore_mm = number_box(label="Nose bore", required=False)
    allowance_mm = number_box(
        label="Cut-off allowance",
        required=False,
        help_text="The maker's: what the fitting adds to the hose.",
    )
    allowance_counts_from = forms.ChoiceField(
        label="It counts",
        required=False,
        choices=[(Basis.SEAT_TO_SEAT, "to the seat"), (Basis.OVERALL, "to the outermost point")],
    )
    drop_mm = number_box(label="Drop of the elbow", required=False)
    working_pressure_bar = PressureBox(label="Working pressure", required=False)
    printed_pressure = text_box("As printed", 60)
    rating_source = text_box("Source of the pressure", 300, help_text=_SOURCE_HINT)
    torque_nm = number_box(label="Torque", required=False)
    torque_source = text_box("Source of the torque", 200)
    small_parts = text_box("Small parts", 300, help_text="O-ring, flange halves, bolts.")
    pairs = (
        ("code",),
        ("maker", "product"),
        ("connection", "connection_size"),
        ("connection_standard",),
        ("form", "turns"),
        ("tail_dn",),
        ("one_piece",),
        ("working_pressure_bar", "printed_pressure"),
        ("rating_source",),
        ("allowance_mm", "allowance_counts_from"),
        ("drop_mm",),
        ("tail_od_mm", "tail_bore_mm"),
        ("nose_bore_mm",),
        ("torque_nm", "torque_source"),
        ("small_parts",),
        ("note",),
        ("change_note",),
    )
    units: Mapping[str, str] = {
        "torque_nm": "Nm",
        **dict.fromkeys(
            ("tail_od_mm", "tail_bore_mm", "nose_bore_mm", "allowance_mm", "drop_mm"), "mm"
        ),
    }
    suggestions = ENDS


class ShellForm(ItemForm):
    """A loose shell, before crimping."""

    tail_dn = SizeBox()
    layers_made_for = whole_box("Layers it is made for", 1, 12, required=True)
    outside_diameter_mm = number_box(label="Outside", required=False)
    inside_diameter_mm = number_box(label="Inside", required=False)
    length_mm = number_box(label="Length", required=False)
    internal_depth_mm = number_box(
        label="Depth inside", required=False, help_text="The insertion mark is this far up."
    )
    pairs = (
        ("code",),
        ("maker", "product"),
        ("tail_dn", "layers_made_for"),
        ("outside_diameter_mm", "inside_diameter_mm"),
        ("length_mm", "internal_depth_mm"),
        ("note",),
        ("change_note",),
    )
    units: Mapping[str, str] = dict.fromkeys(
        ("outside_diameter_mm", "inside_diameter_mm", "length_mm", "internal_depth_mm"), "mm"
    )


def notes_for(slug: str, data: Mapping[str, Any]) -> tuple[StandardNote, ...]:
    """The standard's figures for what is typed so far; none where the size can't be read."""
    if slug == "fitting":
        return end_notes(data.get("connection") or "", data.get("connection_size") or "")
    kind, size = data.get("standard_type") or "", data.get("size_dn")
    if slug != "hose" or not size:
        return ()
    try:
        return hose_notes(kind, size if isinstance(size, int) else read_size(size, kind))
    except forms.ValidationError:
        return ()


FORMS: Mapping[str, type[ItemForm]] = {
    "hose": HoseForm,
    "fitting": FittingForm,
    "shell": ShellForm,
}


def initial_of(form: type[ItemForm], revision: Any) -> dict[str, Any]:
    """What a revision says, for its form; the reason of the change is not said again."""
    names = [name for name in form.base_fields if hasattr(revision, name)]
    return {name: getattr(revision, name) for name in (*names, "note")}


class CatalogueSearchForm(forms.Form):
    """What to look for, in any notation."""

    q = forms.CharField(
        label="Size, type, connection, maker, product or code",
        required=False,
        max_length=80,
        help_text='DN12, -8, 1/2", 2SN, DKOL, 24° cone.',
    )


class ReasonForm(forms.Form):
    """Why something is withdrawn."""

    reason = forms.CharField(label="Why", max_length=500)
