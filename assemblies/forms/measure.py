"""The guided form for an old hose with no record: what is on it, how long, which ends."""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from assemblies.calc.connections import hose_type_named
from assemblies.calc.date_reading import parse_day
from assemblies.calc.day_ranges import DateError, DayRange
from assemblies.calc.laylines import Layline, parse_layline
from assemblies.calc.measured_hose import (
    MeasuredHose,
    MeasuredSleeve,
    angle_refusal,
    diameter_sentences,
)
from assemblies.forms.boxes import SizeBox, read_size, text_box, whole_box
from assemblies.forms.measure_ends import EndForm
from assemblies.models import SpecRevision
from assemblies.standards import tables
from fleet.forms.typed import length_box
from fleet.models import Site

SLEEVES = (1, 2, 3)
LONGEST_MM = Decimal(100_000)
WIDEST_MM = Decimal(200)


def _types() -> list[tuple[str, str]]:
    known = [(row.type, row.type) for row in tables.hose_types()]
    return [("", "can’t be told"), *known]


class OldHoseForm(forms.Form):
    """The hose itself. Only what it is for and its length must be said."""

    title = forms.CharField(
        label="What it is for",
        max_length=160,
        help_text="Machine and place in words: loader 4, boom lift, rod side, left.",
    )
    site = forms.TypedChoiceField(label="Site", coerce=int, required=False)
    layline = text_box(
        "Printed along the hose", 200, help_text="As it stands there: …/EN 853/2SN/DN 10/2Q16."
    )
    hose_type = forms.ChoiceField(label="Type", choices=_types, required=False)
    size = SizeBox(required=False, label="Size")
    made = text_box("Date of the hose", 60, help_text="2Q16, May 2016 or 2016-05-12.")
    outside_mm = length_box(label="Outside diameter", required=False, help_text="Over the cover.")
    over_wire_mm = length_box(
        label="Diameter over the wire",
        required=False,
        help_text="Only where the cover is off already.",
    )
    layers = whole_box("Layers of wire", 1, 8, help_text="Only where they can be counted.")
    length_mm = length_box(label="Length", help_text="1200, 1.2 m or 47 1/4 in.")
    length_basis = forms.ChoiceField(label="Measured", choices=SpecRevision.Basis.choices)
    orientation_deg = whole_box(
        "Angle between the ends",
        0,
        359,
        help_text="Only where both ends point somewhere. Empty where it can’t be told.",
    )
    marks = text_box("Other marks", 200, help_text="Assembler’s mark, tag, pressure, date.")
    note = forms.CharField(
        label="Note", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )
    client_id = forms.CharField(widget=forms.HiddenInput, max_length=40)

    def __init__(
        self, *args: Any, today: dt.date, sites: Mapping[int, Site] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.sites = today, dict(sites or {})
        self.layline_read: Layline | None = None
        self.made_read: DayRange | None = None
        if len(self.sites) > 1:
            choices = [(pk, str(site)) for pk, site in self.sites.items()]
            self.fields["site"].choices = choices  # type: ignore[attr-defined]  # a ChoiceField
            self.fields["site"].required = True
        else:
            del self.fields["site"]
        for number in SLEEVES:
            self.fields[f"sleeve_{number}"] = text_box(
                f"Sleeve or guard {number}", 80, help_text="Spiral guard, textile sleeve…"
            )
            self.fields[f"sleeve_{number}_from"] = length_box(label="from", required=False)
            self.fields[f"sleeve_{number}_to"] = length_box(
                label="to", required=False, help_text="Empty: to the end."
            )

    def sleeve_rows(self) -> list[tuple[forms.BoundField, ...]]:
        """The boxes of each sleeve."""
        return [
            (self[f"sleeve_{n}"], self[f"sleeve_{n}_from"], self[f"sleeve_{n}_to"]) for n in SLEEVES
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self._read_layline(given)
        self._refuse_sizes(given)
        self._refuse_sleeves(given)
        return given

    def _read_layline(self, given: dict[str, Any]) -> None:
        """Read the layline; what is typed beside it must not say something else."""
        line = (
            parse_layline(given["layline"], latest_on=self.today) if given.get("layline") else None
        )
        self.layline_read = line
        kind = hose_type_named(line.type) if line and line.type else None
        given["hose_type"] = self._one("hose_type", kind.type if kind else "", given)
        size = line.size.dn if line and line.size else None
        typed = self._typed_size(given)
        if typed and size and typed != size:
            self.add_error("size", f"The layline says DN{size}, you wrote DN{typed}: which is it?")
        given["size_dn"] = typed or size
        self.made_read = self._typed_day(given, line.hose_made if line else None)

    def _one(self, name: str, read: str, given: dict[str, Any]) -> str:
        typed = given.get(name) or ""
        if typed and read and typed != read:
            self.add_error(name, f"The layline says {read}, you chose {typed}: which is it?")
        return typed or read

    def _typed_size(self, given: dict[str, Any]) -> int | None:
        if not given.get("size"):
            return None
        try:
            return read_size(given["size"], given.get("hose_type", ""))
        except forms.ValidationError as error:
            self.add_error("size", error)
            return None

    def _typed_day(self, given: dict[str, Any], read: DayRange | None) -> DayRange | None:
        if not given.get("made"):
            return read
        try:
            typed = parse_day(given["made"], latest_on=self.today)
        except DateError as error:
            self.add_error("made", str(error))
            return None
        if read and (typed.earliest, typed.latest) != (read.earliest, read.latest):
            self.add_error("made", "The layline has another date than this: which is it?")
        return typed

    def _refuse_sizes(self, given: dict[str, Any]) -> None:
        for name, most in (
            ("length_mm", LONGEST_MM), ("outside_mm", WIDEST_MM), ("over_wire_mm", WIDEST_MM),
        ):  # fmt: skip
            size = given.get(name)
            if size is not None and not 0 < size <= most:
                self.add_error(name, f"{size} mm can’t be: it lies above 0 and up to {most} mm.")
        outside, wire = given.get("outside_mm"), given.get("over_wire_mm")
        if outside is not None and wire is not None and wire > outside:
            self.add_error("over_wire_mm", f"The wire lies under the cover of {outside} mm.")

    def _refuse_sleeves(self, given: dict[str, Any]) -> None:
        length = given.get("length_mm")
        for n in SLEEVES:
            kind = given.get(f"sleeve_{n}")
            begin, end = given.get(f"sleeve_{n}_from"), given.get(f"sleeve_{n}_to")
            if not kind and (begin is not None or end is not None):
                self.add_error(f"sleeve_{n}", "Say what kind it is.")
            if end is not None and end <= (begin or 0):
                self.add_error(f"sleeve_{n}_to", "It ends where it begins, or before.")
            for name, at in ((f"sleeve_{n}_from", begin), (f"sleeve_{n}_to", end)):
                if at is not None and length is not None and at > length:
                    self.add_error(name, f"The hose is {length} mm long: this lies past its end.")


class OldHoseForms:
    """The form of the hose and those of its two ends, sent as one."""

    def __init__(
        self,
        data: Any,
        *,
        today: dt.date,
        sites: Mapping[int, Site] | None = None,
        initial: Mapping[str, Any] | None = None,
    ) -> None:
        self.hose = OldHoseForm(data, today=today, sites=sites, initial=dict(initial or {}))
        self.near, self.far = EndForm(data, which="A"), EndForm(data, which="B")
        self.all: tuple[forms.Form, ...] = (self.hose, self.near, self.far)

    @property
    def ends(self) -> tuple[EndForm, EndForm]:
        return (self.near, self.far)

    def is_valid(self) -> bool:
        """Whether all three hold, and the angle means something between these ends."""
        wrong = [form for form in self.all if not form.is_valid()]
        angle = self.hose.cleaned_data.get("orientation_deg")
        if angle is not None and not self.near.errors and not self.far.errors:
            reason = angle_refusal(self.near.end(), self.far.end())
            if reason:
                self.hose.add_error("orientation_deg", f"{reason} Leave it empty.")
        return not wrong and not self.hose.errors

    def look(self) -> None:
        """Read what is there; what is still missing is no error yet."""
        self.is_valid()
        for form in self.all:
            missing = [
                name
                for name, errors in form.errors.as_data().items()
                if {error.code for error in errors} == {"required"}
            ]
            for name in missing:
                del form.errors[name]

    def findings(self) -> tuple[str, ...]:
        """What the layline and the diameters say, in sentences."""
        given, line = self.hose.cleaned_data, self.hose.layline_read
        told = [f"Read as {_read_words(line)}." if line else ""]
        told += line.ambiguous if line else ()
        told += diameter_sentences(
            given.get("hose_type") or "",
            given.get("size_dn"),
            given.get("outside_mm"),
            given.get("over_wire_mm"),
        )
        return tuple(sentence for sentence in told if sentence)

    def measured(self) -> MeasuredHose:
        """All of it as it was read."""
        given, made = self.hose.cleaned_data, self.hose.made_read
        names = ("length_mm", "length_basis", "layline", "hose_type", "size_dn", "outside_mm")
        more = ("over_wire_mm", "layers", "orientation_deg", "marks", "note")
        return MeasuredHose(
            near=self.near.end(),
            far=self.far.end(),
            made_earliest_on=made.earliest if made else None,
            made_latest_on=made.latest if made else None,
            sleeves=tuple(
                MeasuredSleeve(
                    given[f"sleeve_{n}"],
                    given[f"sleeve_{n}_from"] or Decimal(0),
                    given[f"sleeve_{n}_to"],
                )
                for n in SLEEVES
                if given[f"sleeve_{n}"]
            ),
            **{name: given[name] for name in (*names, *more)},
        )

    def typed(self) -> dict[str, str]:
        """What was typed, word for word, by the name of its box."""
        skipped = {"client_id"}
        return {
            form.add_prefix(name): str(form[name].value())
            for form in self.all
            for name in form.fields
            if name not in skipped and form[name].value() not in (None, "")
        }


def _read_words(line: Layline) -> str:
    made = f"made {line.hose_made.earliest} to {line.hose_made.latest}" if line.hose_made else ""
    parts = [line.maker and f"maker {line.maker}", line.standard, line.type]
    found = [str(part) for part in (*parts, line.size, made) if part]
    return ", ".join(found) or "nothing that is known here"
