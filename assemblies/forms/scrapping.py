"""Scrapping a hose that is in store or on the bench."""

from django import forms

from fleet.forms.typed import DayBox


class ScrapForm(forms.Form):
    """When and why. A scrapped hose never comes back."""

    reason = forms.CharField(
        label="Why",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Such as: burst, examined, cover worn through at the clamp.",
    )
    on = DayBox(label="Scrapped on", help_text="2026-03-09 or 9 Mar 2026.")
