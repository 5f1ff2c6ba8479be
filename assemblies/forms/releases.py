"""Forms for releasing a hose conditionally: why, within which limits, until when."""

import datetime as dt
from typing import Any

from django import forms

from assemblies.actions.releases import MOST_DAYS, Limits, Piece
from assemblies.forms.boxes import PressureBox
from fleet.forms.typed import DayBox, length_box


class ReleaseForm(forms.Form):
    """The terms on which a hose is released."""

    reason = forms.CharField(
        label="Why it can’t wait",
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    pressure_bar = PressureBox(label="Pressure it may bear", required=False)
    place = forms.CharField(
        label="The one place it may be used",
        required=False,
        max_length=120,
        help_text="Machine and place, as the fitter knows it.",
    )
    where_it_hurts = forms.BooleanField(
        label="It may go where a failure hurts someone (steering, brakes, load holding)",
        required=False,
    )
    replace_by_on = DayBox(
        label="Replace it by", help_text=f"Within {MOST_DAYS} days: 2026-03-09 or 9 Mar 2026."
    )

    def terms(self) -> dict[str, Any]:
        given = self.cleaned_data
        typed = given["pressure_bar"]
        bar = typed.bar if typed is not None else None
        limits = Limits(bar, given["place"], given["where_it_hurts"])
        day: dt.date = given["replace_by_on"]
        return {"reason": given["reason"], "limits": limits, "replace_by_on": day}


class PieceReleaseForm(ReleaseForm):
    """The terms, and what is to be known of a trial's piece before it is a hose of the register."""

    mark = forms.CharField(
        label="What is written on the piece",
        required=False,
        max_length=60,
        help_text="Its owner’s mark: by this it is found again.",
    )
    other_end = forms.CharField(
        label="Its other end",
        required=False,
        max_length=120,
        help_text="The fitting and how it was joined.",
    )
    length_mm = length_box(label="Its length", required=False)

    def piece(self) -> Piece:
        given = self.cleaned_data
        return Piece(given["mark"], given["other_end"], given["length_mm"])
