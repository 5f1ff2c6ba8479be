"""One end of a piece judged against the frozen sheet: parts, marks, skives, crimp, pin."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from assemblies.calc.build_actuals import BuildActuals, EndActuals, SkiveDone
from assemblies.calc.build_lines import Asked, Line
from assemblies.calc.sheet import (
    CrimpFigures,
    EndLine,
    PinAnswer,
    SheetContent,
    Skive,
    SkiveKind,
)
from assemblies.calc.sheet_phrases import crimp_od_words, skive_words
from assemblies.calc.sheet_words import figure, millimetres, short_figure
from assemblies.calc.trial import Pin
from fleet.calc.keys import text_key

# Common practice, no published source: how near a hand-held rule comes to a mark on rubber.
DEPTH_WITHIN_MM = Decimal(1)
SKIVE_WITHIN_MM = Decimal(1)
_HUNDREDTH = Decimal("0.01")
_DID = {Pin.ENTERS: "entered", Pin.TIGHT: "was tight", Pin.REFUSES: "refused"}


@dataclass(frozen=True, slots=True)
class _Case:
    """One end at the judge's: what the sheet says of it and what was done."""

    content: SheetContent
    crimp: CrimpFigures
    done: EndActuals
    actuals: BuildActuals

    def asked(self, name: str, what: str, wanted: str = "") -> Asked:
        label = self.done.label
        return Asked(f"end {label}", f"{label.lower()}_{name}", what, wanted)


def judge_end(content: SheetContent, end: EndLine, actuals: BuildActuals) -> tuple[Line, ...]:
    """Judge one end of a piece.

    Parameters: the frozen sheet; one of its two ends; the piece as it was made. Returns lines in
    the order of the bench. The crimp OD is the mean of the readings, its ovality the largest less
    the smallest; both in mm, judged unrounded. Limits: an end whose sheet has no crimp figures
    gives one line that is out. Source: tolerances as the frozen sheet states them; depth and
    skives within 1 mm, common practice, no published source.
    """
    if end.crimp is None:
        asked = Asked(f"end {end.label}", "", "Crimp", "do not crimp")
        words = f"The sheet gives no crimp for end {end.label}: {end.no_crimp_reason}"
        return (asked.out("", words),)
    done = next(one for one in actuals.ends if one.label == end.label)
    case = _Case(content, end.crimp, done, actuals)
    return (
        *_parts(case, end),
        *_marks(case),
        _die(case),
        *_crimp(case),
        *_pins(case),
        _mark_visible(case),
        _instrument(case),
    )


def after_cutting_off(*, cut_mm: Decimal, depth_mm: Decimal, least_mm: Decimal) -> str:
    """What is left of a hose when one end is cut off behind its shell, in words.

    Parameters, in mm: the length that was cut; the depth of the shell, the least that is lost;
    the least length that passes. Formula: left = cut − depth. Source: derived.

    >>> words = after_cutting_off(
    ...     cut_mm=Decimal("1092.5"), depth_mm=Decimal(34), least_mm=Decimal("1088.5")
    ... )
    >>> words.replace("\u00a0", " ")[-49:]
    '1088.5 mm is the least: it is too short by 30 mm.'
    """
    left = cut_mm - depth_mm
    words = (
        f"With this end cut off at most {millimetres(left)} of hose are left, and "
        f"{millimetres(least_mm)} is the least: "
    )
    if left >= least_mm:
        return words + "it would still be long enough."
    return words + f"it is too short by {millimetres(least_mm - left)}."


def _parts(case: _Case, end: EndLine) -> Iterator[Line]:
    yield _lot(case.asked("fitting_lot", "Fitting", end.fitting_code), case.done.fitting_lot)
    if end.shell_code:
        yield _lot(case.asked("shell_lot", "Shell", end.shell_code), case.done.shell_lot)


def _lot(asked: Asked, lot: str) -> Line:
    if not lot:
        return asked.missing(f"Say from which lot the {asked.what.lower()} {asked.wanted} came.")
    return asked.good(lot)


def _marks(case: _Case) -> Iterator[Line]:
    crimp, done = case.crimp, case.done
    yield _depth(case)
    skives = (
        ("external_skive", "Outside skive", crimp.external_skive, done.external_skive),
        ("internal_skive", "Inside skive", crimp.internal_skive, done.internal_skive),
    )
    for name, what, wanted, got in skives:
        asked = case.asked(name, what, skive_words(wanted))
        yield _skive(asked, wanted, got, done.insertion_depth_mm)


def _depth(case: _Case) -> Line:
    wanted, got = case.crimp.insertion_depth_mm, case.done.insertion_depth_mm
    within = f"{millimetres(wanted)} ±{short_figure(DEPTH_WITHIN_MM)}"
    asked = case.asked("insertion_depth_mm", "Insertion mark", within)
    if got is None:
        return asked.missing("Write the insertion mark that you measured.")
    if wanted is None:
        return asked.doubtful(millimetres(got), "The sheet gives no insertion depth: ask.")
    if abs(got - wanted) > DEPTH_WITHIN_MM:
        return asked.out(
            millimetres(got),
            f"The mark stands at {millimetres(got)}, wanted are {millimetres(wanted)}. Not "
            "crimped yet: mark it anew. Crimped at the wrong depth: scrap.",
        )
    return asked.good(millimetres(got))


def _skive(asked: Asked, wanted: Skive, got: SkiveDone, depth_mm: Decimal | None) -> Line:
    if got.kind is None or (got.kind is SkiveKind.LENGTH and got.length_mm is None):
        return asked.missing("Say none, or the length that was taken off.")
    shown = millimetres(got.length_mm) if got.kind is SkiveKind.LENGTH else got.kind.value
    if wanted.kind is SkiveKind.UNKNOWN:
        return asked.doubtful(shown, f"The sheet does not know the {asked.what.lower()}: ask.")
    if got.kind is SkiveKind.UNKNOWN:
        return asked.out(shown, f"Not known was written, the sheet asks for {asked.wanted}.")
    if got.kind is not wanted.kind:
        done = f"{shown[:1].upper()}{shown[1:]} was taken off"
        return asked.out(shown, f"{done}, the sheet asks for {asked.wanted}.")
    if wanted.length_mm is None or got.length_mm is None:
        return asked.good(shown)
    return _skive_length(asked, wanted.length_mm, got.length_mm, depth_mm)


def _skive_length(asked: Asked, wanted: Decimal, got: Decimal, depth_mm: Decimal | None) -> Line:
    shown = millimetres(got)
    if depth_mm is not None and got > depth_mm:
        return asked.out(
            shown,
            f"{shown} skived is more than the {millimetres(depth_mm)} under the shell: bare wire "
            "stands outside. Cut it off and begin anew.",
        )
    if abs(got - wanted) > SKIVE_WITHIN_MM:
        return asked.out(
            shown, f"{shown} was taken off, the sheet asks for {asked.wanted}: look again."
        )
    return asked.good(shown)


def _die(case: _Case) -> Line:
    wanted, got = case.crimp.die, case.done.die_set
    asked = case.asked("die_set", "Die set", wanted or "not stated")
    if not got:
        return asked.missing("Write the die set that is in the crimper.")
    if wanted and text_key(wanted) != text_key(got):
        return asked.out(got, f"Die set {got} is in the crimper, the sheet asks for {wanted}.")
    return asked.good(got)


def _crimp(case: _Case) -> Iterator[Line]:
    crimp, done = case.crimp, case.done
    mean, ovality, taken = done.crimp_od_mm, done.ovality_mm, len(done.od_readings_mm)
    if mean is None or ovality is None or taken < crimp.readings:
        yield case.asked("od", "Crimp OD", crimp_od_words(crimp)).missing(
            f"{crimp.readings} readings round mid-length, on the flats, are wanted; {taken} stand "
            "here."
        )
        return
    yield _od(case, mean)
    yield _ovality(case, ovality)
    if done.closed_again and not crimp.closing_allowed:
        again = case.asked("closed_again", "Closed again", "forbidden")
        yield again.out("yes", "This recipe forbids closing a crimp again: scrap.")


def _od(case: _Case, mean: Decimal) -> Line:
    asked = case.asked("od", "Crimp OD", crimp_od_words(case.crimp))
    low, high = case.crimp.crimp_od_range_mm
    got = f"{figure(mean.quantize(_HUNDREDTH))}\u00a0mm"
    if mean > high:
        return asked.out(got, _too_large(case, mean - high, high))
    if mean < low:
        return asked.out(
            got,
            f"Too small by {_by(low - mean)}: {figure(low)} is the smallest that passes. An "
            f"undersize crimp is scrap. {_when_cut_off(case)}".strip(),
        )
    return asked.good(got)


def _too_large(case: _Case, above: Decimal, high: Decimal) -> str:
    words = f"Too large by {_by(above)}: {figure(high)} is the largest that passes. "
    if case.actuals.pressurised:
        return words + "It was under pressure, so it is not closed any more: scrap."
    if not case.crimp.closing_allowed:
        return words + "This recipe forbids closing a crimp again: scrap."
    return words + (
        "Never under pressure yet, so it may be closed to size: pin out, press again, tick "
        "“closed again” and write the new readings."
    )


def _when_cut_off(case: _Case) -> str:
    length = case.content.length
    cut_mm = case.actuals.cut_length_mm or length.cut_length_mm
    depth_mm = case.done.insertion_depth_mm or case.crimp.insertion_depth_mm
    if cut_mm is None or depth_mm is None or length.cut_length_mm is None:
        return ""
    least_mm = length.cut_length_mm - length.minus_mm
    return after_cutting_off(cut_mm=cut_mm, depth_mm=depth_mm, least_mm=least_mm)


def _by(size_mm: Decimal) -> str:
    return millimetres(max(size_mm.quantize(_HUNDREDTH), _HUNDREDTH))


def _ovality(case: _Case, ovality: Decimal) -> Line:
    limit = case.crimp.ovality_limit_mm
    asked = case.asked("od", "Ovality", f"at most {millimetres(limit)}")
    if ovality > limit:
        return asked.out(
            millimetres(ovality),
            f"Ovality {millimetres(ovality)} is above {millimetres(limit)}: measure again on the "
            "flats between the die marks, look at the dies. A crimp that stays oval is scrap.",
        )
    return asked.good(millimetres(ovality))


def _pins(case: _Case) -> Iterator[Line]:
    check = case.crimp.pin
    if check is None:
        return
    must = "must ENTER" if check.expected is PinAnswer.ENTERS else "must REFUSE"
    pin = case.asked("pin", "Pin", f"Ø {short_figure(check.pin_mm)} mm {must}")
    yield _pin(pin, case.done.pin, Pin(check.expected.value))
    if check.must_pass_mm is not None:
        words = f"Ø {short_figure(check.must_pass_mm)} mm must still pass"
        smaller = case.asked("must_pass_pin", "Smaller pin", words)
        yield _pin(smaller, case.done.must_pass_pin, Pin.ENTERS)


def _pin(asked: Asked, answer: str, wanted: Pin) -> Line:
    if not answer:
        return asked.missing(f"Try the pin: {asked.wanted}.")
    got = Pin(answer)
    if got is wanted:
        return asked.good(got.value)
    meaning = (
        "the tail has closed too far: scrap, and look at setting and dies"
        if wanted is Pin.ENTERS
        else "it is not closed as far as the trial proved: look at the OD, the dies and the pin"
    )
    return asked.out(got.value, f"Pin {asked.wanted}, and it {_DID[got]}: {meaning}.")


def _mark_visible(case: _Case) -> Line:
    asked, visible = case.asked("mark_visible", "Mark at the shell's end"), case.done.mark_visible
    if visible is None:
        return asked.missing("Look whether the mark still shows at the shell's end.")
    if not visible:
        return asked.out(
            "no", "The mark no longer shows at the shell's end: the hose moved in it. Scrap."
        )
    return asked.good("shows")


def _instrument(case: _Case) -> Line:
    asked, tool = case.asked("instrument", "Measured with", "in calibration"), case.done.instrument
    if tool is None:
        return asked.missing("Name the instrument that measured this crimp.")
    problem = tool.out_of_calibration(case.actuals.built_on)
    if problem:
        return asked.out(tool.code, f"{problem}: measure with one that is in date.")
    return asked.good(tool.code)
