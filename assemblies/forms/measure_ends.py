"""The form of one end of an old hose: its form, its thread by measure, which connection it is."""

from decimal import Decimal
from typing import Any

from django import forms

from assemblies.calc.measured_hose import MeasuredEnd
from assemblies.calc.threads import (
    Identified,
    ThreadMeasures,
    end_keyed,
    identify_flange,
    identify_thread,
    pitch_of,
)
from assemblies.forms.boxes import text_box
from assemblies.models import FittingRevision
from fleet.forms.typed import length_box, number_box

NOT_KNOWN = [("", "can’t be told")]
KINDS = [
    ("", "not measured"),
    ("male", "thread outside (male)"),
    ("female", "nut or socket (female)"),
    ("flange", "flange head"),
]
SEATS = [
    *NOT_KNOWN,
    ("24", "24° cone, O-ring"),
    ("30", "30° cone"),
    ("37", "37° cone"),
    ("45", "45° cone"),
    ("60", "60° cone"),
    ("flat", "flat face with an O-ring"),
    ("thread", "none: the thread itself seals"),
]
WIDEST_MM = Decimal(200)
SAME_PITCH_MM = Decimal("0.05")


class EndForm(forms.Form):
    """One end. Only its form must be said; what can’t be told stays open."""

    form = forms.ChoiceField(label="Form", choices=FittingRevision.Form.choices)
    turns = forms.ChoiceField(
        label="What it turns about",
        choices=[*NOT_KNOWN, *FittingRevision.Turns.choices],
        required=False,
    )
    kind = forms.ChoiceField(label="What was measured", choices=KINDS, required=False)
    diameter_mm = length_box(
        label="Diameter",
        required=False,
        help_text="Male: over the crests. Female: between them. Flange: the head. 29.9 or 1.06 in.",
    )
    pitch_mm = number_box(
        label="Pitch",
        required=False,
        help_text="From crest to crest, by a gauge or over ten threads.",
    )
    per_inch = number_box(label="or threads an inch", required=False)
    seat = forms.ChoiceField(label="Where it seals", choices=SEATS, required=False)
    flank = forms.ChoiceField(
        label="Flanks, by a thread gauge",
        choices=[*NOT_KNOWN, ("55", "55°"), ("60", "60°")],
        required=False,
    )
    tapered = forms.ChoiceField(
        label="The thread",
        choices=[*NOT_KNOWN, ("no", "is parallel"), ("yes", "narrows towards its end")],
        required=False,
    )
    tube_mm = length_box(
        label="Tube that goes in",
        required=False,
        help_text="Outside diameter; or the mouth of the 24° cone.",
    )
    spacing_mm = length_box(
        label="Bolts apart",
        required=False,
        help_text="Flange: between bolt centres, the long way.",
    )
    is_key = forms.CharField(label="Which it is", required=False, widget=forms.RadioSelect)
    drop_mm = length_box(
        label="Drop", required=False, help_text="Elbow: from the hose’s centre line to the seat."
    )
    marks = text_box("Stamped on it", 80)

    def __init__(self, data: Any = None, *, which: str) -> None:
        super().__init__(data, prefix=which.lower())
        self.which = which
        self.identified = Identified(())

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for name in ("diameter_mm", "tube_mm", "spacing_mm", "drop_mm"):
            size = given.get(name)
            if size is not None and not 0 < size <= WIDEST_MM:
                self.add_error(name, f"{size} mm is no size of an end: it has up to 200 mm.")
        pitch = self._pitch(given)
        if not self.errors:
            self._identify(given, pitch)
        return given

    def _pitch(self, given: dict[str, Any]) -> Decimal | None:
        """The pitch by either way of saying it; both must agree."""
        pitch, per_inch = given.get("pitch_mm"), given.get("per_inch")
        if pitch is not None and not Decimal("0.3") <= pitch <= 6:
            self.add_error("pitch_mm", f"{pitch} mm is no pitch: it lies between 0.3 and 6 mm.")
            return None
        if per_inch is None:
            return pitch if isinstance(pitch, Decimal) else None
        if not 4 <= per_inch <= 80:
            self.add_error("per_inch", f"{per_inch} is no number of threads an inch: 4 to 80.")
            return None
        if pitch is not None and abs(pitch_of(per_inch) - pitch) > SAME_PITCH_MM:
            self.add_error(
                "per_inch",
                f"{per_inch} threads an inch are a pitch of {pitch_of(per_inch):.3f} mm, "
                f"not {pitch} mm: write the one you measured.",
            )
            return None
        return pitch_of(per_inch)

    def _identify(self, given: dict[str, Any], pitch: Decimal | None) -> None:
        """Find what it can be, and hold the choice against that."""
        kind, diameter = given.get("kind"), given.get("diameter_mm")
        given["read_pitch_mm"] = pitch
        if kind and diameter is None:
            self.add_error("diameter_mm", "Measure the diameter, or say that it was not measured.")
        elif diameter is not None and not kind:
            self.add_error("kind", "Say what this diameter is of: a male thread, a nut, a flange.")
        elif diameter is not None and kind:
            self.identified = self._found(kind, diameter, pitch, given)
        self._offer(given)

    def _found(
        self, kind: str, diameter: Decimal, pitch: Decimal | None, given: dict[str, Any]
    ) -> Identified:
        if kind == "flange":
            return identify_flange(diameter, given.get("spacing_mm"))
        tapered = {"yes": True, "no": False}.get(given.get("tapered") or "")
        flank = int(given["flank"]) if given.get("flank") else None
        return identify_thread(
            ThreadMeasures(
                diameter,
                is_male=kind == "male",
                pitch_mm=pitch,
                seat=given.get("seat") or "",
                tube_mm=given.get("tube_mm"),
                is_tapered=tapered,
                flank_deg=flank,
            )
        )

    def _offer(self, given: dict[str, Any]) -> None:
        offered = [(one.key, one.words) for one in self.identified.candidates]
        widget: Any = self.fields["is_key"].widget
        widget.choices = [*offered, ("", "leave it open")] if offered else []
        key = given.get("is_key") or ""
        if key and key not in dict(offered):
            self.add_error("is_key", "This no longer fits what was measured: choose again.")

    @property
    def offers(self) -> bool:
        """Whether there is something to choose from."""
        widget: Any = self.fields["is_key"].widget
        return bool(widget.choices)

    def end(self) -> MeasuredEnd:
        """The end as it was read. Where several fit and none was chosen it stays open."""
        given = self.cleaned_data
        end, size = end_keyed(given.get("is_key") or "") or ("", "")
        could = () if end else tuple(one.words for one in self.identified.candidates)
        return MeasuredEnd(
            which=self.which,
            form=given["form"],
            turns=given["turns"],
            end=end,
            size=size,
            could_be=could,
            diameter_mm=given["diameter_mm"],
            pitch_mm=_rounded(given.get("read_pitch_mm")),
            drop_mm=given["drop_mm"],
            marks=given["marks"],
        )


def _rounded(pitch: Decimal | None) -> Decimal | None:
    return None if pitch is None else round(pitch, 3)
