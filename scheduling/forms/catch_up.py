"""The form of a catch-up plan: which site, from when, how many weeks, how many a week."""

from typing import Any

from django import forms

from fleet.forms.typed import DayBox
from fleet.models import Site
from scheduling.actions.catch_up import MOST_A_WEEK, MOST_WEEKS


def _whole(label: str, most: int, **options: Any) -> forms.IntegerField:
    box = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    return forms.IntegerField(label=label, min_value=1, max_value=most, widget=box, **options)


class CatchUpForm(forms.Form):
    """What a plan is made from."""

    site = forms.ModelChoiceField(Site.objects.none(), label="Site", empty_label=None)
    from_on = DayBox(label="First week begins", help_text="2026-03-09 or 9 Mar 2026.")
    weeks = _whole("Weeks", MOST_WEEKS)
    a_week = _whole(
        "Hoses a week",
        MOST_A_WEEK,
        required=False,
        help_text="What the workshop can change. Empty: spread evenly over the weeks.",
    )

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]  # a ModelChoiceField
