"""The demo's crimp trials: a piece stepped down to tail collapse, and tested."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from assemblies.calc.crimping import Joint
from assemblies.calc.trial import Evaluation, Pin, Press, evaluate_trial
from assemblies.calc.trial_start import closing_compression, compression_warning, trial_start
from assemblies.models import (
    CrimpTrial,
    FittingRevision,
    RecipeRevision,
    RecipeTrial,
    TrialPress,
    TrialProof,
)
from fleet.models import Person, Site
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.workshop import Workshop

PROOF_FACTOR = 2
_DIAL_MM: Final = Decimal("0.15")
_ROUND_MM: Final = (Decimal("-0.04"), Decimal("0.00"), Decimal("0.04"))
# The last steps, above the closing setting: small ones since the pin might bind.
_LAST_MM: Final = (Decimal("0.75"), Decimal("0.50"), Decimal("0.25"), Decimal("0.00"))
_PINS: Final = {Decimal("0.25"): Pin.TIGHT, Decimal("0.00"): Pin.REFUSES}
_COARSE_MM: Final = Decimal("0.50")
_PRESS_MINUTES: Final = 4


@dataclass(frozen=True)
class Piece:
    """The joint on trial and the recipe that is to come of it."""

    revision: RecipeRevision
    fitting: FittingRevision
    joint: Joint
    layers: int


@dataclass(frozen=True)
class Stage:
    """Where, by whom and when a trial was made."""

    site: Site
    workshop: Workshop
    fitter: Person
    at: dt.datetime


def lay_trial(
    register: Register, piece: Piece, stage: Stage, *, above: Decimal, proven: bool
) -> None:
    """Step down to the recipe's OD and `above`; link the trial to it, proof-tested or not."""
    closing_mm = (piece.revision.crimp_od_mm or Decimal(0)) + above
    trial = register.add(_trial(piece, stage))
    presses = [register.add(press) for press in _presses(trial, stage, closing_mm)]
    trial.closing_readings = [str(closing_mm + around) for around in _ROUND_MM]
    done = [_told(press) for press in presses]
    last = tuple(Decimal(text) for text in trial.closing_readings)
    found = evaluate_trial(
        [*done[:-1], Press(done[-1].setting_mm, done[-1].pin, last)],
        estimate_mm=trial.estimate_setting_mm,
    )
    closed_at = stage.at + dt.timedelta(minutes=_PRESS_MINUTES * (len(presses) + 1))
    detail = _detail(piece, found)
    register.close(trial, closed_at=closed_at, outcome=found.outcome.value, outcome_detail=detail)
    register.add(RecipeTrial(revision=piece.revision, trial=trial))
    after = {"outcome": found.outcome.value, "joint": str(trial.recipe)}
    register.tell(
        "closed trial", trial, at=closed_at, by=stage.fitter, site=stage.site, after=after
    )
    if proven:
        register.add(_proof(piece, stage, trial, closed_at + dt.timedelta(minutes=20)))


def _trial(piece: Piece, stage: Stage) -> CrimpTrial:
    start = trial_start(piece.joint, piece.layers, _DIAL_MM)
    revision = piece.revision
    return CrimpTrial(
        recipe=revision.header,
        site=stage.site,
        crimper=stage.workshop.crimpers[stage.site.code],
        die_set=revision.die_set,
        pin_mm=revision.pin_mm,
        pin_from="nut end, past the crimp",
        tail_bore_mm=piece.fitting.tail_bore_mm,
        insertion_depth_mm=revision.insertion_depth_mm,
        external_skive=revision.external_skive,
        external_skive_mm=revision.external_skive_mm,
        internal_skive=revision.internal_skive,
        first_setting_mm=start.first_setting_mm,
        estimate_setting_mm=start.estimate_setting_mm,
        begun_at=stage.at,
        begun_by=stage.fitter,
        closed_by=stage.fitter,
    )


def _presses(trial: CrimpTrial, stage: Stage, closing_mm: Decimal) -> Iterator[TrialPress]:
    """Coarse steps from where the shell touches, small ones at the end; the pin tried each time."""
    closing_setting_mm = closing_mm - _DIAL_MM
    room = (trial.first_setting_mm or closing_setting_mm) - closing_setting_mm
    coarse = int(max(room - _LAST_MM[0], Decimal(0)) / _COARSE_MM)
    steps = [_LAST_MM[0] + _COARSE_MM * number for number in range(coarse, 0, -1)]
    for number, step in enumerate([*steps, *_LAST_MM], start=1):
        pin = _PINS.get(step, Pin.ENTERS)
        od = closing_mm + step
        yield TrialPress(
            trial=trial,
            number=number,
            setting_mm=closing_setting_mm + step,
            pin=pin.value,
            od_readings=[str(od + around) for around in _ROUND_MM] if pin is Pin.TIGHT else [],
            pressed_at=stage.at + dt.timedelta(minutes=_PRESS_MINUTES * number),
            pressed_by=stage.fitter,
        )


def _told(press: TrialPress) -> Press:
    readings = tuple(Decimal(text) for text in press.od_readings)
    return Press(press.setting_mm, Pin(press.pin), readings)


def _detail(piece: Piece, found: Evaluation) -> dict[str, Any]:
    """What a closed trial keeps of its outcome."""
    share = closing_compression(piece.joint, found.closing_od_mm)
    told = [*found.warnings, compression_warning(share, piece.layers)]
    return {
        "supports_recipe": found.supports_recipe,
        "closing_setting_mm": _text(found.closing_setting_mm),
        "closing_od_mm": _text(found.closing_od_mm),
        "bracket_mm": [_text(size) for size in found.bracket_mm or ()],
        "od_bracket_mm": [_text(size) for size in found.od_bracket_mm or ()],
        "wall_compression": None if share is None else round(share, 4),
        "warnings": [sentence for sentence in told if sentence],
    }


def _text(size_mm: Decimal | None) -> str | None:
    return None if size_mm is None else str(round(size_mm, 3))


def _proof(piece: Piece, stage: Stage, trial: CrimpTrial, at: dt.datetime) -> TrialProof:
    return TrialProof(
        trial=trial,
        pressure_bar=(piece.revision.working_pressure_bar or Decimal(0)) * PROOF_FACTOR,
        hold_s=60,
        passed=True,
        gauge=stage.workshop.instruments[stage.site.code, "Pressure gauge"],
        tested_at=at,
        tested_by=stage.fitter,
    )
