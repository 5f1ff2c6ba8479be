"""Forms of life rules: taking over published limits, and writing the site's own."""

from typing import Any

from django import forms

from assemblies.models import Position
from fleet.forms.typed import hours_box
from fleet.models import Machine, MachineClass, Site
from scheduling.calc.presets import presets
from scheduling.calc.rule_words import rule_words
from scheduling.models import LifeRuleRevision


class PresetForm(forms.Form):
    """Which published limits, for which site."""

    site = forms.ModelChoiceField(Site.objects.none(), label="For the site", empty_label=None)
    preset = forms.ChoiceField(label="Limits", widget=forms.RadioSelect)

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["site"].queryset = sites
        fields["preset"].choices = [
            (p.code, f"{p.title}: {'; '.join(rule_words(p.limits))}. Source: {p.source}")
            for p in presets()
        ]


def _months(label: str) -> forms.IntegerField:
    box = forms.TextInput(attrs={"inputmode": "numeric"})
    return forms.IntegerField(label=label, required=False, min_value=1, max_value=1200, widget=box)


def any_of(label: str, choices: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, required=False, choices=[("", "any"), *choices])


class RuleForm(forms.Form):
    """A rule: whom it speaks of, its limits, and where they come from."""

    name = forms.CharField(label="Name", max_length=120)
    source = forms.CharField(
        label="Where the limits come from",
        max_length=300,
        help_text="A document with its edition, the machine maker, or the site’s own choice.",
    )
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
    made_months = _months("From hose made")
    built_months = _months("From assembly built")
    fitted_months = _months("From fitted")
    storage_months = _months("In storage")
    reel_age_months = _months("Hose made until built")
    inspect_months = _months("Inspect every")
    hours_fitting = hours_box(label="Hours on one fitting", required=False)
    hours_total = hours_box(label="Hours in all", required=False)
    inspect_hours = hours_box(label="Inspect every", required=False)

    def __init__(self, *args: Any, sites: Any, named: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["site"].queryset = sites
        fields["machine_class"].queryset = MachineClass.objects.filter(withdrawn_at=None)
        fields["machine"].queryset = Machine.objects.filter(
            site__in=sites, withdrawn_at=None
        ).order_by("number_key")
        if not named:
            del fields["name"]

    def facts(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if name != "name"}

    @staticmethod
    def facts_of(rule: LifeRuleRevision) -> dict[str, Any]:
        """What stands in a revision, to begin the next one from."""
        names = [name for name in RuleForm.base_fields if name != "name"]
        return {name: getattr(rule, name) for name in names}


class WithdrawForm(forms.Form):
    """Why a rule counts no more."""

    reason = forms.CharField(label="Why it is withdrawn", max_length=500)
