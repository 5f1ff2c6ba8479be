"""Forms of an attachment's move: on to a carrier, off it."""

from collections.abc import Sequence
from typing import Any

from django import forms

from fleet.actions.mounts import CarrierRead
from fleet.forms.typed import DayBox, hours_box
from fleet.models import Machine


class UnmountForm(forms.Form):
    """The day it came off, and what the carrier's meter showed."""

    on = DayBox(label="On", help_text="2026-03-09 or 9 Mar 2026.")
    reading = hours_box(
        label="Hours on the carrier’s meter",
        required=False,
        help_text="Read at the move: by it the hours of the ride are counted.",
    )

    def read(self) -> CarrierRead:
        return CarrierRead(self.cleaned_data["reading"], str(self["reading"].value() or "")[:40])


class MountForm(UnmountForm):
    """Which carrier, and whose hours count."""

    carrier = forms.TypedChoiceField(label="Carrier", coerce=int)
    hours = forms.ChoiceField(
        label="Its hoses age by",
        widget=forms.RadioSelect,
        initial="carrier",
        choices=[
            ("carrier", "the carrier’s meter while it rides"),
            ("own", "a meter of its own, or hours typed for it"),
        ],
    )
    field_order = ("carrier", "on", "hours", "reading")

    def __init__(self, *args: Any, carriers: Sequence[Machine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.carriers = {machine.pk: machine for machine in carriers}
        choices = [(one.pk, f"{one}, {one.machine_class}") for one in carriers]
        self.fields["carrier"].choices = choices  # type: ignore[attr-defined]  # a ChoiceField
