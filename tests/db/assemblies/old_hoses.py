"""An old hose as a fitter types it at the machine, for tests."""

from typing import Any

from assemblies.actions.copies import OldHose, keep_measured
from assemblies.calc.lengths import Basis
from assemblies.forms.measure import OldHoseForms
from assemblies.models import SpecCopy
from fleet.models import Person, Site
from tests import factories as make

HOSE: dict[str, str] = {
    "title": "Loader 4, boom lift, rod side",
    "layline": "Harrow Hose/EN 853/2SN/DN 12/2Q16",
    "length_mm": "1200",
    "length_basis": Basis.SEAT_TO_SEAT.value,
    "client_id": "old-1",
}
LIGHT_22: dict[str, str] = {
    "form": "straight",
    "turns": "swivel_nut",
    "kind": "male",
    "diameter_mm": "29,9",
    "pitch_mm": "2",
    "seat": "24",
    "tube_mm": "22",
    "is_key": "24° cone L|22",
}


def typed(**changes: str) -> dict[str, str]:
    """What is sent: the hose, and both ends under their letters; `a_…` and `b_…` change an end."""
    ends = {f"{letter}-{name}": text for letter in "ab" for name, text in LIGHT_22.items()}
    named = {
        f"{name[0]}-{name[2:]}" if name[:2] in ("a_", "b_") else name: text
        for name, text in changes.items()
    }
    return {**HOSE, **ends, **named}


def read(data: dict[str, str], **options: Any) -> OldHoseForms:
    return OldHoseForms(data, today=make.TODAY, **options)


def kept(at: Site, by: Person, client_id: str = "", **changes: str) -> SpecCopy:
    """An old hose kept as it was measured."""
    from json import loads

    from fleet.calc.frozen import to_json

    forms = read(typed(**changes))
    assert forms.is_valid(), [form.errors for form in forms.all]
    measured = {"typed": forms.typed(), "read": loads(to_json(forms.measured()))}
    old = OldHose(at, forms.hose.cleaned_data["title"], measured)
    return keep_measured(old=old, client_id=client_id, person=by, at=make.NOW)
