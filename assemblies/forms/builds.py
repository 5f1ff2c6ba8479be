"""Forms of the bench: a piece as it is written down, box by box in the order of its sheet."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from assemblies.actions.build_scrapping import Scrap
from assemblies.actions.build_signing import Signing
from assemblies.actions.build_writing import Typed
from assemblies.calc.sheet import SheetContent
from assemblies.forms.bench_boxes import (
    AS_YES_NO,
    either,
    end_fields,
    metres_box,
    whole_fields,
)
from assemblies.forms.boxes import text_box, whole_box
from assemblies.queries.bench_choices import BenchChoices
from assemblies.queries.sheets import MOST_PIECES

SHARED = ("reel", "crimper", "made_by", "bore_cleaned_with", "flushed_with", "cleanliness", "gauge")
SHARED_OF_AN_END = ("fitting_lot", "shell_lot", "die_set", "instrument")


class PieceForm(forms.Form):
    """All that is written of one piece. What its sheet does not ask for has no box.

    Nothing is required: a piece is saved as often as one likes, and judged as it stands.
    """

    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    photos_id = forms.CharField(widget=forms.HiddenInput, max_length=30, required=False)

    def __init__(
        self, *args: Any, content: SheetContent, choices: BenchChoices, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.labels = tuple(end.label for end in content.ends)
        self.fields.update(whole_fields(choices))
        for end in content.ends:
            if end.crimp is not None:
                self.fields.update(end_fields(end.label, end.crimp, choices))
        if content.orientation.angle_deg is None:
            del self.fields["angle_deg"]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for label in self.labels:
            for name in ("external_skive", "internal_skive"):
                self._refuse_two_skives(f"{label.lower()}_{name}", given)
        return given

    def _refuse_two_skives(self, name: str, given: dict[str, Any]) -> None:
        """A length is a skive of a length; beside “none” it says two things."""
        kind, length = given.get(name), given.get(f"{name}_mm")
        if length is None or kind in ("length", None):
            return
        if kind:
            self.add_error(name, f"You chose “{kind}” and wrote {length} mm: which is it?")
        given[name] = "length"

    def typed(self) -> Typed:
        """What was typed, of the boxes that can be read."""
        given = {n: v for n, v in self.cleaned_data.items() if n not in ("seen", "photos_id")}
        photos = given.pop("photos", None) or []
        ends = {
            label: _columns(_of_end(label, given)) for label in self.labels if _of_end(label, given)
        }
        whole = {n: v for n, v in given.items() if not n.startswith(_prefixes(self.labels))}
        photos_id = self.cleaned_data.get("photos_id") or ""
        return Typed(_columns(whole), ends, photos, photos_id)


class SharedForm(forms.Form):
    """What is the same for all pieces of a batch, typed once."""

    over = forms.BooleanField(
        label="Also over what stands already",
        required=False,
        help_text="Else only boxes that are still empty are filled.",
    )

    def __init__(
        self, *args: Any, content: SheetContent, choices: BenchChoices, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.labels = tuple(end.label for end in content.ends)
        whole = whole_fields(choices)
        found = {name: whole[name] for name in SHARED}
        for end in content.ends:
            if end.crimp is not None:
                fields = end_fields(end.label, end.crimp, choices)
                names = (f"{end.label.lower()}_{name}" for name in SHARED_OF_AN_END)
                mine = {name: fields[name] for name in names if name in fields}
                for box in mine.values():
                    box.label = f"End {end.label}: {str(box.label).lower()}"
                found |= mine
        self.fields = {**found, **self.fields}

    def typed(self) -> Typed:
        """What was typed; an empty box says nothing."""
        given = {n: v for n, v in self.cleaned_data.items() if v not in (None, "") and n != "over"}
        ends = {label: _columns(_of_end(label, given)) for label in self.labels}
        whole = {n: v for n, v in given.items() if not n.startswith(_prefixes(self.labels))}
        return Typed(_columns(whole), ends)


class BeginForm(forms.Form):
    """How many pieces are begun."""

    quantity = whole_box("How many pieces", 1, MOST_PIECES, required=True)
    client_id = forms.CharField(widget=forms.HiddenInput, max_length=40)


class AsideForm(forms.Form):
    """Why a sheet is not to be built any more."""

    reason = text_box("Why it is not to be built", 300, required=True)


class SignForm(forms.Form):
    """The tag of a good piece, and where it goes."""

    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    tag = text_box("Tag", 20, help_text="Of a printed blank one. Empty: a new one is drawn.")
    to = forms.ChoiceField(
        label="Where it goes",
        choices=[("store", "into store"), ("bench", "it stays on the bench")],
        widget=forms.RadioSelect,
        initial="store",
    )
    store_place = text_box("Place in store", 60)

    def signing(self) -> Signing:
        given = self.cleaned_data
        return Signing(given["tag"], given["to"], given["store_place"])


class SignBatchForm(forms.Form):
    """Where the good pieces of a batch go; their tags are drawn."""

    to = forms.ChoiceField(
        label="Where they go",
        choices=[("store", "into store"), ("bench", "they stay on the bench")],
        widget=forms.RadioSelect,
        initial="store",
    )
    store_place = text_box("Place in store", 60)

    def signing(self) -> Signing:
        given = self.cleaned_data
        return Signing("", given["to"], given["store_place"])


class ScrapForm(forms.Form):
    """Why a piece is scrapped, and what went with it."""

    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    reason = text_box("Why it is scrapped", 500, required=True)
    scrap_hose_m = metres_box("Hose that is gone", required=True, help_text="0 where none was cut.")
    ends_crimped = forms.MultipleChoiceField(
        label="Ends already crimped on",
        choices=[("A", "end A"), ("B", "end B")],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text="Their fittings and shells are gone too.",
    )

    def scrap(self) -> Scrap:
        given = self.cleaned_data
        return Scrap(given["reason"], given["scrap_hose_m"], tuple(given["ends_crimped"]))


class AmendForm(forms.Form):
    """What is added beside a signed build."""

    text = forms.CharField(
        label="What is to be added", max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    reason = text_box("Why", 500, required=True)


def _prefixes(labels: Sequence[str]) -> tuple[str, ...]:
    return tuple(f"{label.lower()}_" for label in labels)


def _of_end(label: str, given: Mapping[str, Any]) -> dict[str, Any]:
    prefix = f"{label.lower()}_"
    return {n.removeprefix(prefix): v for n, v in given.items() if n.startswith(prefix)}


def _columns(given: Mapping[str, Any]) -> dict[str, Any]:
    """Boxes by the columns that keep them."""
    found: dict[str, Any] = {}
    for name, value in given.items():
        column = "od_readings" if name == "od" else name
        told = getattr(value, "bar", value) if name == "proof_pressure_bar" else value
        found[column] = either(told) if name in AS_YES_NO else told
    return found
