"""A piece judged against its frozen sheet: as it is typed, and once more when it is signed.

The judge is one function. It knows the sheet that was printed and what was done, never the
recipe as it stands by now.
"""

from collections.abc import Iterator
from decimal import Decimal

from assemblies.calc.build_actuals import BuildActuals, ReelFacts
from assemblies.calc.build_ends import judge_end
from assemblies.calc.build_lines import Asked, Judgement, Line, Verdict, judgement_of
from assemblies.calc.build_proof import judge_proof
from assemblies.calc.sheet import SheetContent
from assemblies.calc.sheet_phrases import short_angle
from assemblies.calc.sheet_words import (
    millimetres,
    short_figure,
    tolerance,
)

_METRE = Decimal(1000)


def judge_build(content: SheetContent, actuals: BuildActuals) -> Judgement:
    """Judge one piece against the sheet it was built by.

    Parameters: the frozen content; what was done, lengths in mm, pressures in bar, seconds.
    Returns the lines in the order of the bench, each with what was wanted, what was got, a
    verdict and a sentence. Limits: what is asked for and not written is *missing*, and can't be
    signed; what is doubtful needs a note. Errors: none; a sheet without figures gives lines that
    are out. Source: tolerances as the frozen sheet states them (length: DIN 20066 or the spec's
    own; crimp: the recipe's); proof: the sheet's pressure, 30 s or longer (SAE J343, ISO 6605).
    """
    found = [
        *_hose(content, actuals),
        *_cut(content, actuals),
        _crimper(actuals),
        *judge_end(content, content.ends[0], actuals),
        *judge_end(content, content.ends[1], actuals),
        *_after(content, actuals),
        *judge_proof(content, actuals),
        *_finish(content, actuals),
    ]
    return judgement_of([*found, _note(found, actuals)])


def degrees_apart(one: Decimal, other: Decimal) -> Decimal:
    """How far two angles are apart, the short way round. In degrees, 0 to 180. Source: derived.

    >>> degrees_apart(Decimal(358), Decimal(3))
    Decimal('5')
    """
    apart = abs(one - other) % 360
    return min(apart, 360 - apart)


def _hose(content: SheetContent, actuals: BuildActuals) -> Iterator[Line]:
    asked = Asked("hose", "reel", "Reel", content.hose.code)
    reel = actuals.reel
    if reel is None:
        yield asked.missing("Read the layline and name the reel it is cut from.")
        return
    yield _reel(asked, reel, content)
    used, wanted = actuals.hose_used_m, f"of {short_figure(reel.left_m)}\u00a0m on the reel"
    hose_used = Asked("cut", "hose_used_m", "Hose used", wanted)
    if used is not None and used > reel.left_m:
        yield hose_used.out(
            f"{short_figure(used)}\u00a0m",
            f"{reel.code} has {short_figure(reel.left_m)} m left, {short_figure(used)} m are "
            "written as used: look at the reel, have its stock counted.",
        )


def _reel(asked: Asked, reel: ReelFacts, content: SheetContent) -> Line:
    if reel.hose_code != content.hose.code:
        return asked.out(
            reel.code,
            f"{reel.code} is a reel of {reel.hose_code}, the sheet asks for {content.hose.code}.",
        )
    if reel.not_usable:
        return asked.out(reel.code, f"{reel.code}: {reel.not_usable}")
    if reel.doubts:
        return asked.doubtful(f"{reel.code}, {reel.age_words}", " ".join(reel.doubts))
    return asked.good(f"{reel.code}, {reel.age_words}" if reel.age_words else reel.code)


def _cut(content: SheetContent, actuals: BuildActuals) -> Iterator[Line]:
    square = Asked("cut", "cut_square", "Cut square", "yes")
    yield square.good("yes") if actuals.cut_square else square.missing("Say that it is cut square.")
    clean = Asked("cut", "bore_cleaned_with", "Bore cleaned", "yes, and with what")
    cleaned = actuals.bore_cleaned_with.strip()
    yield clean.good(cleaned) if cleaned else clean.missing("Write what the bore was cleaned with.")
    line = content.length
    if line.cut_length_mm is None:
        yield Asked("cut", "cut_length_mm", "Cut length").out(
            "", f"No cut length: {line.arithmetic}"
        )
        return
    within = f"{millimetres(line.cut_length_mm)} {tolerance(line.plus_mm, line.minus_mm)}"
    cut = Asked("cut", "cut_length_mm", "Cut length", within)
    yield _length(cut, actuals.cut_length_mm, line.cut_length_mm, content)
    used = actuals.hose_used_m
    asked = Asked("cut", "hose_used_m", "Hose used", "the cut length or more")
    if used is None:
        yield asked.missing("Write how many metres were taken off the reel.")
    elif actuals.cut_length_mm is not None and used * _METRE < actuals.cut_length_mm:
        yield asked.out(
            f"{short_figure(used)}\u00a0m",
            f"{short_figure(used)} m off the reel can't give {millimetres(actuals.cut_length_mm)}.",
        )
    else:
        yield asked.good(f"{short_figure(used)}\u00a0m")


def _length(asked: Asked, got: Decimal | None, wanted: Decimal, content: SheetContent) -> Line:
    if got is None:
        return asked.missing("Write the length that you measured.")
    low, high = wanted - content.length.minus_mm, wanted + content.length.plus_mm
    shown = millimetres(got)
    if got < low:
        return asked.out(shown, f"Too short by {millimetres(low - got)}: scrap it for this sheet.")
    if got > high:
        mend = " Cut it to size." if asked.field == "cut_length_mm" else ""
        return asked.out(shown, f"Too long by {millimetres(got - high)}.{mend}")
    return asked.good(shown)


def _crimper(actuals: BuildActuals) -> Line:
    asked = Asked("cut", "crimper", "Crimper")
    if actuals.crimper is None:
        return asked.missing("Name the crimper.")
    problem = actuals.crimper.out_of_calibration(actuals.built_on)
    if problem:
        return asked.doubtful(
            actuals.crimper.code, f"{problem}: trust the measured OD alone, not its dial."
        )
    return asked.good(actuals.crimper.code)


def _after(content: SheetContent, actuals: BuildActuals) -> Iterator[Line]:
    line = content.length
    within = f"{millimetres(line.length_mm)} {tolerance(line.plus_mm, line.minus_mm)}"
    what = f"Finished length, {line.basis.value}"
    asked = Asked("after", "finished_length_mm", what, within)
    yield _length(asked, actuals.finished_length_mm, line.length_mm, content)
    turned = content.orientation
    if turned.angle_deg is None:
        return
    angle = Asked("after", "angle_deg", "Angle of the ends", short_angle(turned))
    got = actuals.angle_deg
    if got is None:
        yield angle.missing(f"Measure the angle, looking along the hose from {turned.seen_from}.")
        return
    away = degrees_apart(got, turned.angle_deg)
    if turned.tolerance_deg is None:
        yield angle.doubtful(f"{short_figure(got)}°", "The sheet states no tolerance of the angle.")
    elif away > turned.tolerance_deg:
        yield angle.out(
            f"{short_figure(got)}°",
            f"The ends stand {short_figure(away)}° from the {short_figure(turned.angle_deg)}° "
            "wanted: it would be twisted to fit. Scrap, unless an end can still be turned.",
        )
    else:
        yield angle.good(f"{short_figure(got)}°")


def _finish(content: SheetContent, actuals: BuildActuals) -> Iterator[Line]:
    flushed = Asked("finish", "flushed_with", "Flushed", "yes, and with what")
    with_what = actuals.flushed_with.strip()
    yield (
        flushed.good(with_what) if with_what else flushed.missing("Write what it was flushed with.")
    )
    if content.cleanliness:
        clean = Asked("finish", "cleanliness", "Cleanliness", content.cleanliness)
        got = actuals.cleanliness.strip()
        yield (
            clean.good(got)
            if got
            else clean.missing(f"The sheet asks for {content.cleanliness}: write what was reached.")
        )
    stamp = Asked("finish", "stamped", "Stamped", " · ".join(content.stamp_lines))
    yield stamp.good("yes") if actuals.stamped else stamp.missing("Stamp the shell with its lines.")
    made = Asked("finish", "made_by", "Made by")
    yield made.good(actuals.made_by) if actuals.made_by else made.missing("Say who made it.")
    if content.pressure.working_bar is None:
        unknown = Asked("finish", "", "Working pressure", "known")
        yield unknown.out("", f"The sheet has no working pressure: {content.pressure.binds}")


def _note(found: list[Line], actuals: BuildActuals) -> Line | None:
    """What is in doubt is signed for only with a note that says what was decided."""
    doubts = [line.what.lower() for line in found if line.verdict is Verdict.DOUBTFUL]
    if not doubts:
        return None
    asked = Asked("finish", "note", "Note", "what was decided")
    if actuals.note.strip():
        return asked.good("written")
    return asked.missing(f"In doubt: {', '.join(doubts)}. Write in the note what was decided.")
