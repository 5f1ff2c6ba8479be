"""Forms for sources of telematics and for the machines that they tell of."""

from collections.abc import Sequence
from typing import Any

from django import forms

from fleet.actions.telematics import SourceFacts
from fleet.models import Counter, Site, TelematicsSource

EVERY_SITE = "every"
DAILY, BY_HAND = "daily", "by_hand"
ASKED = [(DAILY, "once a day, by itself"), (BY_HAND, "by hand alone")]


class SourceForm(forms.Form):
    """Where hours are fetched from. The credential itself is never typed here."""

    name = forms.CharField(label="Name", max_length=60, help_text="As you call it: loaders’ feed.")
    site = forms.ChoiceField(label="Machines of")
    address = forms.CharField(
        label="Address of the fleet snapshot",
        max_length=500,
        help_text="From the provider, beginning with https://. No key or password in it.",
        widget=forms.TextInput(attrs={"inputmode": "url", "autocomplete": "off"}),
    )
    form = forms.ChoiceField(
        label="It comes as",
        choices=TelematicsSource.Form.choices,
        initial="xml",
        widget=forms.RadioSelect,
    )
    asked = forms.ChoiceField(
        label="It is asked", choices=ASKED, initial=DAILY, widget=forms.RadioSelect
    )
    credential_variable = forms.CharField(
        label="Name of the credential",
        required=False,
        max_length=60,
        help_text="Whoever runs this server sets it in the environment, for one host: "
        "TELEMATICS_KEY_NORTH holds “host bearer secret” or “host basic user:password”. Only "
        "its name is kept here.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    def __init__(self, *args: Any, sites: Sequence[Site], every_site: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sites = {str(site.pk): site for site in sites}
        every = [(EVERY_SITE, "every site")] if every_site else []
        choices = [*every, *((pk, str(site)) for pk, site in self.sites.items())]
        self.fields["site"].choices = choices  # type: ignore[attr-defined]  # a ChoiceField

    def facts(self) -> SourceFacts:
        """What the action takes."""
        given = dict(self.cleaned_data)
        daily, site = given.pop("asked") == DAILY, self.sites.get(given["site"])
        return SourceFacts(**{**given, "site": site, "asked_daily": daily})


class ReasonForm(forms.Form):
    """Why something is done."""

    reason = forms.CharField(label="Why", max_length=300)


class SearchForm(forms.Form):
    """Looking for a machine of ours."""

    q = forms.CharField(
        label="Number, serial number or PIN",
        max_length=80,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class MatchForm(forms.Form):
    """Which machine of ours it is, and which of its counters the hours are of."""

    machine = forms.TypedChoiceField(
        label="It is",
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={
            "required": "Choose the machine; look for it above where it isn’t here.",
            "invalid_choice": "Choose one of the machines that are shown.",
        },
    )
    counts = forms.ChoiceField(
        label="Its hours are of",
        choices=Counter.choices,
        initial="engine",
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, machines: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["machine"].choices = list(machines)  # type: ignore[attr-defined]  # a ChoiceField
        if len(machines) == 1:
            self.fields["machine"].initial = machines[0][0]


class TakeBackForm(forms.Form):
    """Taking a match back."""

    wrong = forms.ChoiceField(
        label="What was it?",
        widget=forms.RadioSelect,
        choices=[
            ("yes", "It never was this machine: set aside the hours that came so"),
            ("no", "It was, and is no more: its hours stay"),
        ],
    )
    reason = forms.CharField(label="Why", max_length=300)
