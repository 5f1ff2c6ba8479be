"""Forms of a first registration: what is found at one place of a machine."""

from typing import Any

from django import forms

from assemblies.actions.found_hoses import FoundHose
from assemblies.calc.found_hose import Said
from assemblies.models import Position
from scheduling.actions.baselining import HoseTold
from scheduling.actions.inspections import Look
from scheduling.forms.rounds import FindingsForm, Told

LARGEST_ID = 2**62


def _line(label: str, longest: int, **options: Any) -> forms.CharField:
    box = forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"})
    return forms.CharField(label=label, max_length=longest, required=False, widget=box, **options)


class PlaceForm(Told):
    """Which place it is: one of the machine's, or one met in passing."""

    position = forms.IntegerField(
        required=False, widget=forms.HiddenInput, min_value=1, max_value=LARGEST_ID
    )


class RegisterForm(FindingsForm, PlaceForm):
    """One hose found: what it says, how it looked."""

    place = forms.CharField(
        label="Place",
        max_length=120,
        required=False,
        help_text="In words: boom lift, rod side, left.",
    )
    circuit = forms.ChoiceField(
        label="Circuit", required=False, choices=Position.Circuit.choices, initial="other"
    )
    consequence = forms.ChoiceField(
        label="If it fails",
        required=False,
        choices=Position.Consequence.choices,
        initial="unknown",
    )
    tag = _line("Tag", 200, help_text="From a printed lot: scan, paste or type it. Empty: later.")
    layline = _line("Printed along the hose", 200, help_text="As it stands there.")
    stamp = _line("Stamped on the shell", 60, help_text="Year and month, such as 1606.")
    owner_mark = _line("Owner’s mark", 60, help_text="What somebody wrote on it before.")
    made = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
    built = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
    size = forms.CharField(required=False, max_length=10, widget=forms.HiddenInput)
    answer = forms.ChoiceField(
        label="How it looks",
        widget=forms.RadioSelect,
        choices=[
            ("fine", "Looked at: nothing found"),
            ("found", "Something found"),
            ("not_seen", "Could not see it"),
        ],
    )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        what = given.get("what")
        if given.get("answer") == "found" and not what and "what" in given:
            self.add_error("what", "Tick what was found.")
        if given.get("answer") in ("fine", "not_seen") and what:
            self.add_error("answer", "Something is ticked below: then something was found.")
        if given.get("position") is None and not given.get("place") and "place" in given:
            self.add_error("place", "Say where on the machine it sits.")
        return given

    def place_facts(self) -> dict[str, Any]:
        """The facts of a place met in passing."""
        given = self.cleaned_data
        return {
            "place": given["place"],
            "circuit": given["circuit"] or Position.Circuit.OTHER,
            "consequence": given["consequence"] or Position.Consequence.UNKNOWN,
        }

    def told(self, on: Any) -> HoseTold:
        given = self.cleaned_data
        note = given["note"] if given["answer"] != "found" else ""
        not_seen = given["answer"] == "not_seen"
        said = Said(made=given["made"], built=given["built"], size=given["size"])
        read = {name: given[name] for name in ("tag", "owner_mark", "layline", "stamp")}
        look = Look(on, not_seen=not_seen, note=note, client_id=given["client_id"])
        return HoseTold(FoundHose(**read, said=said), look, self.found(on), given["photos"])


class EmptyForm(PlaceForm):
    """A place that holds no hose."""

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("position") is None and not self.errors:
            self.add_error("position", "Say which place holds no hose.")
        return given


class SettleForm(forms.Form):
    """How something read off a hose is meant."""

    asks = forms.ChoiceField(choices=[("made", "made"), ("built", "built"), ("size", "size")])
    answer = forms.CharField(max_length=40)

    def said(self) -> Said:
        return Said(**{self.cleaned_data["asks"]: self.cleaned_data["answer"]})
