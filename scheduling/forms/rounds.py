"""Forms of a round: beginning one, and what is told of a hose with a glove on."""

import datetime as dt
from typing import Any

from django import forms

from fleet.forms.photos import PhotosBox
from fleet.forms.typed import DayBox, hours_box
from scheduling.actions.inspections import Found, Look
from scheduling.calc.checklist import (
    OCCASIONS,
    OTHER,
    TAKE_OUT,
    VERDICTS,
    WATCH,
    Verdict,
    judged,
)

SOMETHING_ELSE = "something else"


class BeginForm(forms.Form):
    """What a round is for, and who looks."""

    occasion = forms.ChoiceField(
        label="Why this round",
        required=False,
        widget=forms.RadioSelect,
        choices=[
            ("", "The usual round"),
            *((words, f"After {words}") for words in OCCASIONS),
            (SOMETHING_ELSE, "After something else"),
        ],
        help_text="After an event every hose of the machine is due for a look until it has one.",
    )
    event = forms.CharField(label="What happened", max_length=60, required=False)
    inspector = forms.CharField(
        label="Competent person who looks",
        max_length=120,
        required=False,
        help_text="By name, where that is not you or you are not marked as one.",
    )
    reading = hours_box(label="Hours on the meter", required=False)

    def __init__(self, *args: Any, may_read: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not may_read:
            del self.fields["reading"]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("occasion") == SOMETHING_ELSE and not given.get("event"):
            self.add_error("event", "Say in a few words what happened.")
        if given.get("occasion") != SOMETHING_ELSE and given.get("event"):
            self.add_error("event", "This belongs to “After something else”: choose that.")
        return given

    def occasion_words(self) -> str:
        given = self.cleaned_data
        return str(given["event"] if given["occasion"] == SOMETHING_ELSE else given["occasion"])


class Told(forms.Form):
    """What goes with everything told from the phone: its id, and when it was tapped."""

    client_id = forms.RegexField(r"^[A-Za-z0-9-]{8,24}$", widget=forms.HiddenInput)
    looked_at = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def told_at(self) -> dt.datetime | None:
        """When it was tapped by the phone's clock; None where that can't be read."""
        try:
            moment = dt.datetime.fromisoformat(self.cleaned_data.get("looked_at", ""))
        except ValueError:
            return None
        return moment if moment.tzinfo else None


class FindingsForm(Told):
    """The checklist of one hose. Several things may be ticked; each has its own verdict."""

    what = forms.MultipleChoiceField(
        label="What was found",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        choices=[
            ("Take it out now", [(item.words, item.words) for item in TAKE_OUT]),
            ("Watch", [(item.words, item.words) for item in WATCH]),
            ("Else", [(item.words, item.words) for item in OTHER]),
        ],
    )
    verdict = forms.ChoiceField(
        label="What to do with it",
        required=False,
        widget=forms.RadioSelect,
        choices=[
            ("", "As the checklist says"),
            ("recheck", "Look again by a day"),
            ("replace", "Replace by a day"),
            ("out_now", "Take it out now"),
            ("keep", "Keep it"),
        ],
    )
    by_on = DayBox(label="By which day", required=False)
    note = forms.CharField(
        label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
    photos = PhotosBox()

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        what, verdict = given.get("what") or [], given.get("verdict", "")
        if verdict and not what:
            self.add_error("what", "Tick what was found.")
        if verdict in ("recheck", "replace") and not given.get("by_on") and "by_on" in given:
            self.add_error("by_on", "Say by which day.")
        if given.get("by_on") and verdict not in ("recheck", "replace"):
            self.add_error("by_on", "A day goes with looking again or replacing: choose one.")
        open_ones = [words for words in what if judged(words, dt.date.min) is None]
        if open_ones and not verdict and "verdict" in given:
            self.add_error("verdict", f"The checklist has no answer to “{open_ones[0]}”: choose.")
        if SOMETHING_ELSE in what and not given.get("note"):
            self.add_error("note", "Say what it is.")
        return given

    def found(self, on: dt.date) -> list[Found]:
        """What was ticked, each with the person's verdict or else the checklist's."""
        given = self.cleaned_data
        return [self._found(words, given["verdict"], on) for words in given["what"]]

    def _found(self, words: str, verdict: Verdict | str, on: dt.date) -> Found:
        given, own = self.cleaned_data, judged(words, on)
        named = next((one for one in VERDICTS if one == verdict), None)
        if named is not None:
            return Found(words, named, given["by_on"], given["note"])
        assert own is not None  # the form asked
        return Found(words, own.verdict, own.by_on, given["note"])


class LookForm(FindingsForm):
    """One hose's answer: nothing found, something found, or it could not be seen."""

    hose = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2**62)
    answer = forms.ChoiceField(
        widget=forms.HiddenInput,
        choices=[("fine", "nothing found"), ("found", "found"), ("not_seen", "not seen")],
    )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        answer, what = given.get("answer"), given.get("what")
        if answer == "found" and not what and "what" in given:
            self.add_error("what", "Tick what was found.")
        if answer in ("fine", "not_seen") and what:
            self.add_error("what", "Something is ticked: tell it as found.")
        return given

    def look(self, on: dt.date) -> Look:
        given = self.cleaned_data
        note = given["note"] if given["answer"] != "found" else ""
        not_seen = given["answer"] == "not_seen"
        return Look(on, not_seen=not_seen, note=note, client_id=given["client_id"])


class RestForm(Told):
    """The hoses that were all looked at, nothing found on any."""

    hoses = forms.CharField(max_length=8000, widget=forms.HiddenInput)

    def clean_hoses(self) -> list[int]:
        parts = [part for part in self.cleaned_data["hoses"].split(",") if part.strip()]
        if not all(part.strip().isdecimal() and len(part.strip()) < 19 for part in parts):
            raise forms.ValidationError("Which hoses these are can’t be read: load the page anew.")
        return [int(part) for part in parts]


class BackForm(Told):
    """Which look was told wrongly."""

    look = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2**62)
