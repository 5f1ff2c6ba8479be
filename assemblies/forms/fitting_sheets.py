"""The form for a fitting-up sheet: which hose goes on, if it is known yet."""

from typing import Any

from django import forms

from assemblies.models import Assembly, Position
from assemblies.queries.choices import hose_named, hoses_to_fit
from fleet.models import Person

NOT_KNOWN = "Not known yet: leave boxes for the pen"


class FittingSheetForm(forms.Form):
    """The hose that goes on, named or picked from the store, or left open; the job."""

    named = forms.CharField(
        label="Tag or owner’s mark of the hose that goes on",
        required=False,
        max_length=200,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
        help_text="Type or scan it, or pick one from the store below.",
    )
    picked = forms.TypedChoiceField(
        label="From the store",
        coerce=int,
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
    )
    job = forms.CharField(label="Job", required=False, max_length=40)

    def __init__(self, *args: Any, person: Person, position: Position, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        stored = [
            (one.hose_id, f"{one.words}{' (the required spec)' if one.suits else ''}")
            for one in hoses_to_fit(position)
        ]
        self.fields["picked"].choices = [("", NOT_KNOWN), *stored]  # type: ignore[attr-defined]  # a ChoiceField

    hose: Assembly | None = None

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        named, picked = given.get("named", ""), given.get("picked")
        if named and picked:
            self.add_error("named", "Name the hose, or pick one from the store: not both.")
        elif named:
            self.hose = hose_named(self.person, named)
            if self.hose is None:
                self.add_error("named", f"No one hose that you may see is “{named}”.")
        elif picked:
            self.hose = Assembly.objects.visible_to(self.person).get(pk=picked)
        return given
