"""Forms for fitting, swapping, taking off and tagging."""

import datetime as dt
from typing import Any

from django import forms

from assemblies.actions.fitting_up import AtMachine, OffTo
from assemblies.models import Assembly, Stay
from assemblies.queries.choices import HoseChoice, hose_named
from fleet.calc.local_days import moment_on
from fleet.forms.typed import DayBox, hours_box
from fleet.models import Person, Site


class AtMachineForm(forms.Form):
    """The day of the work, and the meter."""

    on = DayBox(label="Done on", help_text="2026-03-09 or 9 Mar 2026.")
    reading = hours_box(
        label="Hours on the meter",
        required=False,
        help_text="As the meter shows it now. Without it the hose’s hours can’t be counted.",
    )

    def when(self, site: Site, now: dt.datetime) -> AtMachine:
        given = self.cleaned_data
        moment = moment_on(given["on"], site.time_zone, now)
        typed = str(self["reading"].value() or "")
        return AtMachine(given["on"], moment, given["reading"], typed)


class _OffForm(AtMachineForm):
    """Why the old hose comes off and where it goes."""

    removal = forms.ChoiceField(
        label="Why it comes off",
        widget=forms.RadioSelect,
        choices=[
            (reason.value, reason.label)
            for reason in Stay.Removal
            if reason not in (Stay.Removal.CORRECTED, Stay.Removal.MOVED)
        ],
    )
    to = forms.ChoiceField(
        label="Where it goes",
        widget=forms.RadioSelect,
        choices=[("scrapped", "to scrap"), ("store", "back to store"), ("bench", "to the bench")],
    )
    note = forms.CharField(label="Note", required=False, max_length=300)

    def off(self) -> OffTo:
        given = self.cleaned_data
        return OffTo(given["removal"], given["to"], given["note"])


class TakeOffForm(_OffForm):
    """Taking a hose off with nothing in its place."""

    field_order = ["removal", "to", "reading", "on", "note"]


class _NewHoseForm(forms.Form):
    """The hose that goes on: named by its tag or mark, or picked from the store."""

    named = forms.CharField(
        label="Tag or owner’s mark of the hose that goes on",
        required=False,
        max_length=200,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
        help_text="Type or scan it, or pick one from the store below.",
    )
    picked = forms.TypedChoiceField(
        label="From the store",
        coerce=int,
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
    )

    def __init__(
        self, *args: Any, person: Person, choices: list[HoseChoice], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.person, self.hose = person, None
        tiles = [
            (c.hose_id, f"{c.words}{' (the required spec)' if c.suits else ''}") for c in choices
        ]
        self.fields["picked"].choices = tiles  # type: ignore[attr-defined]  # a ChoiceField
        if not tiles:
            del self.fields["picked"]

    hose: Assembly | None

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        named, picked = given.get("named", ""), given.get("picked")
        if named:
            self.hose = hose_named(self.person, named)
            if self.hose is None:
                self.add_error("named", f"No one hose that you may see is “{named}”.")
        elif picked:
            self.hose = Assembly.objects.visible_to(self.person).get(pk=picked)
        elif not self.errors:
            self.add_error("named", "Say which hose goes on.")
        return given


class FitForm(_NewHoseForm, AtMachineForm):
    """Fitting a hose where none is."""

    field_order = ["named", "picked", "reading", "on"]


class SwapForm(_NewHoseForm, _OffForm):
    """One hose off, another on."""

    field_order = ["named", "picked", "removal", "to", "reading", "on", "note"]


class TagForm(forms.Form):
    """Binding a tag to a hose that has none."""

    tag = forms.CharField(
        label="Tag",
        required=False,
        max_length=200,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
        help_text="Type or scan a blank tag of a printed lot. "
        "Empty: a new one is drawn, for a label to be printed.",
    )
