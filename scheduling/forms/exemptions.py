"""The form of an exemption: for what, which triggers, why, until when."""

from typing import Any

from django import forms

from assemblies.models import Position
from fleet.forms.typed import DayBox
from fleet.models import Machine, MachineClass, Site
from scheduling.actions.exemptions import NAMES
from scheduling.calc.due_words import TITLES
from scheduling.calc.inputs import Trigger
from scheduling.forms.rules import any_of

SCOPE = ("site", "machine_class", "machine", "circuit", "hose_type", "consequence", "exposure")


class ReasonForm(forms.Form):
    """Which triggers are put off, why, and until when: for a hose or a position."""

    triggers = forms.MultipleChoiceField(
        label="What is put off",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        choices=[(name, TITLES[Trigger[name.upper()]]) for name in NAMES],
        help_text="Nothing ticked: all of these. Take out now is never put off.",
    )
    reason = forms.CharField(
        label="Why the limit may be passed",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    until_on = DayBox(label="Until", help_text="The last day, such as 2026-06-30.")

    def covers(self) -> dict[str, Any]:
        """The scope it names; a hose or a position is named by the address."""
        return {}


class ScopeForm(ReasonForm):
    """The same for a stated scope."""

    site = forms.ModelChoiceField(
        Site.objects.none(), label="Site", required=False, empty_label="every site"
    )
    machine_class = forms.ModelChoiceField(
        MachineClass.objects.none(), label="Class", required=False, empty_label="any"
    )
    machine = forms.ModelChoiceField(
        Machine.objects.none(), label="Machine", required=False, empty_label="any"
    )
    circuit = any_of("Circuit", Position.Circuit.choices)
    hose_type = forms.CharField(label="Hose type", max_length=40, required=False)
    consequence = any_of("If it fails", Position.Consequence.choices)
    exposure = any_of("Exposure", Position.Exposure.choices)

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["site"].queryset = sites
        fields["machine_class"].queryset = MachineClass.objects.filter(withdrawn_at=None)
        fields["machine"].queryset = Machine.objects.filter(
            site__in=sites, withdrawn_at=None
        ).order_by("number_key")

    def covers(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {name: given[name] for name in SCOPE if given[name] not in (None, "")}
