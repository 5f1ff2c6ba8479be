"""The form of a look at a hose: in a minute, with a glove on."""

import datetime as dt
from typing import Any

from django import forms

from assemblies.actions.fitting_up import AtMachine
from fleet.calc.local_days import moment_on
from fleet.forms.typed import DayBox, hours_box
from fleet.models import Site
from scheduling.actions.inspections import Found, Look
from scheduling.calc.checklist import OTHER, TAKE_OUT, WATCH, judged
from scheduling.models import Finding

_NOT_SEEN = "not_seen"
_LISTED = "listed"


class InspectionForm(forms.Form):
    """One look, one finding at most; a second thing found is a second look."""

    verdict = forms.ChoiceField(
        label="What to do with it",
        widget=forms.RadioSelect,
        choices=[
            ("keep", "In order: keep it"),
            (_LISTED, "As the checklist says"),
            ("recheck", "Look again by a day"),
            ("replace", "Replace by a day"),
            ("out_now", "Take it out now"),
            (_NOT_SEEN, "It could not be seen"),
        ],
    )
    what = forms.ChoiceField(
        label="What was found",
        required=False,
        choices=[
            ("", "nothing wrong"),
            ("Take it out now", [(item.words, item.words) for item in TAKE_OUT]),
            ("Watch", [(item.words, item.words) for item in WATCH]),
            ("Else", [(item.words, item.words) for item in OTHER]),
        ],
    )
    by_on = DayBox(
        label="By which day", required=False, help_text="For looking again or replacing."
    )
    reading = hours_box(label="Hours on the meter", required=False)
    on = DayBox(label="Looked at on", help_text="2026-03-09 or 9 Mar 2026.")
    note = forms.CharField(
        label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, may_read: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not may_read:
            del self.fields["reading"]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        verdict = given.get("verdict")
        what = given.get("what", "")
        if verdict in (_LISTED, "recheck", "replace", "out_now") and not what:
            self.add_error("what", "Say what was found.")
        elif verdict == _LISTED and judged(what, dt.date.min) is None:
            self.add_error("verdict", f"The checklist has no answer to “{what}”: choose.")
        if verdict in ("recheck", "replace") and not given.get("by_on") and "by_on" in given:
            self.add_error("by_on", "Say by which day.")
        if verdict == _NOT_SEEN and given.get("what"):
            self.add_error("what", "It could not be seen: then nothing was found.")
        return given

    def look(self) -> Look:
        given = self.cleaned_data
        return Look(on=given["on"], not_seen=given["verdict"] == _NOT_SEEN, note=given["note"])

    def found(self) -> Found | None:
        given = self.cleaned_data
        if not given["what"]:
            return None
        own = judged(given["what"], given["on"])
        if given["verdict"] == _LISTED and own is not None:
            return Found(given["what"], own.verdict, own.by_on, given["note"])
        dated = given["verdict"] in (Finding.Verdict.RECHECK, Finding.Verdict.REPLACE)
        by_on = given["by_on"] if dated else None
        return Found(given["what"], given["verdict"], by_on, given["note"])

    def when(self, site: Site, now: dt.datetime) -> AtMachine:
        given = self.cleaned_data
        moment = moment_on(given["on"], site.time_zone, now)
        typed = str(self["reading"].value() or "") if "reading" in self.fields else ""
        return AtMachine(given["on"], moment, given.get("reading"), typed)


class DealtWithForm(forms.Form):
    """What was done about a finding."""

    how = forms.CharField(
        label="What was done about it",
        max_length=300,
        help_text="Moved the clamp, fitted a sleeve, replaced it: whatever settles the finding.",
    )
