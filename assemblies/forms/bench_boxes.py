"""The boxes of the bench: readings, sizes in mm or inches, things to choose, answers to tick."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from assemblies.calc.sheet import CrimpFigures
from assemblies.forms.boxes import PressureBox, text_box, whole_box
from assemblies.models import BuildEnd, BuildRecord, RecipeRevision, TrialPress
from assemblies.queries.bench_choices import BenchChoices, Choice
from fleet.calc.units import parse_length
from fleet.forms.photos import PhotosBox
from fleet.forms.typed import DayBox, MeasureBox

MOST_READINGS = 12
LONGEST_MM, LONGEST_M = Decimal(100_000), Decimal(1000)
WIDEST_MM = Decimal(500)
_YES_NO = [("yes", "yes"), ("no", "no")]
_END_COLUMNS = (
    *("fitting_lot", "shell_lot", "insertion_depth_mm", "external_skive", "external_skive_mm"),
    *("internal_skive", "internal_skive_mm", "die_set", "setting_mm", "instrument"),
    *("closed_again", "mark_visible", "pin", "must_pass_pin"),
)
AS_YES_NO = frozenset({"mark_visible", "proof_passed"})


class ReadingsInput(forms.Widget):
    """Some boxes, each with a name of its own, so that a draft can keep them apart."""

    def __init__(self, boxes: int) -> None:
        super().__init__()
        self.boxes = boxes

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[str]:
        found = (data.get(f"{name}_{n}", "") for n in range(1, MOST_READINGS + 1))
        return [text for text in found if text.strip()]

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        return f"{name}_1" not in data

    def id_for_label(self, id_: str) -> str:
        return f"{id_}_1" if id_ else id_

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        there = [str(one) for one in value or []]
        shown = there + [""] * max(1, self.boxes - len(there))
        wrong = "true" if (attrs or {}).get("aria-invalid") else "false"
        boxes = format_html_join(
            "",
            '<input name="{}_{}" id="id_{}_{}" value="{}" aria-label="OD reading {}" '
            'aria-invalid="{}" inputmode="decimal" autocomplete="off" maxlength="12">',
            ((name, n, name, n, text, n, wrong) for n, text in enumerate(shown, 1)),
        )
        return SafeString(f'<div class="bench__ods">{boxes}</div>')


class ReadingsBox(forms.Field):
    """OD readings round a crimp; a bare figure is mm. Empty boxes are no reading."""

    def __init__(self, *, boxes: int, **options: Any) -> None:
        super().__init__(required=False, widget=ReadingsInput(boxes), **options)

    def clean(self, value: Any) -> list[str]:
        box = mm_box("OD", WIDEST_MM)
        return [str(box.clean(text)) for text in value or []]

    def has_changed(self, initial: Any, data: Any) -> bool:
        return list(initial or []) != list(data or [])


def _bounded(text: str, most: Decimal, unit: str) -> Decimal:
    length = parse_length(text, default_unit=unit).mm
    figure = length / 1000 if unit == "m" else length
    if figure > most:
        raise ValueError(f"{figure.normalize():f} {unit} is more than {most} {unit}: look again.")
    return figure


def mm_box(label: str, most: Decimal, **options: Any) -> MeasureBox:
    given = {"required": False, **options}
    return MeasureBox(lambda text: _bounded(text, most, "mm"), label=label, **given)


def metres_box(label: str, **options: Any) -> MeasureBox:
    return MeasureBox(lambda text: _bounded(text, LONGEST_M, "m"), label=label, **options)


def choice_box(label: str, choices: Sequence[Choice], **options: Any) -> forms.TypedChoiceField:
    """One thing of a list; gives the thing itself."""
    things = {choice.id: choice.thing for choice in choices}
    return forms.TypedChoiceField(
        label=label,
        required=False,
        choices=[("", "choose"), *((choice.id, choice.words) for choice in choices)],
        coerce=lambda pk: things[int(pk)],
        empty_value=None,
        **options,
    )


def _pick(label: str, choices: Sequence[tuple[str, str]], **options: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, required=False, choices=choices, widget=forms.RadioSelect, **options
    )


def _ticked(label: str) -> forms.BooleanField:
    return forms.BooleanField(label=label, required=False)


def either(value: str) -> bool | None:
    return {"yes": True, "no": False}.get(value)


def whole_fields(choices: BenchChoices) -> dict[str, forms.Field]:
    """The boxes of the whole piece."""
    return {
        "built_on": DayBox(label="Built on"),
        "made_by": choice_box("Made by", choices.makers),
        "reel": choice_box("Reel", choices.reels, help_text="Read the layline first."),
        "crimper": choice_box("Crimper", choices.crimpers),
        "cut_square": _ticked("It is cut square"),
        "cut_length_mm": mm_box("Cut length", LONGEST_MM),
        "hose_used_m": metres_box(
            "Hose off the reel", required=False, help_text="With what was cut away."
        ),
        "bore_cleaned_with": text_box("Bore cleaned with", 80),
        "finished_length_mm": mm_box("Finished length", LONGEST_MM),
        "angle_deg": whole_box("Angle of the ends", 0, 359),
        "proof_pressure_bar": PressureBox(label="Proof pressure held", required=False),
        "proof_hold_s": whole_box("Held for", 0, 3600),
        "gauge": choice_box("Pressure gauge", choices.instruments),
        "proof_passed": _pick(
            "Proof test", [("", "not tested yet"), ("yes", "it held"), ("no", "it failed")]
        ),
        "flushed_with": text_box("Flushed with", 80),
        "cleanliness": text_box("Cleanliness reached", 40),
        "stamped": _ticked("The shell is stamped with its lines"),
        "note": forms.CharField(
            label="Note",
            max_length=1000,
            required=False,
            widget=forms.Textarea(attrs={"rows": 2}),
        ),
        "photos": PhotosBox(),
    }


def end_fields(label: str, crimp: CrimpFigures, choices: BenchChoices) -> dict[str, forms.Field]:
    """The boxes of one end; without a pin or a loose shell there is none to write of."""
    prefix = label.lower()
    pins = [("", "not tried"), *TrialPress.Pin.choices]
    found: dict[str, forms.Field] = {
        "fitting_lot": choice_box("Fitting lot", choices.lots.get(f"{prefix}_fitting_lot", ())),
        "insertion_depth_mm": mm_box("Insertion mark", WIDEST_MM),
        "external_skive": _skive_box("Outside skive"),
        "external_skive_mm": mm_box("Skived outside", WIDEST_MM),
        "internal_skive": _skive_box("Inside skive"),
        "internal_skive_mm": mm_box("Skived inside", WIDEST_MM),
        "die_set": text_box("Die set in the crimper", 40),
        "setting_mm": mm_box("Setting dialled", WIDEST_MM),
        "od": ReadingsBox(label="Crimp OD, round mid-length on the flats", boxes=crimp.readings),
        "instrument": choice_box("Measured with", choices.instruments),
        "closed_again": _ticked("It was too large and was closed again"),
        "mark_visible": _pick(
            "The mark still shows at the shell's end", [("", "not looked at"), *_YES_NO]
        ),
    }
    if f"{prefix}_shell_lot" in choices.lots:
        found["shell_lot"] = choice_box("Shell lot", choices.lots[f"{prefix}_shell_lot"])
    if crimp.pin is not None:
        found["pin"] = _pick("The pin", pins)
        if crimp.pin.must_pass_mm is not None:
            found["must_pass_pin"] = _pick("The smaller pin", pins)
    return {f"{prefix}_{name}": box for name, box in found.items()}


def piece_initial(build: BuildRecord, ends: Mapping[str, BuildEnd]) -> dict[str, Any]:
    """What stands of a piece, as its boxes show it."""
    found: dict[str, Any] = {"seen": build.version}
    for name in whole_fields(BenchChoices()):
        if name != "photos":
            found[name] = _shown(build, name)
    for which, end in ends.items():
        prefix = which.lower()
        for name in _END_COLUMNS:
            found[f"{prefix}_{name}"] = _shown(end, name)
        found[f"{prefix}_od"] = end.od_readings
    return found


def _shown(row: BuildRecord | BuildEnd, name: str) -> Any:
    value = getattr(row, name)
    if name in AS_YES_NO:
        return {True: "yes", False: "no"}.get(value, "")
    return getattr(value, "pk", value)


def _skive_box(label: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, required=False, choices=[("", "choose"), *RecipeRevision.Skive.choices]
    )
