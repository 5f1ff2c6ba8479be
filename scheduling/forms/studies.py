"""What a life study is of."""

from typing import Any

from django import forms

from assemblies.models import Position
from fleet.forms.typed import number_box
from fleet.models import MachineClass, Person, Site
from scheduling.actions.studies import Asked
from scheduling.calc.life.installations import CAUSE_GROUPS, Clock
from scheduling.queries.lifetimes import LifeScope

_ANY = ("", "any")


class StudyForm(forms.Form):
    """Scope, clock, causes, and what a change and a failure cost."""

    title = forms.CharField(label="Name", max_length=100, help_text="Such as: lift hoses, loaders.")
    clock = forms.ChoiceField(
        label="Age in",
        widget=forms.RadioSelect,
        choices=[("hours", "machine hours"), ("days", "days since fitting")],
    )
    causes = forms.ChoiceField(
        label="Failures by",
        required=False,
        choices=[("", "every cause"), *((name, name) for name in CAUSE_GROUPS)],
        help_text="Wear by routing is another population than age: study them apart.",
    )
    site = forms.ModelChoiceField(
        Site.objects.none(), label="Site", required=False, empty_label="every site"
    )
    machine_class = forms.ModelChoiceField(
        MachineClass.objects.none(), label="Class", required=False, empty_label="any"
    )
    circuit = forms.ChoiceField(
        label="Circuit", required=False, choices=[_ANY, *Position.Circuit.choices]
    )
    hose_type = forms.CharField(label="Hose type", required=False, max_length=40)
    consequence = forms.ChoiceField(
        label="If it fails", required=False, choices=[_ANY, *Position.Consequence.choices]
    )
    exposure = forms.ChoiceField(
        label="Exposure", required=False, choices=[_ANY, *Position.Exposure.choices]
    )
    planned = number_box(
        label="A planned change costs",
        required=False,
        help_text="Hose, labour and the planned stop’s share.",
    )
    failure = number_box(
        label="A failure costs",
        required=False,
        help_text="Hose, labour, oil, clean-up and the machine’s time down.",
    )
    today_age = number_box(
        label="Changed today at",
        required=False,
        help_text="Hours or days, as chosen above. Empty: by the strictest approved rule.",
    )

    def __init__(self, *args: Any, person: Person, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site: Any = self.fields["site"]
        kind: Any = self.fields["machine_class"]
        site.queryset, site.required = sites, not person.sees_every_site
        if site.required:
            site.empty_label = None
        kind.queryset = MachineClass.objects.filter(withdrawn_at=None)

    def asked(self) -> Asked:
        given = self.cleaned_data
        site, kind = given["site"], given["machine_class"]
        scope = LifeScope(
            site_id=site.pk if site else None,
            machine_class_id=kind.pk if kind else None,
            circuit=given["circuit"],
            hose_type=given["hose_type"].strip(),
            consequence=given["consequence"],
            exposure=given["exposure"],
        )
        money = {name: given[name] for name in ("planned", "failure", "today_age")}
        return Asked(given["title"], scope, Clock(given["clock"]), given["causes"], **money)
