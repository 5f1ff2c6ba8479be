"""The form of a spec: hose, two ends, length, angle, sleeves, test."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from assemblies.actions.specs import MOST_SLEEVES, EndChoice, Sleeve, SpecContent
from assemblies.forms.boxes import ItemBox, PressureBox, text_box, whole_box
from assemblies.models import SpecRevision
from fleet.forms.typed import length_box

_SHOWN_SLEEVES = 2
_OWN_FACTS = (
    *("hose", "length_mm", "length_basis", "tolerance_plus_mm", "tolerance_minus_mm"),
    *("orientation_deg", "test_pressure_bar", "test_hold_s", "cleanliness", "note", "change_note"),
)


class SpecForm(forms.Form):
    """What an assembly must be. Code and title are typed once, when the spec is added."""

    code = forms.CharField(label="Code", max_length=40)
    title = forms.CharField(
        label="What it is for", max_length=160, help_text="In words: boom lift, rod side, left."
    )
    hose = ItemBox("hose", label="Hose", help_text="By its code in the catalogue.")
    length_mm = length_box(label="Length", help_text="1200, 1.2 m or 47 1/4 in.")
    length_basis = forms.ChoiceField(
        label="Measured", choices=SpecRevision.Basis.choices, initial="seat_to_seat"
    )
    tolerance_plus_mm = length_box(
        label="Tolerance plus", required=False, help_text="Empty: as DIN 20066 gives it."
    )
    tolerance_minus_mm = length_box(label="Tolerance minus", required=False)
    end_a_fitting = ItemBox("fitting", label="End A: fitting")
    end_a_shell = ItemBox(
        "shell", label="End A: shell", required=False, help_text="Empty for a one-piece fitting."
    )
    end_b_fitting = ItemBox("fitting", label="End B: fitting")
    end_b_shell = ItemBox("shell", label="End B: shell", required=False)
    orientation_deg = whole_box(
        "Angle between the ends",
        0,
        359,
        help_text="Look along the hose from end A with end B pointing up: clockwise from B to A. "
        "Only where both ends point somewhere.",
    )
    test_pressure_bar = PressureBox(
        label="Test pressure", required=False, help_text="Empty: twice the working pressure."
    )
    test_hold_s = whole_box("Held", 1, 3600, help_text="Usual is 30 to 60 s.")
    cleanliness = text_box("Cleanliness", 80)
    note = forms.CharField(
        label="Note", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )
    change_note = text_box("What changes, and why", 500)

    def __init__(self, *args: Any, adding: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if adding:
            del self.fields["change_note"]
        else:
            del self.fields["code"], self.fields["title"]
        for number in range(1, self._rows() + 1):
            self.fields[f"sleeve_{number}"] = text_box(
                f"Sleeve {number}", 80, help_text="Spiral guard, textile sleeve, fire sleeve…"
            )
            self.fields[f"sleeve_{number}_from"] = length_box(label="from", required=False)
            self.fields[f"sleeve_{number}_to"] = length_box(
                label="to", required=False, help_text="Empty: to the end of the hose."
            )

    def _rows(self) -> int:
        """One row more than there are sleeves; two at least."""
        given: Mapping[str, Any] = self.data or self.initial
        filled = [n for n in range(1, MOST_SLEEVES + 1) if given.get(f"sleeve_{n}")]
        return min(MOST_SLEEVES, max(_SHOWN_SLEEVES, max(filled, default=0) + 1))

    def sleeve_rows(self) -> list[tuple[forms.BoundField, ...]]:
        """The boxes of each sleeve."""
        rows = range(1, self._rows() + 1)
        return [
            (self[f"sleeve_{n}"], self[f"sleeve_{n}_from"], self[f"sleeve_{n}_to"]) for n in rows
        ]

    def content(self) -> SpecContent:
        """What the actions take."""
        given = self.cleaned_data
        facts = {name: given[name] for name in _OWN_FACTS if name in given}
        test = given["test_pressure_bar"]
        facts["test_pressure_bar"] = test.bar if test else None
        return SpecContent(
            facts,
            EndChoice(given["end_a_fitting"], given["end_a_shell"]),
            EndChoice(given["end_b_fitting"], given["end_b_shell"]),
            tuple(self._sleeves()),
        )

    def _sleeves(self) -> list[Sleeve]:
        given = self.cleaned_data
        return [
            Sleeve(
                given[f"sleeve_{n}"],
                given[f"sleeve_{n}_from"] or Decimal(0),
                given[f"sleeve_{n}_to"],
            )
            for n in range(1, self._rows() + 1)
            if given[f"sleeve_{n}"]
        ]


class CopyForm(forms.Form):
    """The code and title of a copy."""

    code = forms.CharField(label="Code", max_length=40)
    title = forms.CharField(label="What it is for", max_length=160)


class SpecSearchForm(forms.Form):
    """What to look for, in any notation."""

    q = forms.CharField(
        label="Code, title, hose, size or connection",
        required=False,
        max_length=80,
        help_text='A code, or DN12, -8, 1/2", 2SN, DKOL.',
    )


def spec_initial(revision: SpecRevision) -> dict[str, Any]:
    """What a revision says, for its form; the reason of the change is not said again."""
    found: dict[str, Any] = {
        name: getattr(revision, name) for name in _OWN_FACTS if name != "change_note"
    }
    for end in revision.ends.select_related("fitting", "shell"):
        found[f"end_{end.which.lower()}_fitting"] = end.fitting
        found[f"end_{end.which.lower()}_shell"] = end.shell
    for sleeve in revision.sleeves.all():
        found[f"sleeve_{sleeve.number}"] = sleeve.kind
        found[f"sleeve_{sleeve.number}_from"] = sleeve.from_mm
        found[f"sleeve_{sleeve.number}_to"] = sleeve.to_mm
    return found
