"""The proof test of a piece judged: whether it is asked for, and whether it was enough."""

from collections.abc import Iterator
from decimal import Decimal

from assemblies.calc.build_actuals import BuildActuals
from assemblies.calc.build_lines import Asked, Line
from assemblies.calc.sheet import Basis, SheetContent
from assemblies.calc.sheet_words import bars, hold_words

EVERY_PIECE = "Every piece"
# Common practice, no published source: above this a proof test asks more than was wanted.
PROOF_ABOVE = Decimal("1.10")


def proof_needed(*, unmatched: bool, sheet_policy: str, site_asks: str) -> str:
    """Why a piece must be proof-tested, in words; empty where nobody asks for it.

    Parameters: whether an end is crimped by a trial's recipe; the sheet's policy in words; why
    the site asks it of this piece, or empty. Source: the project's own rule: unmatched parts
    always, else as the sheet says of every piece, else as the site asks.

    >>> proof_needed(unmatched=False, sheet_policy="Every piece.", site_asks="")
    'the sheet asks it of every piece'
    >>> proof_needed(unmatched=False, sheet_policy="None is asked by the site.", site_asks="")
    ''
    """
    if unmatched:
        return "the parts are unmatched: every piece is tested"
    if sheet_policy.startswith(EVERY_PIECE):
        return "the sheet asks it of every piece"
    return site_asks


def unmatched(content: SheetContent) -> bool:
    """Whether an end is crimped by a trial's recipe: no chart names its parts together."""
    return any(end.crimp is not None and end.crimp.basis is Basis.TRIAL for end in content.ends)


def judge_proof(content: SheetContent, actuals: BuildActuals) -> Iterator[Line]:
    """Judge the proof test against the sheet: its pressure or more, held its time or longer.

    Parameters: the frozen sheet; the piece as it was made, pressures in bar, seconds. Source:
    the frozen sheet (2 × working pressure, 30 to 60 s: SAE J343, ISO 6605).
    """
    test, why = content.test, _why(content, actuals)
    hold = hold_words(test.hold_from_s, test.hold_to_s)
    asked = Asked("finish", "proof_passed", "Proof test", f"{bars(test.pressure_bar)}, {hold}")
    if actuals.proof_passed is None and not why:
        yield asked.good("not asked for")
        return
    if test.pressure_bar is None:
        yield asked.out(
            "", "The sheet knows no proof pressure: what is tested at what is not known."
        )
        return
    if actuals.proof_passed is None:
        yield asked.missing(f"No proof test is written down, and {why}.")
        return
    yield _proof_result(asked, actuals)
    yield _proof_pressure(actuals, test.pressure_bar)
    yield _proof_hold(content, actuals)
    yield _gauge(actuals)


def _proof_result(asked: Asked, actuals: BuildActuals) -> Line:
    if not actuals.proof_passed:
        return asked.out("failed", "It failed its proof test: scrap. It is never crimped again.")
    return asked.good("held")


def _proof_pressure(actuals: BuildActuals, wanted: Decimal) -> Line:
    asked = Asked("finish", "proof_pressure_bar", "Proof pressure", f"{bars(wanted)} or more")
    got = actuals.proof_pressure_bar
    if got is None:
        return asked.missing("Write the pressure that was held.")
    if got < wanted:
        return asked.out(bars(got), f"{bars(got)} is below the {bars(wanted)} of the sheet.")
    if got > wanted * PROOF_ABOVE:
        return asked.doubtful(
            bars(got),
            f"{bars(got)} is far above the {bars(wanted)} of the sheet: say what it did to the "
            "hose, and by whose leave.",
        )
    return asked.good(bars(got))


def _proof_hold(content: SheetContent, actuals: BuildActuals) -> Line:
    least = content.test.hold_from_s
    asked = Asked("finish", "proof_hold_s", "Held for", f"{least}\u00a0s or longer")
    got = actuals.proof_hold_s
    if got is None:
        return asked.missing("Write how long the pressure was held.")
    if got < least:
        return asked.out(f"{got}\u00a0s", f"{got} s is shorter than the {least} s of the sheet.")
    return asked.good(f"{got}\u00a0s")


def _gauge(actuals: BuildActuals) -> Line:
    asked = Asked("finish", "gauge", "Pressure gauge", "in calibration")
    if actuals.gauge is None:
        return asked.missing("Name the gauge that showed the pressure.")
    problem = actuals.gauge.out_of_calibration(actuals.built_on)
    if problem:
        return asked.out(actuals.gauge.code, f"{problem}: test again with one that is in date.")
    return asked.good(actuals.gauge.code)


def _why(content: SheetContent, actuals: BuildActuals) -> str:
    return proof_needed(
        unmatched=unmatched(content),
        sheet_policy=content.test.policy,
        site_asks=actuals.proof_asked,
    )
