"""What lists are narrowed by."""

import datetime as dt
from typing import Any

from django import forms

from assemblies.models import Position
from fleet.forms.list_box import OneOf
from fleet.forms.typed import DayBox
from fleet.models import Machine, Person
from fleet.queries.narrowing import machine_classes, sites_seen
from scheduling.calc.due_words import TITLES
from scheduling.queries.due_list import DueSought
from scheduling.queries.machine_list import MachineSought


class _SiteAndClass(forms.Form):
    """Which site and which class of machines. What can't be read narrows nothing."""

    site = OneOf("Site")
    machine_class = OneOf("Class")

    def __init__(self, data: Any, *, person: Person) -> None:
        super().__init__(data)
        chosen: dict[str, Any] = self.fields
        chosen["site"].offer([("", "all sites"), *sites_seen(person)])
        chosen["machine_class"].offer([("", "all classes"), *machine_classes()])


class MachineFilterForm(_SiteAndClass):
    """Which machines to list."""

    q = forms.CharField(label="Number, maker, model or serial", required=False, max_length=60)
    status = OneOf("Standing", ("", "any"), *Machine.Status.choices)

    def sought(self) -> MachineSought:
        self.is_valid()
        given = self.cleaned_data
        return MachineSought(
            words=given.get("q") or "",
            site_id=given.get("site"),
            machine_class_id=given.get("machine_class"),
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


class DueFilterForm(_SiteAndClass):
    """Which dues to list."""

    standing = OneOf("State", *_STANDINGS)
    within = OneOf("Within", *_HORIZONS)
    until = DayBox(label="or until", required=False)
    circuit = OneOf("Circuit", ("", "all circuits"), *Position.Circuit.choices)
    consequence = OneOf("If it fails", ("", "any"), *Position.Consequence.choices)
    trigger = OneOf("What binds", ("", "anything"), *((int(t), w) for t, w in TITLES.items()))
    by = OneOf("Order", ("", "by day"), ("machine", "by machine"))
    machine = forms.ModelChoiceField(
        Machine.objects.none(), required=False, widget=forms.HiddenInput
    )

    def __init__(self, data: Any, *, person: Person) -> None:
        super().__init__(data, person=person)
        chosen: dict[str, Any] = self.fields
        chosen["machine"].queryset = Machine.objects.visible_to(person)

    def sought(self, today: dt.date) -> DueSought:
        self.is_valid()
        given = self.cleaned_data
        until, machine = given.get("until"), given.get("machine")
        if until is None and given.get("within"):
            until = today + dt.timedelta(days=int(given["within"]))
        return DueSought(
            site_id=given.get("site"),
            machine_class_id=given.get("machine_class"),
            machine_id=machine.pk if machine else None,
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
