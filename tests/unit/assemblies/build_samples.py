"""A piece made exactly as its sheet says: nothing is known here but the sheet's own content."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from assemblies.calc.build_actuals import (
    BuildActuals,
    EndActuals,
    ReelFacts,
    SkiveDone,
    ToolFacts,
)
from assemblies.calc.build_check import judge_build
from assemblies.calc.build_lines import Judgement, Line
from assemblies.calc.sheet import EndLine, SheetContent, Skive

D = Decimal
DAY = date(2026, 11, 26)
IN_DATE = {"calibrated_on": date(2026, 2, 1), "due_on": date(2027, 2, 1)}
MICROMETER = ToolFacts("M 1", **IN_DATE)


def by_the_sheet(content: SheetContent) -> BuildActuals:
    """A piece of which everything is as the sheet asks."""
    length, test = content.length, content.test
    return BuildActuals(
        built_on=DAY,
        ends=(end_by_the_sheet(content.ends[0]), end_by_the_sheet(content.ends[1])),
        reel=ReelFacts("R-1", content.hose.code, D(40), age_words="made 3 months before"),
        crimper=ToolFacts("CP-1", **IN_DATE),
        made_by="A fitter",
        cut_square=True,
        bore_cleaned_with="foam plug, twice",
        cut_length_mm=length.cut_length_mm,
        hose_used_m=None if length.cut_length_mm is None else length.cut_length_mm / 1000,
        finished_length_mm=length.length_mm,
        angle_deg=content.orientation.angle_deg,
        stamped=True,
        flushed_with="filtered oil",
        cleanliness=content.cleanliness,
        proof_pressure_bar=test.pressure_bar,
        proof_hold_s=test.hold_to_s,
        proof_passed=True,
        gauge=ToolFacts("G 1", **IN_DATE),
    )


def end_by_the_sheet(end: EndLine) -> EndActuals:
    crimp = end.crimp
    if crimp is None:
        return EndActuals(end.label)
    return EndActuals(
        end.label,
        fitting_lot="L-7",
        shell_lot="L-8" if end.shell_code else "",
        die_set=crimp.die,
        insertion_depth_mm=crimp.insertion_depth_mm,
        external_skive=_done(crimp.external_skive),
        internal_skive=_done(crimp.internal_skive),
        od_readings_mm=(crimp.crimp_od_mm,) * crimp.readings,
        pin=crimp.pin.expected.value if crimp.pin else "",
        must_pass_pin="enters" if crimp.pin and crimp.pin.must_pass_mm else "",
        mark_visible=True,
        instrument=MICROMETER,
    )


def _done(skive: Skive) -> SkiveDone:
    return SkiveDone(skive.kind, skive.length_mm)


def with_end(actuals: BuildActuals, label: str, **facts: Any) -> BuildActuals:
    """The piece with something else at one end."""
    near, far = actuals.ends
    return replace(
        actuals,
        ends=(
            replace(near, **facts) if near.label == label else near,
            replace(far, **facts) if far.label == label else far,
        ),
    )


def line_of(content: SheetContent, actuals: BuildActuals, field: str, what: str = "") -> Line:
    """The line of one box, or of one of the things judged by it."""
    found = judge_build(content, actuals)
    return next(one for one in found.lines if one.field == field and what in one.what)


def judged(content: SheetContent, actuals: BuildActuals) -> Judgement:
    return judge_build(content, actuals)
