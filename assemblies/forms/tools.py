"""Forms of the workshop's tools."""

from collections.abc import Sequence
from typing import Any

from django import forms

from assemblies.forms.boxes import text_box
from assemblies.forms.stock import SiteForm
from fleet.forms.typed import DayBox
from fleet.models import Site


class ToolForm(SiteForm):
    """A crimper or an instrument. The site is asked only where it is added."""

    code = forms.CharField(label="Code", max_length=40, help_text="As it stands on the tool.")
    description = text_box("What it is", 120)
    calibrated_on = DayBox(label="Calibrated on", required=False)
    calibration_due_on = DayBox(
        label="Due again on",
        required=False,
        help_text="The workshop’s own interval. Without a day it can’t be called in calibration.",
    )

    def __init__(self, *args: Any, sites: Sequence[Site], adding: bool, **kwargs: Any) -> None:
        super().__init__(*args, sites=sites, **kwargs)
        if not adding:
            del self.fields["site"]

    def facts(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if name != "site"}


class CalibrationForm(forms.Form):
    """One calibration that was done."""

    calibrated_on = DayBox(label="Calibrated on")
    due_on = DayBox(label="Due again on")
    note = text_box("Certificate, and by whom", 300)
