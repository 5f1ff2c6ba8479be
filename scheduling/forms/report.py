"""What a report is of: a period and a part of the register."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from fleet.forms.typed import DayBox
from fleet.models import MachineClass, Person, Site
from scheduling.models import Failure
from scheduling.queries.group_rates import By
from scheduling.queries.losses import LossScope, Period

LONGEST = 366 * 5


class ReportScopeForm(forms.Form):
    """A period of days, both in it, a site or all one's sites, a class or all of them."""

    from_on = DayBox(label="From")
    to_on = DayBox(label="To")
    site = forms.ModelChoiceField(
        Site.objects.none(), label="Site", required=False, empty_label="all your sites"
    )
    machine_class = forms.ModelChoiceField(
        MachineClass.objects.none(), label="Class", required=False, empty_label="all classes"
    )

    def __init__(self, data: Any, *, person: Person, today: dt.date) -> None:
        year = {"from_on": today - dt.timedelta(364), "to_on": today}
        super().__init__({**{n: d.isoformat() for n, d in year.items()}, **data})
        self.person, self.today = person, today
        sites: Any = self.fields["site"]
        classes: Any = self.fields["machine_class"]
        sites.queryset = Site.objects.visible_to(person).filter(withdrawn_at=None)
        classes.queryset = MachineClass.objects.filter(withdrawn_at=None)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        first, last = given.get("from_on"), given.get("to_on")
        if first and last:
            if last < first:
                self.add_error("to_on", f"{last} is before {first}: turn them round.")
            elif (last - first).days > LONGEST:
                self.add_error("from_on", "A report goes over five years at most.")
            elif first > self.today:
                self.add_error("from_on", f"{first} is still to come.")
            given["to_on"] = min(last, self.today)  # no hour is run yet of days to come
        return given

    def period(self, zone: str) -> Period:
        """The days asked for, from midnight to midnight of a time zone."""
        first, last = self.cleaned_data["from_on"], self.cleaned_data["to_on"]
        midnight, place = dt.time(0), ZoneInfo(zone)
        return Period(
            from_on=first,
            to_on=last,
            begins_at=dt.datetime.combine(first, midnight, tzinfo=place),
            ends_at=dt.datetime.combine(last + dt.timedelta(1), midnight, tzinfo=place),
        )

    def scope(self) -> LossScope:
        site, kind = self.cleaned_data.get("site"), self.cleaned_data.get("machine_class")
        return LossScope(self.person, site.pk if site else None, kind.pk if kind else None)

    def scope_words(self) -> str:
        site, kind = self.cleaned_data.get("site"), self.cleaned_data.get("machine_class")
        sites = Site.objects.visible_to(self.person).filter(withdrawn_at=None)
        names = str(site) if site else ", ".join(str(one) for one in sites[:6])
        return f"{names or 'No site'}: {f'class {kind}' if kind else 'all machines'}"


class RatesForm(ReportScopeForm):
    """The same, and what the register is divided by."""

    by = forms.ChoiceField(
        label="Compare",
        choices=[
            (By.SITE.value, "sites"),
            (By.CLASS.value, "classes of machine"),
            (By.HOSE_TYPE.value, "hose types"),
            (By.CIRCUIT.value, "circuits"),
            (By.RECIPE.value, "crimp recipes"),
            (By.REEL.value, "makers’ batches (reels)"),
        ],
    )

    def __init__(self, data: Any, *, person: Person, today: dt.date) -> None:
        super().__init__({"by": By.CLASS.value, **data}, person=person, today=today)


class CauseForm(forms.Form):
    """A cause to narrow the list of failures to."""

    cause = forms.ChoiceField(
        label="Cause", required=False, choices=[("", "any"), *Failure.Cause.choices]
    )
