"""Forms of the trial recorder: begun at the bench, told with a gloved hand, closed, proven."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from assemblies.actions.trial_recipes import Rating
from assemblies.actions.trials import TrialSetup
from assemblies.calc.crimping import external_skive_mm
from assemblies.forms.boxes import ItemBox, PressureBox, text_box, whole_box
from assemblies.models import Crimper, RecipeRevision, TrialPress
from fleet.forms.typed import number_box

READINGS_ASKED = 4


class ReadingsInput(forms.Widget):
    """Several boxes of one name."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[str]:
        found = data.getlist(name) if hasattr(data, "getlist") else data.get(name, [])
        return [text for text in found if text.strip()]

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> Any:
        return ""


class ReadingsBox(forms.Field):
    """OD readings round the crimp, in mm; gives Decimals. Empty boxes are no reading."""

    widget = ReadingsInput

    def clean(self, value: Any) -> tuple[Decimal, ...]:
        box = number_box(label="OD")
        return tuple(box.clean(text) for text in value or [])


class BeginForm(forms.Form):
    """What is chosen before the first press."""

    hose = ItemBox("hose", label="Hose")
    fitting = ItemBox("fitting", label="Fitting")
    shell = ItemBox(
        "shell", label="Shell", required=False, help_text="Empty for a one-piece fitting."
    )
    crimper = forms.TypedChoiceField(label="Crimper", coerce=int)
    die_set = text_box("Die set", 40, required=True)
    pin_mm = number_box(
        label="Pin", help_text="The largest that enters the tail with light drag. Measure it."
    )
    pin_from = text_box(
        "It enters from",
        80,
        required=True,
        help_text="From which end, and how deep: past the crimp.",
    )
    tail_bore_mm = number_box(label="Tail bore", required=False)
    insertion_depth_mm = number_box(
        label="Insertion mark",
        help_text="From the hose's end, where the shell's end will lie.",
    )
    external_skive = forms.ChoiceField(
        label="Cover", choices=RecipeRevision.Skive.choices, initial="length"
    )
    external_skive_mm = number_box(
        label="Skived cover",
        required=False,
        help_text="About 5 mm short of the mark: the shell's end closes on rubber.",
    )
    internal_skive = forms.ChoiceField(
        label="Tube", choices=RecipeRevision.Skive.choices, initial="none"
    )
    internal_skive_mm = number_box(label="Skived tube", required=False)
    overruled_reason = text_box(
        "Reason for a trial on this hose all the same",
        500,
        help_text="Only where the hose is not wire braid, and only who may approve recipes.",
    )
    client_id = forms.CharField(widget=forms.HiddenInput, max_length=40)

    def __init__(self, *args: Any, crimpers: Sequence[Crimper], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.crimpers = {crimper.pk: crimper for crimper in crimpers}
        tiles = [(one.pk, f"{one} ({one.site})") for one in crimpers]
        self.fields["crimper"].choices = tiles  # type: ignore[attr-defined]  # a ChoiceField

    def setup(self) -> TrialSetup:
        given = self.cleaned_data
        names = ("insertion_depth_mm", "external_skive", "external_skive_mm")
        made = {name: given[name] for name in (*names, "internal_skive", "internal_skive_mm")}
        return TrialSetup(
            hose=given["hose"],
            fitting=given["fitting"],
            shell=given["shell"],
            crimper=self.crimpers[given["crimper"]],
            die_set=given["die_set"],
            pin_mm=given["pin_mm"],
            pin_from=given["pin_from"],
            made=made,
            tail_bore_mm=given["tail_bore_mm"],
            overruled_reason=given["overruled_reason"],
        )


def marks_for(depth_mm: Decimal | None) -> dict[str, Any]:
    """The insertion mark and skive that a shell's internal depth gives to begin with."""
    if depth_mm is None or depth_mm <= 5:
        return {}
    skive = Decimal(str(external_skive_mm(float(depth_mm))))
    return {"insertion_depth_mm": depth_mm, "external_skive_mm": skive}


class PressForm(forms.Form):
    """One press: the setting, what the pin did, the OD if it was measured."""

    client_id = forms.CharField(max_length=40)
    setting_mm = number_box(label="Setting")
    pin = forms.ChoiceField(choices=TrialPress.Pin.choices)
    readings = ReadingsBox(label="Measured OD", required=False)


class UndoForm(forms.Form):
    """Which press was told wrongly: its own id."""

    client_id = forms.CharField(max_length=40)


class CloseForm(forms.Form):
    """The readings of the crimp at hand."""

    client_id = forms.CharField(max_length=40)
    readings = ReadingsBox(label="OD", required=False)
    note = text_box("Note", 500)


class ProofForm(forms.Form):
    """The proof test of a trial's piece."""

    pressure_bar = PressureBox(label="Pressure held", required=True)
    hold_s = whole_box("Held for", 1, 3600, required=True)
    passed = forms.ChoiceField(
        label="Result",
        widget=forms.RadioSelect,
        choices=[("yes", "it held: no leak, no creep"), ("no", "it failed")],
    )


class ApproveForm(forms.Form):
    """The second trial and the rating that a named person states."""

    second = forms.TypedChoiceField(
        label="Second trial", coerce=int, widget=forms.RadioSelect, empty_value=None
    )
    working_pressure_bar = PressureBox(
        label="Working pressure you rate it for",
        required=True,
        help_text="Your name stands beside it. Each piece must have held twice this.",
    )
    temperature_high_c = whole_box("Hottest", -50, 500)
    seen = forms.CharField(widget=forms.HiddenInput, max_length=40)

    def __init__(self, *args: Any, seconds: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["second"].choices = list(seconds)  # type: ignore[attr-defined]  # a ChoiceField

    def rating(self) -> Rating:
        given = self.cleaned_data
        return Rating(given["working_pressure_bar"].bar, given["temperature_high_c"])
