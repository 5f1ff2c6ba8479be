"""What lists are narrowed by."""

import datetime as dt
from typing import Any

from django import forms

from assemblies.models import Position
from fleet.forms.typed import DayBox
from fleet.models import Machine, MachineClass, Person, Site
from scheduling.calc.due_words import TITLES
from scheduling.queries.due_list import DueSought
from scheduling.queries.machine_list import MachineSought


class MachineFilterForm(forms.Form):
    """Which machines to list. What can't be read narrows nothing."""

    q = forms.CharField(label="Number, maker, model or serial", required=False, max_length=60)
    site = forms.ModelChoiceField(
        Site.objects.none(), label="Site", required=False, empty_label="all sites"
    )
    machine_class = forms.ModelChoiceField(
        MachineClass.objects.none(), label="Class", required=False, empty_label="all classes"
    )
    status = forms.ChoiceField(
        label="Standing", required=False, choices=[("", "any"), *Machine.Status.choices]
    )

    def __init__(self, data: Any, *, person: Person) -> None:
        super().__init__(data)
        sites: Any = self.fields["site"]
        classes: Any = self.fields["machine_class"]
        sites.queryset = Site.objects.visible_to(person).filter(withdrawn_at=None)
        classes.queryset = MachineClass.objects.filter(withdrawn_at=None)

    def sought(self) -> MachineSought:
        self.is_valid()
        given = self.cleaned_data
        return MachineSought(
            words=given.get("q") or "",
            site_id=_id(given.get("site")),
            machine_class_id=_id(given.get("machine_class")),
            status=given.get("status") or "",
        )


_HORIZONS = [
    ("", "all dates"),
    ("30", "30 days"),
    ("90", "90 days"),
    ("182", "half a year"),
    ("365", "a year"),
]
_STANDINGS = [
    ("", "all with a date"),
    ("out", "take out now"),
    ("over", "overdue"),
    ("soon", "fall due in 30 days"),
    ("fine", "in date"),
    ("undated", "no date known"),
]


class DueFilterForm(forms.Form):
    """Which dues to list. What can't be read narrows nothing."""

    site = forms.ModelChoiceField(
        Site.objects.none(), label="Site", required=False, empty_label="all sites"
    )
    standing = forms.ChoiceField(label="State", required=False, choices=_STANDINGS)
    within = forms.ChoiceField(label="Within", required=False, choices=_HORIZONS)
    until = DayBox(label="or until", required=False)
    machine_class = forms.ModelChoiceField(
        MachineClass.objects.none(), label="Class", required=False, empty_label="all classes"
    )
    circuit = forms.ChoiceField(
        label="Circuit", required=False, choices=[("", "all circuits"), *Position.Circuit.choices]
    )
    consequence = forms.ChoiceField(
        label="If it fails", required=False, choices=[("", "any"), *Position.Consequence.choices]
    )
    trigger = forms.TypedChoiceField(
        label="What binds",
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", "anything"), *((int(t), words) for t, words in TITLES.items())],
    )
    by = forms.ChoiceField(
        label="Order", required=False, choices=[("", "by day"), ("machine", "by machine")]
    )
    machine = forms.ModelChoiceField(
        Machine.objects.none(), required=False, widget=forms.HiddenInput
    )

    def __init__(self, data: Any, *, person: Person) -> None:
        super().__init__(data)
        chosen: dict[str, Any] = self.fields
        chosen["site"].queryset = Site.objects.visible_to(person).filter(withdrawn_at=None)
        chosen["machine_class"].queryset = MachineClass.objects.filter(withdrawn_at=None)
        chosen["machine"].queryset = Machine.objects.visible_to(person)

    def sought(self, today: dt.date) -> DueSought:
        self.is_valid()
        given = self.cleaned_data
        until = given.get("until")
        if until is None and given.get("within"):
            until = today + dt.timedelta(days=int(given["within"]))
        return DueSought(
            site_id=_id(given.get("site")),
            machine_class_id=_id(given.get("machine_class")),
            machine_id=_id(given.get("machine")),
            circuit=given.get("circuit") or "",
            consequence=given.get("consequence") or "",
            trigger=given.get("trigger"),
            standing=given.get("standing") or "",
            until_on=until,
            by_machine=given.get("by") == "machine",
        )

    @property
    def machine_chosen(self) -> Machine | None:
        found: Machine | None = self.cleaned_data.get("machine")
        return found


def _id(row: Any) -> int | None:
    return row.pk if row is not None else None
