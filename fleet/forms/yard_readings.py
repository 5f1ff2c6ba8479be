"""The list of a yard's readings: one moment for all, and a row of boxes for each counter."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from fleet.calc.typed_moments import TypedMoment, moment_of
from fleet.forms.typed import MomentBox, hours_box
from fleet.queries.yard_readings import YardRow

COMING = "{} is still to come: check the day and the time."


class YardForm(forms.Form):
    """When the yard was read; each row may say otherwise."""

    read = MomentBox(
        label="Read", help_text="Day and time of all of them, unless a row says otherwise."
    )

    def __init__(self, *args: Any, zone: str, now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.zone, self.now = zone, now
        self.fields["read"].initial = f"{now.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"

    def clean_read(self) -> TypedMoment:
        typed: TypedMoment = self.cleaned_data["read"]
        today = self.now.astimezone(ZoneInfo(self.zone)).date()
        given = TypedMoment(typed.on or today, typed.time)
        refuse_what_is_to_come(given, given, self.zone, self.now)
        return given


class YardRowForm(forms.Form):
    """The boxes of one counter. `corrects` is the doubtful reading that it was typed for."""

    hours = hours_box(label="Hours", required=False)
    read = MomentBox(label="Read", required=False)
    corrects = forms.IntegerField(
        required=False, min_value=1, max_value=2**62, widget=forms.HiddenInput
    )

    def __init__(
        self, *args: Any, zone: str, now: dt.datetime, default: TypedMoment, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.zone, self.now, self.default = zone, now, default

    def clean_read(self) -> dt.datetime:
        typed: TypedMoment = self.cleaned_data["read"]
        return refuse_what_is_to_come(typed, self.default, self.zone, self.now)


def refuse_what_is_to_come(
    typed: TypedMoment, default: TypedMoment, zone: str, now: dt.datetime
) -> dt.datetime:
    """The moment that is meant. A day alone may be today; nothing else may be later than now."""
    meant = moment_of(typed, default=default, zone=zone)
    day_alone = typed.time is None and (typed.on is not None or default.time is None)
    today = now.astimezone(ZoneInfo(zone)).date()
    if (meant.date() > today) if day_alone else (meant > now):
        shown = f"{meant:%Y-%m-%d}" if day_alone else f"{meant:%Y-%m-%d %H:%M}"
        raise forms.ValidationError(COMING.format(shown))
    return meant


@dataclass
class ShownRow:
    """A row with what stands in its boxes and what is said of it."""

    row: YardRow
    hours: str = ""
    read: str = ""
    corrects: str = ""
    state: str = ""
    sentence: str = ""
    reading_id: int | None = None


@dataclass
class YardSheet:
    """The whole list as it was sent: read row by row, so that nothing of it is lost."""

    form: YardForm
    sent: Mapping[str, str] = field(default_factory=dict)

    def rows(self, rows: Sequence[YardRow]) -> list[ShownRow]:
        """Each row with what was typed into its boxes."""
        return [
            ShownRow(
                row,
                hours=self.sent.get(f"{row.meter_id}-hours", ""),
                read=self.sent.get(f"{row.meter_id}-read", ""),
                corrects=self.sent.get(f"{row.meter_id}-corrects", ""),
            )
            for row in rows
        ]

    def typed_ids(self) -> list[int]:
        """The meters whose box of hours was filled."""
        return [
            int(name[: -len("-hours")])
            for name, value in self.sent.items()
            if name.endswith("-hours") and name[: -len("-hours")].isdecimal() and value.strip()
            if len(name) < 25
        ]

    def read_rows(
        self, shown: Sequence[ShownRow]
    ) -> Iterator[tuple[ShownRow, Decimal, dt.datetime, int | None]]:
        """The rows that say something whole; the others get the sentence of what is wrong."""
        default: TypedMoment = self.form.cleaned_data["read"]
        for one in shown:
            if not one.hours.strip():
                continue
            row_form = YardRowForm(
                self.sent,
                prefix=str(one.row.meter_id),
                zone=self.form.zone,
                now=self.form.now,
                default=default,
            )
            if row_form.is_valid():
                given = row_form.cleaned_data
                yield one, given["hours"], given["read"], given["corrects"]
            else:
                sentences = [str(error) for errors in row_form.errors.values() for error in errors]
                one.state, one.sentence = "refused", " ".join(sentences)
