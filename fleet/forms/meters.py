"""Forms for meters and for putting readings right."""

from typing import Any

from django import forms

from fleet.forms.typed import DayBox, MomentBox, hours_box
from fleet.models import Counter


def _counter_box(field: forms.Field, counters: list[str]) -> None:
    """The counters that there are; a single one is not asked about."""
    choices = [(c.value, c.label) for c in Counter if c.value in counters]
    field.choices = choices  # type: ignore[attr-defined]  # a ChoiceField
    if len(choices) == 1:
        field.initial, field.widget = choices[0][0], forms.HiddenInput()


class CounterForm(forms.Form):
    """A form about one of a machine's counters."""

    counts = forms.ChoiceField(label="Meter", choices=Counter.choices, widget=forms.RadioSelect)

    def __init__(self, *args: Any, counters: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _counter_box(self.fields["counts"], counters)


class CorrectionForm(forms.Form):
    """What a reading should have been, and why."""

    reading = hours_box(label="Hours on the meter", help_text="As the meter showed it.")
    read = MomentBox(label="Read", help_text="Day, or day and time: 2026-03-09 07:30.")
    reason = forms.CharField(
        label="What was wrong",
        max_length=300,
        help_text="The wrong reading stays to be seen, struck through, with this.",
    )


class SetAsideForm(forms.Form):
    """Why a reading counts no more."""

    reason = forms.CharField(
        label="Why it is wrong",
        max_length=300,
        help_text="The reading stays to be seen, struck through, with this.",
    )


class MeterChangeForm(CounterForm):
    """A new meter on a counter."""

    on = DayBox(label="Changed on", help_text="2026-03-09 or 9 Mar 2026.")
    old_last = hours_box(label="The old meter’s last figure")
    new_first = hours_box(label="The new meter’s first figure", help_text="Mostly 0.")
    rollover = hours_box(
        label="The new one begins again at",
        required=False,
        help_text="The first figure that it can’t show: 10 000 for one that ends at 9 999.9.",
    )


class UndoChangeForm(CounterForm):
    """Undoing a change of meter that was recorded wrongly."""

    reason = forms.CharField(label="What was wrong with it", max_length=300)


class RolloverForm(CounterForm):
    """Where a meter begins again."""

    rollover = hours_box(
        label="It begins again at",
        required=False,
        help_text="The first figure that it can’t show: 10 000 for one that ends at 9 999.9. "
        "Empty: it never does.",
    )


class AddMeterForm(forms.Form):
    """A meter for a further counter."""

    counts = forms.ChoiceField(label="It counts", choices=Counter.choices, widget=forms.RadioSelect)
    rollover = hours_box(label="It begins again at", required=False)
