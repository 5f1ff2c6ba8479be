"""Forms for machines and their hours."""

from decimal import Decimal
from typing import Any

from django import forms

from fleet.forms.typed import DayBox, hours_box, number_box
from fleet.models import Counter, Machine, MachineClass, Site


class MachineForm(forms.Form):
    """A machine's facts. The site is chosen only where a machine is added."""

    site = forms.ModelChoiceField(Site.objects.none(), label="Site")
    fleet_number = forms.CharField(
        label="Fleet number", max_length=40, help_text="As it is painted on the machine: EX-014."
    )
    machine_class = forms.ModelChoiceField(
        MachineClass.objects.none(),
        label="Class",
        help_text="Gives hours a day and the cost of an hour down until better is known.",
    )
    kind = forms.ChoiceField(label="Kind", choices=Machine.Kind.choices, initial="machine")
    maker = forms.CharField(label="Maker", max_length=80, required=False)
    model = forms.CharField(label="Model", max_length=80, required=False)
    serial_number = forms.CharField(label="Serial number", max_length=60, required=False)
    pin = forms.CharField(
        label="PIN", max_length=60, required=False, help_text="Product identification number."
    )
    in_service_from = DayBox(label="In service from", required=False)
    status = forms.ChoiceField(
        label="Standing", choices=Machine.Status.choices, initial="in_service"
    )
    down_cost_per_hour = number_box(
        label="Cost of an hour down", required=False, help_text="Empty: what its class says."
    )

    def __init__(self, *args: Any, sites: Any = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        classes = self.fields["machine_class"]
        classes.queryset = MachineClass.objects.filter(withdrawn_at=None)  # type: ignore[attr-defined]  # it is a ModelChoiceField
        if sites is None:
            del self.fields["site"]
        else:
            self.fields["site"].queryset = sites  # type: ignore[attr-defined]  # as above

    def facts(self) -> dict[str, Any]:
        """What the action takes: money in minor units, the site apart."""
        given = {k: v for k, v in self.cleaned_data.items() if k != "site"}
        cost: Decimal | None = given.pop("down_cost_per_hour")
        minor = None if cost is None else int((cost * 100).to_integral_value())
        return {**given, "down_cost_per_hour_minor": minor}


class ReadingForm(forms.Form):
    """One reading off one meter."""

    counts = forms.ChoiceField(
        label="Meter", choices=Counter.choices, widget=forms.RadioSelect, initial="engine"
    )
    reading = hours_box(
        label="Hours on the meter", help_text="As the meter shows it: 12450 or 12 450.5."
    )
    read_on = DayBox(label="Read on", help_text="2026-03-09 or 9 Mar 2026.")

    def __init__(self, *args: Any, counters: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(c.value, c.label) for c in Counter if c.value in counters]
        self.fields["counts"].choices = choices  # type: ignore[attr-defined]  # a ChoiceField
        if len(choices) == 1:
            self.fields["counts"].initial = choices[0][0]
            self.fields["counts"].widget = forms.HiddenInput()


class DecisionForm(forms.Form):
    """What becomes of a doubtful reading."""

    verdict = forms.ChoiceField(
        label="What is it?",
        widget=forms.RadioSelect,
        choices=[("accept", "It is right: let it count"), ("aside", "It is wrong: set it aside")],
    )
    reason = forms.CharField(
        label="Why it is wrong",
        required=False,
        max_length=300,
        help_text="Needed only to set it aside. The reading stays to be seen.",
    )
