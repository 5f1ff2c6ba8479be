"""Forms of failures: the report in a minute, and what is added when more is known."""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from fleet.calc.local_days import local_day
from fleet.forms.photos import PhotosBox
from fleet.forms.typed import DayBox, hours_box, number_box
from fleet.models import Site
from scheduling.actions.failures import Report
from scheduling.models import Failure

CENT = Decimal(100)


class TimeBox(forms.TimeField):
    """A time of day: 14:30, 14.30 or 1430; empty is not known."""

    def __init__(self, **options: Any) -> None:
        box = forms.TimeInput(
            format="%H:%M", attrs={"inputmode": "text", "autocomplete": "off", "size": 6}
        )
        written = ("%H:%M", "%H.%M", "%H%M")
        given = {"required": False, "widget": box, "input_formats": written, **options}
        super().__init__(**given)

    def to_python(self, value: Any) -> dt.time | None:
        try:
            return super().to_python(value)
        except forms.ValidationError as error:
            raise forms.ValidationError(f"“{value}” is not a time: write 14:30.") from error


def moment_of(on: dt.date, at: dt.time | None, site: Site, now: dt.datetime) -> dt.datetime:
    """A day and time at a site; without a time it is now where the day is today, else noon."""
    zone = ZoneInfo(site.time_zone)
    if at is not None:
        return dt.datetime.combine(on, at, tzinfo=zone)
    if on == local_day(now, site.time_zone):
        return now
    return dt.datetime.combine(on, dt.time(12), tzinfo=zone)


class ReportForm(forms.Form):
    """What was seen, when, and whether the machine stands. The rest can wait."""

    mode = forms.ChoiceField(
        label="What was seen", choices=Failure.Mode.choices, widget=forms.RadioSelect
    )
    down = forms.ChoiceField(
        label="The machine",
        widget=forms.RadioSelect,
        choices=[("down", "stands since then"), ("runs", "still runs")],
    )
    on = DayBox(label="Failed on", help_text="2026-03-09 or 9 Mar 2026.")
    time = TimeBox(label="At", help_text="14:30. Empty: just now.")
    note = forms.CharField(
        label="Note", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2})
    )
    photos = PhotosBox()
    client_id = forms.CharField(widget=forms.HiddenInput, max_length=36)

    def report(self, site: Site, now: dt.datetime) -> Report:
        given = self.cleaned_data
        failed_at = moment_of(given["on"], given["time"], site, now)
        since = failed_at if given["down"] == "down" else None
        return Report(given["mode"], failed_at, since, given["note"], given["photos"])


class CompleteForm(forms.Form):
    """What became known of a failure later. Whatever isn't known stays empty."""

    cause = forms.ChoiceField(label="Why it failed", choices=Failure.Cause.choices)
    cause_stated = forms.ChoiceField(
        label="How that is known",
        widget=forms.RadioSelect,
        choices=[
            ("supposed", "supposed from what was seen"),
            ("examined", "the hose was examined"),
        ],
    )
    machine_h = hours_box(label="Machine hours then", required=False)
    oil_lost_l = number_box(label="Oil lost", required=False)
    oil_cleaned_up = forms.CharField(
        label="Clean-up", required=False, max_length=300, help_text="What was done, and by whom."
    )
    fire = forms.ChoiceField(label="Fire", widget=forms.RadioSelect, choices=Failure.Fire.choices)
    harm = forms.CharField(
        label="Harm to people",
        required=False,
        max_length=300,
        help_text="Empty: none. Any injection of oil is an emergency: to hospital at once.",
    )
    cost = number_box(
        label="Cost of parts, oil and labour", required=False, help_text="Without the time down."
    )
    claim_on = forms.CharField(label="Claim on", required=False, max_length=120)
    claim = forms.CharField(label="What is claimed", required=False, max_length=300)
    note = forms.CharField(
        label="Note", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    photos = PhotosBox()
    version = forms.IntegerField(widget=forms.HiddenInput)

    def facts(self) -> Mapping[str, Any]:
        given = dict(self.cleaned_data)
        cost: Decimal | None = given.pop("cost")
        del given["photos"], given["version"]
        minor = None if cost is None else int((cost * CENT).to_integral_value())
        return {**given, "cost_minor": minor}


def complete_initial(failure: Failure) -> dict[str, Any]:
    """What the form begins with: what the report says now."""
    plain = ("cause", "cause_stated", "machine_h", "oil_lost_l", "oil_cleaned_up", "fire", "harm")
    more = ("claim_on", "claim", "note", "version")
    cost = None if failure.cost_minor is None else Decimal(failure.cost_minor) / CENT
    return {name: getattr(failure, name) for name in (*plain, *more)} | {"cost": cost}


class BackForm(forms.Form):
    """When the machine ran again."""

    on = DayBox(label="Runs again since")
    time = TimeBox(label="At", help_text="14:30. Empty: just now.")

    def moment(self, site: Site, now: dt.datetime) -> dt.datetime:
        return moment_of(self.cleaned_data["on"], self.cleaned_data["time"], site, now)


class DownForm(forms.Form):
    """A machine that stands, for another reason than a hose or for planned work."""

    planned = forms.ChoiceField(
        label="The stop is",
        widget=forms.RadioSelect,
        choices=[("no", "unplanned: it broke"), ("yes", "planned: it was meant to stand")],
    )
    reason = forms.CharField(label="Why it stands", max_length=500)
    on = DayBox(label="Since")
    time = TimeBox(label="At", help_text="14:30. Empty: just now.")
    to_on = DayBox(label="Until", required=False, help_text="Empty: it still stands.")
    to_time = TimeBox(label="At")

    def spell(self, site: Site, now: dt.datetime) -> tuple[dt.datetime, dt.datetime | None]:
        given = self.cleaned_data
        start = moment_of(given["on"], given["time"], site, now)
        end = given["to_on"] and moment_of(given["to_on"], given["to_time"], site, now)
        return start, end or None
