"""A build's rows as the judge takes them, and how a piece stands."""

import datetime as dt
import json
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
from assemblies.calc.build_lines import Judgement
from assemblies.calc.reel_age import reel_age
from assemblies.calc.sheet import SheetContent, SkiveKind, from_json
from assemblies.models import (
    BuildEnd,
    BuildRecord,
    Crimper,
    FrozenSheet,
    Instrument,
    RecipeRevision,
    Reel,
    StockItem,
)
from assemblies.queries.reel_limits import reel_limits
from fleet.models import Site

JOINED = (
    *("assembly__tag", "site", "sheet", "batch", "spec__header", "spec__hose", "made_by"),
    *("reel__hose", "crimper", "gauge", "signed_by"),
)


def ends_of(build: BuildRecord) -> dict[str, BuildEnd]:
    """The two ends of a piece, A and B, with their parts and tools."""
    rows = build.ends.select_related(
        *("recipe__header", "fitting_lot__fitting", "shell_lot__shell", "instrument")
    )
    return {row.which: row for row in rows}


def content_of_build(build: BuildRecord) -> SheetContent | None:
    """What the sheet of a piece says; None for one that was built by no sheet."""
    return from_json(json.dumps(build.sheet.content)) if build.sheet else None


def recipes_of_sheet(sheet: FrozenSheet, content: SheetContent) -> dict[str, RecipeRevision]:
    """The recipe revisions that the sheet's ends name, by the parts of its spec."""
    parts = {end.which: end for end in sheet.spec.ends.all()}
    found: dict[str, RecipeRevision] = {}
    for end in content.ends:
        part = parts[end.label]
        if end.crimp is None:
            continue
        revision = RecipeRevision.objects.filter(
            header__hose=sheet.spec.hose_id,
            header__fitting=part.fitting_id,
            header__shell=part.shell_id,
            number=end.crimp.revision,
        ).first()
        if revision is not None:
            found[end.label] = revision
    return found


def judgement_of(build: BuildRecord, ends: dict[str, BuildEnd] | None = None) -> Judgement | None:
    """How a piece stands by what is written of it now; None where it has no sheet."""
    content = content_of_build(build)
    if content is None:
        return None
    return judge_build(content, actuals_of(build, ends or ends_of(build)))


def actuals_of(build: BuildRecord, ends: dict[str, BuildEnd]) -> BuildActuals:
    """What was done, as the judge takes it. The record need not be saved."""
    return BuildActuals(
        built_on=build.built_on,
        ends=(_end(ends["A"]), _end(ends["B"])),
        reel=reel_facts(build.reel, build.built_on) if build.reel else None,
        crimper=tool_facts(build.crimper),
        made_by=str(build.made_by or ""),
        cut_square=build.cut_square,
        bore_cleaned_with=build.bore_cleaned_with,
        cut_length_mm=build.cut_length_mm,
        hose_used_m=build.hose_used_m,
        finished_length_mm=build.finished_length_mm,
        angle_deg=None if build.angle_deg is None else Decimal(build.angle_deg),
        stamped=build.stamped,
        flushed_with=build.flushed_with,
        cleanliness=build.cleanliness,
        proof_pressure_bar=build.proof_pressure_bar,
        proof_hold_s=build.proof_hold_s,
        proof_passed=build.proof_passed,
        gauge=tool_facts(build.gauge),
        proof_asked=proof_asked(build.site),
        note=build.note,
    )


def _end(row: BuildEnd) -> EndActuals:
    return EndActuals(
        label=row.which,
        fitting_lot=str(row.fitting_lot or ""),
        shell_lot=str(row.shell_lot or ""),
        die_set=row.die_set,
        insertion_depth_mm=row.insertion_depth_mm,
        external_skive=_skive(row.external_skive, row.external_skive_mm),
        internal_skive=_skive(row.internal_skive, row.internal_skive_mm),
        setting_mm=row.setting_mm,
        closed_again=row.closed_again,
        od_readings_mm=tuple(Decimal(text) for text in row.od_readings),
        pin=row.pin,
        must_pass_pin=row.must_pass_pin,
        mark_visible=row.mark_visible,
        instrument=tool_facts(row.instrument),
    )


def _skive(kind: str, length_mm: Decimal | None) -> SkiveDone:
    return SkiveDone(SkiveKind(kind) if kind else None, length_mm)


def tool_facts(tool: Crimper | Instrument | None) -> ToolFacts | None:
    """A crimper or an instrument, as the judge takes it."""
    if tool is None:
        return None
    return ToolFacts(tool.code, tool.calibrated_on, tool.calibration_due_on)


def reel_facts(reel: Reel, on: dt.date) -> ReelFacts:
    """A reel as it stands for building on a day: what is left, how old, whether it may be used."""
    hose_type = _hose_type(reel)
    limits = reel_limits().of(reel.site_id, hose_type)
    age = reel_age(reel.made_earliest_on, reel.made_latest_on, on=on, limits=limits)
    not_usable = age.too_old
    if reel.withdrawn_at is not None:
        not_usable = f"It is withdrawn: {reel.withdrawal_reason}"
    elif reel.made_earliest_on is not None and reel.made_earliest_on > on:
        not_usable = f"Its hose was made after {on.isoformat()}: one of the two days is wrong."
    return ReelFacts(
        code=reel.code,
        hose_code=reel.hose.code,
        left_m=_left(reel),
        age_words=age.words,
        not_usable=not_usable,
        doubts=(*_unknown_age(reel), *age.too_old_where),
    )


def _hose_type(reel: Reel) -> str:
    counts = reel.hose.revisions.filter(state="approved").first()
    return counts.standard_type if counts else ""


def _left(reel: Reel) -> Decimal:
    item = StockItem.objects.filter(reel=reel).first()
    return item.balance if item else Decimal(0)


def _unknown_age(reel: Reel) -> tuple[str, ...]:
    if reel.made_earliest_on is not None:
        return ()
    return (
        f"Nobody knows when the hose of {reel.code} was made: read its layline, and have the day "
        "written down at the reel.",
    )


def proof_asked(site: Site) -> str:
    """Why the site asks a proof test of the next matched piece; empty where it does not.

    One in n: asked where none of the last n − 1 signed pieces of the site was tested.
    """
    one_in = site.proof_test_one_in if site.proof_test == "one_in_n" else 1
    if site.proof_test == "none":
        return ""
    if one_in <= 1:
        return f"{site} asks it of every piece"
    signed = BuildRecord.objects.filter(site=site, signed_at__isnull=False, scrapped_reason="")
    last: list[Any] = list(
        signed.order_by("-signed_at", "-pk").values_list("proof_passed", flat=True)[: one_in - 1]
    )
    if any(last):
        return ""
    return (
        f"{site} asks it of one piece in {one_in}, and none of the last {one_in - 1} signed was "
        "tested"
    )
