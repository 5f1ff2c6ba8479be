"""The crimp trial: stepping a crimp down until the tail begins to collapse.

Common practice, no published source: after each press the pin is tried in the tail's bore. When
it first binds the trial goes on by the small step, as often as it stays tight; the first refusal
closes the trial, and that press is the crimp.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from itertools import pairwise
from typing import Any


class Pin(StrEnum):
    """What the pin did after a press."""

    ENTERS = "enters"
    TIGHT = "tight"
    REFUSES = "refuses"


class Outcome(StrEnum):
    """How a trial stands. Every sequence of presses has exactly one."""

    NO_PRESS = "no press yet"
    GOES_ON = "goes on"
    COLLAPSE_FOUND = "collapse found"
    PAST_CLOSING = "past closing"
    OVER_COLLAPSED = "over-collapsed"
    NO_BRACKET = "refused at the first press"
    SETTINGS_NOT_FALLING = "settings not falling"
    PIN_CONTRADICTS = "pin contradicts itself"


@dataclass(frozen=True)
class Press:
    """One press: the dial setting in mm, the pin's answer, OD readings in mm if taken."""

    setting_mm: Decimal
    pin: Pin
    od_readings_mm: tuple[Decimal, ...] = ()

    @property
    def od_mm(self) -> Decimal | None:
        """Mean of the OD readings in mm, or None where none was taken."""
        return (
            sum(self.od_readings_mm, Decimal(0)) / len(self.od_readings_mm)
            if (self.od_readings_mm)
            else None
        )

    @property
    def ovality_mm(self) -> Decimal | None:
        """Largest less smallest OD reading in mm."""
        return max(self.od_readings_mm) - min(self.od_readings_mm) if self.od_readings_mm else None


@dataclass(frozen=True)
class Evaluation:
    """The outcome of a trial in figures and words.

    `bracket_mm` are the settings (lower, upper) between which collapse begins, `od_bracket_mm`
    the same in measured OD. `next_setting_mm` is what to dial next while the trial goes on.
    """

    outcome: Outcome
    supports_recipe: bool
    closing_setting_mm: Decimal | None = None
    closing_od_mm: Decimal | None = None
    bracket_mm: tuple[Decimal, Decimal] | None = None
    od_bracket_mm: tuple[Decimal, Decimal] | None = None
    next_setting_mm: Decimal | None = None
    warnings: tuple[str, ...] = field(default=())


OVALITY_MAX_MM = Decimal("0.20")
READINGS_AT_CLOSING = 3
COARSE_ABOVE_ESTIMATE_MM = Decimal(1)


def evaluate_trial(
    presses: Iterable[Any],
    *,
    small_step_mm: Any = 0.25,
    coarse_step_mm: Any = 0.5,
    estimate_mm: Any = None,
) -> Evaluation:
    """Say how a trial stands.

    Parameters: presses, in order, undone ones left out: `Press`, or (setting mm, pin) or
    (setting mm, pin, OD readings mm); the two steps in mm, 0 < small ≤ coarse ≤ 0.5; the
    estimated closing setting in mm, above which by more than 1 mm the coarse step is allowed.
    Returns an `Evaluation`; any sequence ends in one named outcome, and only *collapse found*
    and *past closing* can support a recipe. Raises ValueError for a press that is none.
    Source: common practice, no published source.

    >>> steps = [("27.00", "enters"), ("26.75", "enters"), ("26.50", "tight"), ("26.25", "refuses")]
    >>> found = evaluate_trial(steps)
    >>> found.outcome.value, str(found.closing_setting_mm), [str(mm) for mm in found.bracket_mm]
    ('collapse found', '26.25', ['26.25', '26.50'])
    """
    small, coarse = _steps(small_step_mm, coarse_step_mm)
    done = [_press(press) for press in presses]
    if not done:
        return Evaluation(Outcome.NO_PRESS, supports_recipe=False)
    if any(later.setting_mm >= earlier.setting_mm for earlier, later in pairwise(done)):
        return _spoiled(
            Outcome.SETTINGS_NOT_FALLING,
            "A setting did not go down: which press made the crimp can't be told.",
        )
    if any(_rank(later.pin) < _rank(earlier.pin) for earlier, later in pairwise(done)):
        return _spoiled(
            Outcome.PIN_CONTRADICTS,
            "The pin went in more easily after a harder press: look at the pin and the bore.",
        )
    estimate = None if estimate_mm is None else _number(estimate_mm)
    return _judge(done, small, coarse, estimate)


def brackets_agree(first: Evaluation, second: Evaluation) -> bool:
    """Whether two trials agree: both support a recipe and their OD brackets overlap.

    Source: common practice, no published source. Touching brackets overlap.

    >>> brackets_agree(evaluate_trial([]), evaluate_trial([]))
    False
    """
    if not (first.supports_recipe and second.supports_recipe):
        return False
    if first.od_bracket_mm is None or second.od_bracket_mm is None:
        return False
    low = max(first.od_bracket_mm[0], second.od_bracket_mm[0])
    return low <= min(first.od_bracket_mm[1], second.od_bracket_mm[1])


def _judge(
    done: Sequence[Press], small: Decimal, coarse: Decimal, estimate: Decimal | None
) -> Evaluation:
    refused = next((i for i, press in enumerate(done) if press.pin is Pin.REFUSES), None)
    if refused is None:
        return _goes_on(done, small, coarse, estimate)
    if refused == 0:
        return Evaluation(
            Outcome.NO_BRACKET,
            supports_recipe=False,
            closing_setting_mm=done[0].setting_mm,
            closing_od_mm=done[0].od_mm,
            warnings=("The pin refused at the first press: where collapse began is not known.",),
        )
    return _closed(done, refused, small, coarse, estimate)


def _goes_on(
    done: Sequence[Press], small: Decimal, coarse: Decimal, estimate: Decimal | None
) -> Evaluation:
    last = done[-1]
    far = estimate is not None and last.setting_mm - estimate > COARSE_ABOVE_ESTIMATE_MM
    step = coarse if last.pin is Pin.ENTERS and far else small
    warnings = [*_step_warnings(done, small, coarse, estimate), "The pin has not refused yet."]
    return Evaluation(
        Outcome.GOES_ON,
        supports_recipe=False,
        next_setting_mm=max(last.setting_mm - step, Decimal(0)),
        warnings=tuple(warnings),
    )


def _closed(
    done: Sequence[Press], refused: int, small: Decimal, coarse: Decimal, estimate: Decimal | None
) -> Evaluation:
    before, closing, beyond = done[refused - 1], done[refused], len(done) - refused - 1
    outcome = {0: Outcome.COLLAPSE_FOUND, 1: Outcome.PAST_CLOSING}.get(
        beyond, Outcome.OVER_COLLAPSED
    )
    warnings = _closing_warnings(done[: refused + 1], small)
    warnings += _step_warnings(done[: refused + 1], small, coarse, estimate)
    warnings += _beyond_warnings(beyond)
    measured = len(closing.od_readings_mm) >= READINGS_AT_CLOSING
    return Evaluation(
        outcome,
        supports_recipe=measured and outcome is not Outcome.OVER_COLLAPSED,
        closing_setting_mm=closing.setting_mm,
        closing_od_mm=closing.od_mm,
        bracket_mm=(closing.setting_mm, before.setting_mm),
        od_bracket_mm=_od_bracket(closing, before, small),
        warnings=tuple(warnings),
    )


def _od_bracket(closing: Press, before: Press, small: Decimal) -> tuple[Decimal, Decimal] | None:
    """The bracket in OD: measured at both ends, else the upper end by the step in setting."""
    if closing.od_mm is None:
        return None
    upper = before.od_mm
    if upper is None or upper < closing.od_mm:
        upper = closing.od_mm + max(before.setting_mm - closing.setting_mm, small)
    return closing.od_mm, upper


def _closing_warnings(done: Sequence[Press], small: Decimal) -> list[str]:
    before, closing = done[-2], done[-1]
    found = []
    width = before.setting_mm - closing.setting_mm
    if width > small:
        found.append(f"The bracket is {width} mm wide, more than the step of {small} mm.")
    if all(press.pin is not Pin.TIGHT for press in done):
        found.append("No tight press was seen: the pin went from entering to refusing.")
    if len(closing.od_readings_mm) < READINGS_AT_CLOSING:
        found.append(
            f"The closing press has {len(closing.od_readings_mm)} OD readings: three or more "
            "are needed, a dial setting does not carry to another crimper."
        )
    if closing.ovality_mm is not None and closing.ovality_mm > OVALITY_MAX_MM:
        found.append(f"Ovality {closing.ovality_mm} mm at closing is above {OVALITY_MAX_MM} mm.")
    return found


def _step_warnings(
    done: Sequence[Press], small: Decimal, coarse: Decimal, estimate: Decimal | None
) -> list[str]:
    found = []
    for earlier, later in pairwise(done):
        step = earlier.setting_mm - later.setting_mm
        allowed = _allowed_step(earlier, small, coarse, estimate)
        if step > allowed:
            found.append(
                f"The step from {earlier.setting_mm} to {later.setting_mm} is {step} mm: "
                f"{allowed} mm was allowed there."
            )
    return found


def _allowed_step(
    press: Press, small: Decimal, coarse: Decimal, estimate: Decimal | None
) -> Decimal:
    if press.pin is not Pin.ENTERS:
        return small
    if estimate is None:
        return coarse
    return coarse if press.setting_mm - estimate > COARSE_ABOVE_ESTIMATE_MM else small


def _beyond_warnings(beyond: int) -> list[str]:
    if beyond == 0:
        return []
    if beyond == 1:
        return ["One press was made after the pin refused: the crimp is past closing."]
    return [
        f"{beyond} presses were made after the pin refused: the tail is over-collapsed, "
        "this trial can't support a recipe."
    ]


def _spoiled(outcome: Outcome, warning: str) -> Evaluation:
    return Evaluation(outcome, supports_recipe=False, warnings=(warning,))


def _rank(pin: Pin) -> int:
    return (Pin.ENTERS, Pin.TIGHT, Pin.REFUSES).index(pin)


def _steps(small_step_mm: Any, coarse_step_mm: Any) -> tuple[Decimal, Decimal]:
    small, coarse = _number(small_step_mm), _number(coarse_step_mm)
    if not 0 < small <= coarse <= Decimal("0.5"):
        raise ValueError("The steps must be: 0 < small step ≤ coarse step ≤ 0.5 mm.")
    return small, coarse


def _press(given: Any) -> Press:
    if isinstance(given, Press):
        setting, pin, readings = given.setting_mm, given.pin, given.od_readings_mm
    else:
        setting, pin, readings = (*given, ())[:3]
    try:
        answer = Pin(pin)
    except ValueError as error:
        raise ValueError(f"“{pin}” is no answer of a pin: enters, tight or refuses.") from error
    if isinstance(readings, Decimal | int | float | str):
        readings = (readings,)
    return Press(_positive(setting), answer, tuple(_positive(mm) for mm in readings))


def _positive(given: Any) -> Decimal:
    number = _number(given)
    if number <= 0:
        raise ValueError(f"{given} mm is not a size: it must be above zero.")
    return number


def _number(given: Any) -> Decimal:
    try:
        number = Decimal(str(given))
    except InvalidOperation as error:
        raise ValueError(f"“{given}” is not a number of mm.") from error
    if not number.is_finite():
        raise ValueError(f"“{given}” is not a number of mm.")
    return number
