"""Forms for recalls: what is to be done with each hose, by when, and why; and how one ends."""

import datetime as dt
from typing import Any

from django import forms

from fleet.forms.typed import DayBox

_CHOICES = [
    ("out_now", "take it out now"),
    ("replace", "replace it by a day"),
    ("recheck", "look at it by a day"),
]


class RecallForm(forms.Form):
    """What is asked of each hose that comes from a source."""

    verdict = forms.ChoiceField(
        label="What is to be done with each", widget=forms.RadioSelect, choices=_CHOICES
    )
    by_on = DayBox(
        label="By which day", required=False, help_text="Needed unless it is taken out now."
    )
    reason = forms.CharField(
        label="What is wrong with it",
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Everyone who has one of these hoses reads this.",
    )

    def terms(self) -> dict[str, Any]:
        given = self.cleaned_data
        day: dt.date | None = given["by_on"]
        return {"verdict": given["verdict"], "by_on": day, "reason": given["reason"]}


class WithdrawForm(RecallForm):
    """Why a source is withdrawn, and what is asked of the hoses that came of it."""

    verdict = forms.ChoiceField(
        label="The hoses that came of it",
        widget=forms.RadioSelect,
        choices=[*_CHOICES, ("", "leave them as they are")],
        required=False,
    )
    by_on = DayBox(
        label="By which day", required=False, help_text="Needed to replace or look at them."
    )


class EndRecallForm(forms.Form):
    """How a recall ended."""

    how = forms.CharField(
        label="Why it ends",
        required=False,
        max_length=250,
        help_text="What is still open of it is settled with these words.",
    )
