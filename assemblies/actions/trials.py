"""The trial recorder: a trial begun, each press told, the last one undone, closed, proven.

Whatever is told carries an id drawn where it was typed: told twice over a bad connection, it is
still done once.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Max

from assemblies.actions.recipes import RECIPE
from assemblies.actions.revisions import new_draft, save_clean, tell
from assemblies.calc.trial import Outcome, Pin
from assemblies.calc.trial_start import closing_compression, compression_warning, trial_start
from assemblies.models import (
    Crimper,
    CrimpRecipe,
    CrimpTrial,
    FittingItem,
    HoseItem,
    HoseRevision,
    Instrument,
    RecipeRevision,
    ShellItem,
    TrialPress,
    TrialProof,
)
from assemblies.queries.trials import (
    evaluation_of,
    learnt_dial,
    parts_of_joint,
    parts_of_trial,
    standing_presses,
)
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import may, require

WIDEST_STEP_MM = Decimal(5)
READINGS_APART_MM = Decimal(1)
READINGS_AT_CLOSING = 3
LONGEST_HOLD_S = 3600


@dataclass(frozen=True, slots=True)
class TrialSetup:
    """What is chosen before the first press: the joint, the tools, how the piece was made."""

    hose: HoseItem
    fitting: FittingItem
    shell: ShellItem | None
    crimper: Crimper
    die_set: str
    pin_mm: Decimal
    pin_from: str
    made: dict[str, Any] = field(default_factory=dict)
    tail_bore_mm: Decimal | None = None
    overruled_reason: str = ""


@transaction.atomic
def begin_trial(
    *, setup: TrialSetup, client_id: str, person: Person, at: dt.datetime
) -> CrimpTrial:
    """Begin a trial at the crimper's site. Atomic; told twice, begun once.

    Refuses: reinforcement_refused (any but wire braid, unless who may approve recipes gives a
    reason), hose_unknown, crimper_withdrawn, pin_missing, pin_above_bore, and what a recipe's
    draft is refused for. Needs `edit_recipes` at the site, or `approve_recipes` to overrule.
    """
    site = setup.crimper.site
    if not may(person, "approve_recipes", site):
        require(person, "edit_recipes", site)
    begun = CrimpTrial.objects.filter(begun_by=person, client_id=client_id).first()
    if begun is not None:
        return begun
    _refuse_setup(setup, person)
    recipe = _recipe_for(setup, person, at)
    trial = CrimpTrial(
        **{"recipe": recipe, "site": site, "crimper": setup.crimper, "client_id": client_id},
        **{"die_set": setup.die_set.strip(), "pin_mm": setup.pin_mm},
        **{"pin_from": setup.pin_from.strip(), "tail_bore_mm": setup.tail_bore_mm},
        **{"begun_at": at, "begun_by": person, **setup.made, **_start(setup)},
    )
    if setup.overruled_reason.strip():
        trial.overruled_by, trial.overruled_reason = person, setup.overruled_reason.strip()
    save_clean(trial)
    after = {"joint": recipe, "crimper": setup.crimper, "pin_mm": trial.pin_mm}
    _tell("began trial", trial, person, at, after=after, reason=trial.overruled_reason)
    return trial


@transaction.atomic
def log_press(
    *,
    trial: CrimpTrial,
    client_id: str,
    setting_mm: Decimal,
    pin: str,
    od_readings_mm: Sequence[Decimal] = (),
    person: Person,
    at: dt.datetime,
) -> TrialPress:
    """Write down one press and what the pin said. Atomic; told twice, written once.

    Refuses: trial_closed, pin_unknown, setting_not_a_size, setting_not_below, setting_far,
    reading_not_a_size, readings_apart. Needs `edit_recipes` or `approve_recipes` at the site.
    """
    locked = _locked(trial, person)
    told = locked.presses.filter(client_id=client_id).first()
    if told is not None:
        return told
    _refuse_closed(locked)
    standing = standing_presses(locked)
    _refuse_press(setting_mm, pin, standing[-1] if standing else None)
    _refuse_readings(od_readings_mm)
    last = locked.presses.aggregate(last=Max("number"))["last"] or 0
    press = TrialPress(
        trial=locked,
        number=last + 1,
        client_id=client_id,
        setting_mm=setting_mm,
        pin=pin,
        od_readings=[str(mm) for mm in od_readings_mm],
        pressed_at=at,
        pressed_by=person,
    )
    save_clean(press)
    after = {"press": press.number, "setting_mm": setting_mm, "pin": pin}
    _tell("logged press", locked, person, at, after=after)
    return press


@transaction.atomic
def undo_press(*, trial: CrimpTrial, client_id: str, person: Person, at: dt.datetime) -> TrialPress:
    """Mark the last press as wrongly told; it stays, marked. Atomic; undone twice is once.

    `client_id` is the press's own. Refuses: no_such_press, not_the_last, trial_closed.
    """
    locked = _locked(trial, person)
    press = locked.presses.filter(client_id=client_id).first()
    if press is None:
        raise Refused("no_such_press", "This trial has no such press.")
    if press.undone_at is not None:
        return press
    _refuse_closed(locked)
    if standing_presses(locked)[-1].pk != press.pk:
        raise Refused("not_the_last", "Only the last press can be undone: others came after it.")
    press.undone_at, press.undone_by = at, person
    press.save(update_fields=["undone_at", "undone_by"])
    before = {"press": press.number, "setting_mm": press.setting_mm, "pin": press.pin}
    _tell("undid press", locked, person, at, before=before)
    return press


@transaction.atomic
def close_trial(
    *,
    trial: CrimpTrial,
    client_id: str,
    od_readings_mm: Sequence[Decimal] = (),
    note: str = "",
    person: Person,
    at: dt.datetime,
) -> CrimpTrial:
    """Close a trial with the OD readings of the crimp at hand. Atomic; sealed from then on.

    Refuses: trial_closed, no_press, too_few_readings (where the pin was refused at the last
    press), note_missing (where no collapse was found), reading_not_a_size, readings_apart.
    """
    locked = _locked(trial, person)
    if locked.closed_at is not None and locked.closing_client_id == client_id:
        return locked
    _refuse_closed(locked)
    _refuse_readings(od_readings_mm)
    locked.closing_readings = [str(mm) for mm in od_readings_mm]
    evaluation = evaluation_of(locked)
    _refuse_closing(evaluation, note)
    locked.outcome, locked.outcome_detail = evaluation.outcome.value, _detail(locked, evaluation)
    locked.closed_at, locked.closed_by, locked.closing_client_id = at, person, client_id
    locked.note = note.strip()
    save_clean(locked)
    _tell("closed trial", locked, person, at, after={"outcome": locked.outcome})
    return locked


@transaction.atomic
def record_trial_proof(
    *,
    trial: CrimpTrial,
    pressure_bar: Decimal,
    hold_s: int,
    passed: bool,
    gauge: Instrument | None = None,
    person: Person,
    at: dt.datetime,
) -> TrialProof:
    """Write down a proof test of a closed trial's piece. Atomic; the last one counts.

    Refuses: trial_open, pressure_missing, hold_wrong, gauge_elsewhere.
    """
    locked = _locked(trial, person)
    if locked.closed_at is None:
        raise Refused("trial_open", "Close the trial first: its piece is tested after that.")
    if pressure_bar <= 0:
        raise Refused("pressure_missing", "State the pressure held.", field="pressure_bar")
    if not 0 < hold_s <= LONGEST_HOLD_S:
        raise Refused("hold_wrong", "The pressure is held 30 to 60 seconds.", field="hold_s")
    if gauge is not None and gauge.site_id != locked.site_id:
        raise Refused("gauge_elsewhere", f"{gauge} belongs to another site.", field="gauge")
    proof = TrialProof(
        **{"trial": locked, "pressure_bar": pressure_bar, "hold_s": hold_s, "passed": passed},
        **{"gauge": gauge, "tested_at": at, "tested_by": person},
    )
    save_clean(proof)
    after = {"pressure_bar": pressure_bar, "hold_s": hold_s, "passed": passed}
    _tell("proof-tested trial", locked, person, at, after=after)
    return proof


def _refuse_setup(setup: TrialSetup, person: Person) -> None:
    if setup.crimper.withdrawn_at is not None:
        raise Refused("crimper_withdrawn", f"{setup.crimper} is withdrawn.", field="crimper")
    if setup.pin_mm <= 0 or not setup.pin_from.strip():
        raise Refused(
            "pin_missing",
            "State the pin's diameter and the end it enters from: no trial without a pin.",
            field="pin_mm" if setup.pin_mm <= 0 else "pin_from",
        )
    if setup.tail_bore_mm is not None and setup.pin_mm >= setup.tail_bore_mm:
        raise Refused(
            "pin_above_bore",
            f"A pin of {setup.pin_mm} mm does not enter a bore of {setup.tail_bore_mm} mm.",
            field="pin_mm",
        )
    parts = parts_of_joint(setup.hose.pk, setup.fitting.pk, setup.shell.pk if setup.shell else None)
    if parts.hose is None:
        raise Refused("hose_unknown", f"{setup.hose} has no revision that counts.", field="hose")
    _refuse_reinforcement(setup, parts.hose, person)


def _refuse_reinforcement(setup: TrialSetup, hose: HoseRevision, person: Person) -> None:
    if hose.reinforcement == HoseRevision.Reinforcement.WIRE_BRAID:
        return
    kind = hose.get_reinforcement_display()
    if not may(person, "approve_recipes", setup.crimper.site):
        raise Refused(
            "reinforcement_refused",
            f"{setup.hose} is {kind}: tail collapse proves the grip on wire braid alone. Who may "
            "approve recipes can begin this trial all the same, with a reason.",
            field="hose",
        )
    if not setup.overruled_reason.strip():
        raise Refused(
            "reinforcement_refused",
            f"{setup.hose} is {kind}: tail collapse proves the grip on wire braid alone. You may "
            "overrule that: give your reason.",
            field="overruled_reason",
        )


def _recipe_for(setup: TrialSetup, person: Person, at: dt.datetime) -> CrimpRecipe:
    """The joint; the first time with the draft of its recipe, so that it can be found."""
    recipe, _ = CrimpRecipe.objects.get_or_create(
        hose=setup.hose, fitting=setup.fitting, shell=setup.shell
    )
    if not recipe.revisions.exists():
        basis = RecipeRevision.Basis.TRIAL
        facts = {"basis": basis, "die_set": setup.die_set.strip(), **setup.made}
        draft = new_draft(RECIPE, recipe, facts, person, at)
        tell("drafted recipe", draft, ({}, {"joint": recipe}), person=person, at=at)
    return recipe


def _start(setup: TrialSetup) -> dict[str, Any]:
    parts = parts_of_joint(setup.hose.pk, setup.fitting.pk, setup.shell.pk if setup.shell else None)
    dial = learnt_dial(setup.crimper, setup.die_set.strip())
    start = trial_start(parts.joint, parts.layers, dial.difference_mm if dial else Decimal(0))
    return {
        "first_setting_mm": start.first_setting_mm,
        "estimate_setting_mm": start.estimate_setting_mm,
    }


def _refuse_press(setting_mm: Decimal, pin: str, before: TrialPress | None) -> None:
    if pin not in [answer.value for answer in Pin]:
        raise Refused("pin_unknown", "Say what the pin did: enters, tight or refuses.", field="pin")
    _refuse_size(setting_mm, "setting_not_a_size", "setting_mm")
    if before is None:
        return
    if setting_mm >= before.setting_mm:
        raise Refused(
            "setting_not_below",
            f"The last press was at {before.setting_mm} mm: settings only go down. "
            "If that one was told wrongly, undo it.",
            field="setting_mm",
        )
    if before.setting_mm - setting_mm > WIDEST_STEP_MM:
        raise Refused(
            "setting_far",
            f"From {before.setting_mm} to {setting_mm} mm is no step of a trial: look again.",
            field="setting_mm",
        )


def _refuse_readings(readings_mm: Sequence[Decimal]) -> None:
    for reading in readings_mm:
        _refuse_size(reading, "reading_not_a_size", "readings")
    if len(readings_mm) > 1 and max(readings_mm) - min(readings_mm) > READINGS_APART_MM:
        raise Refused(
            "readings_apart",
            f"Readings of {min(readings_mm)} and {max(readings_mm)} mm are not of one crimp: "
            "look again which is typed wrongly.",
            field="readings",
        )


def _refuse_size(size_mm: Decimal, code: str, name: str) -> None:
    if not size_mm.is_finite() or not 0 < size_mm <= 500 or size_mm != round(size_mm, 2):
        raise Refused(code, f"{size_mm} is no size in mm to the hundredth.", field=name)


def _refuse_closing(evaluation: Any, note: str) -> None:
    if evaluation.outcome is Outcome.NO_PRESS and not note.strip():
        raise Refused("no_press", "Nothing was pressed yet: say why the trial ends.", field="note")
    if evaluation.outcome is Outcome.COLLAPSE_FOUND:
        if not evaluation.supports_recipe:
            raise Refused(
                "too_few_readings",
                "Measure the crimp's OD at three places or more: a dial setting does not carry "
                "to another crimper.",
                field="readings",
            )
    elif not evaluation.supports_recipe and not note.strip():
        raise Refused(
            "note_missing",
            f"This trial ends as “{evaluation.outcome.value}”: say why it is closed.",
            field="note",
        )


def _detail(trial: CrimpTrial, evaluation: Any) -> dict[str, Any]:
    parts = parts_of_trial(trial)
    share = closing_compression(parts.joint, evaluation.closing_od_mm)
    told = [*evaluation.warnings, compression_warning(share, parts.layers)]
    return {
        "supports_recipe": evaluation.supports_recipe,
        "closing_setting_mm": _text(evaluation.closing_setting_mm),
        "closing_od_mm": _text(evaluation.closing_od_mm),
        "bracket_mm": _texts(evaluation.bracket_mm),
        "od_bracket_mm": _texts(evaluation.od_bracket_mm),
        "wall_compression": None if share is None else round(share, 4),
        "warnings": [sentence for sentence in told if sentence],
    }


def _text(size_mm: Decimal | None) -> str | None:
    return None if size_mm is None else str(round(size_mm, 3))


def _texts(sizes_mm: Iterable[Decimal] | None) -> list[str | None]:
    return [_text(size) for size in sizes_mm or ()]


def _locked(trial: CrimpTrial, person: Person) -> CrimpTrial:
    """The trial as it stands, locked, where the person may work at it."""
    found = CrimpTrial.objects.select_for_update().get(pk=trial.pk)
    if not may(person, "approve_recipes", found.site_id):
        require(person, "edit_recipes", found.site_id)
    return found


def _refuse_closed(trial: CrimpTrial) -> None:
    if trial.closed_at is not None:
        raise Refused("trial_closed", "This trial is closed: nothing is added to it any more.")


def _tell(
    deed: str,
    trial: CrimpTrial,
    person: Person,
    at: dt.datetime,
    *,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    reason: str = "",
) -> None:
    told = audit.Deed(deed, trial, trial.site, before or {}, after or {}, reason)
    audit.record(told, actor=person, at=at)
