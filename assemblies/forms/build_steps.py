"""The boxes of a piece laid out in the order of its sheet, each with what was judged of it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.forms import BoundField

from assemblies.calc.build_lines import Asked, Judgement, Line
from assemblies.calc.sheet import SheetContent
from assemblies.calc.trial_words import BEFORE_EVERY_PRESS
from assemblies.forms.builds import PieceForm
from assemblies.queries.bench_choices import Proposal

_UNITS = {
    **{"cut_length_mm": "mm", "hose_used_m": "m", "finished_length_mm": "mm", "angle_deg": "°"},
    **{"proof_hold_s": "s", "insertion_depth_mm": "mm", "external_skive_mm": "mm"},
    **{"internal_skive_mm": "mm", "setting_mm": "mm"},
}
_CUT = (
    *("built_on", "made_by", "reel", "crimper", "cut_square", "cut_length_mm", "hose_used_m"),
    "bore_cleaned_with",
)
_MARKS = (
    *("fitting_lot", "shell_lot", "insertion_depth_mm", "external_skive", "external_skive_mm"),
    *("internal_skive", "internal_skive_mm"),
)
_CRIMP = (
    *("die_set", "setting_mm", "od", "instrument", "closed_again", "pin", "must_pass_pin"),
    "mark_visible",
)
_AFTER = ("finished_length_mm", "angle_deg")
_TEST = ("proof_pressure_bar", "proof_hold_s", "gauge", "proof_passed")
_FINISH = ("flushed_with", "cleanliness", "stamped", "note", "photos")
BEFORE_A_TEST = (
    "Behind a guard, nobody in line with the ends. Wear eye protection.",
    "With liquid, air bled. Raise the pressure slowly.",
    "Never search for a leak with a hand. Let the pressure off before you touch it.",
)


@dataclass(frozen=True, slots=True)
class Box:
    """One box: its field, its unit, and how what stands in it was judged."""

    name: str
    bound: BoundField
    unit: str
    lines: tuple[Line, ...]
    proposed: str = ""

    @property
    def only_of_a_length(self) -> bool:
        """Whether the box before it must say that there is a length at all."""
        return self.name.endswith("_skive_mm")


@dataclass(frozen=True, slots=True)
class Step:
    """One step at the bench: its boxes, and the caution that stands before them."""

    number: int
    title: str
    boxes: tuple[Box, ...]
    caution: str = ""
    points: tuple[str, ...] = ()


def steps_of(
    form: PieceForm,
    content: SheetContent,
    judged: Judgement,
    proposals: dict[str, Proposal],
) -> tuple[Step, ...]:
    """The steps of one piece, in the order of its sheet; a step without a box is left out."""
    said = said_by_box(judged)
    near, far = (end.label for end in content.ends)
    plan = (
        ("Hose and cut", _CUT, "", ()),
        *_end_plan(near),
        *_end_plan(far),
        ("Length and angle", _AFTER, "", ()),
        ("Proof test", _TEST, "Before the test", BEFORE_A_TEST),
        ("Flush, stamp, note", _FINISH, "", ()),
    )
    found = [
        (title, tuple(_boxes(form, names, said, proposals)), caution, points)
        for title, names, caution, points in plan
    ]
    there = [one for one in found if one[1]]
    return tuple(Step(number, *one) for number, one in enumerate(there, 1))


def said_by_box(judged: Judgement) -> dict[str, tuple[Line, ...]]:
    """The judged lines of each box."""
    found: dict[str, tuple[Line, ...]] = {}
    for line in judged.lines:
        found[line.field] = (*found.get(line.field, ()), line)
    return found


def unreadable(form: PieceForm) -> dict[str, tuple[Line, ...]]:
    """What stands in a box and can't be read, as lines beside it."""
    return {
        name: (Asked("", name, str(form.fields[name].label)).out("", str(errors[0])),)
        for name, errors in form.errors.items()
        if name in form.fields
    }


def _end_plan(label: str) -> Iterator[tuple[str, tuple[str, ...], str, tuple[str, ...]]]:
    prefix = label.lower()
    marks = tuple(f"{prefix}_{name}" for name in _MARKS)
    yield f"End {label}: parts, marks, skive", marks, "", ()
    crimp = tuple(f"{prefix}_{name}" for name in _CRIMP)
    yield f"End {label}: crimp", crimp, "Before every press", tuple(BEFORE_EVERY_PRESS)


def _boxes(
    form: PieceForm,
    names: Iterable[str],
    said: dict[str, tuple[Line, ...]],
    proposals: dict[str, Proposal],
) -> Iterator[Box]:
    for name in names:
        if name not in form.fields:
            continue
        label, _, bare = name.partition("_") if name[:2] in ("a_", "b_") else ("", "", name)
        proposal = proposals.get(label.upper()) if bare == "setting_mm" else None
        unit = _UNITS.get(bare, "")
        yield Box(name, form[name], unit, said.get(name, ()), proposal.words if proposal else "")
