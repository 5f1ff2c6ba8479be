"""The page of one trial: all that the recorder shows, as it stands."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from assemblies.calc.trial import Evaluation, Outcome
from assemblies.calc.trial_picture import trial_scene
from assemblies.calc.trial_start import closing_compression, compression_warning
from assemblies.calc.trial_words import standing_words
from assemblies.models import Assembly, CrimpTrial, RecipeRevision, TrialPress, TrialProof
from assemblies.queries.trials import (
    PressLine,
    TrialParts,
    calc_presses,
    evaluation_of,
    last_proof,
    learnt_dial,
    parts_of_trial,
    press_lines,
    recipes_behind,
    standing_presses,
)
from fleet.calc.scene import Scene
from fleet.models import Person
from fleet.permissions import may


@dataclass(frozen=True, slots=True)
class TrialPage:
    """One trial as it stands; `next_mm` is what to dial next, None once the pin is refused."""

    trial_id: int
    recipe_id: int
    joint: str
    site: str
    zone: str
    facts: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    open: bool
    standing: str
    warnings: tuple[str, ...]
    refused: bool
    supports: bool
    closing_od_mm: Decimal | None
    next_mm: Decimal | None
    next_from: str
    lines: tuple[PressLine, ...]
    last: PressLine | None
    scene: Scene
    readings: tuple[Decimal, ...]
    note: str
    closed_by: str
    closed_at: dt.datetime | None
    proof: TrialProof | None
    recipes: tuple[RecipeRevision, ...]
    may_work: bool
    may_release: bool
    piece: Assembly | None


def trial_page(person: Person, trial: CrimpTrial) -> TrialPage:
    """What the recorder shows of a trial that the person may see."""
    standing = standing_presses(trial)
    told = calc_presses(trial, standing)
    found, parts = evaluation_of(trial, standing), parts_of_trial(trial)
    lines = press_lines(trial)
    next_mm, next_from = _next(trial, found, standing, parts)
    closed = trial.closed_at is not None
    return TrialPage(
        trial_id=trial.pk,
        recipe_id=trial.recipe_id,
        joint=str(trial.recipe),
        site=trial.site.name,
        zone=trial.site.time_zone,
        facts=tuple(_facts(trial)),
        notes=tuple(_notes(trial, parts)),
        open=not closed,
        standing=standing_words(found, told[-1] if told else None, closed=closed),
        warnings=tuple(_warnings(found, parts, closed)),
        refused=found.outcome not in (Outcome.NO_PRESS, Outcome.GOES_ON),
        supports=found.supports_recipe,
        closing_od_mm=found.closing_od_mm,
        next_mm=next_mm,
        next_from=next_from,
        lines=lines,
        last=next((line for line in reversed(lines) if line.undone_at is None), None),
        scene=trial_scene(told, found),
        readings=tuple(Decimal(text) for text in trial.closing_readings),
        note=trial.note,
        closed_by=str(trial.closed_by or ""),
        closed_at=trial.closed_at,
        proof=last_proof(trial),
        recipes=tuple(recipes_behind(trial)),
        may_work=any(
            may(person, right, trial.site) for right in ("edit_recipes", "approve_recipes")
        ),
        may_release=may(person, "release_conditionally", trial.site),
        piece=Assembly.objects.visible_to(person).filter(releases__trial=trial).first(),
    )


def _next(
    trial: CrimpTrial, found: Evaluation, standing: Sequence[TrialPress], parts: TrialParts
) -> tuple[Decimal | None, str]:
    """What to dial next, and where that comes from."""
    if standing:
        return found.next_setting_mm, ""
    if trial.first_setting_mm is not None:
        dial = learnt_dial(trial.crimper, trial.die_set)
        known = (
            f"the dial's difference of {dial.difference_mm} mm, learnt from {dial.presses} presses"
            if dial
            else "a dial that is not learnt yet: look twice"
        )
        return trial.first_setting_mm, (
            f"Estimated, where the shell first touches the wire, with {known}. A place to begin, "
            "never a crimp figure."
        )
    missing = ", ".join(parts.missing())
    return None, (
        f"Nothing can be proposed: the catalogue does not know {missing}. Begin well above where "
        "the shell grips."
        if missing
        else "Nothing can be proposed: the sizes in the catalogue do not fit together."
    )


def _facts(trial: CrimpTrial) -> list[tuple[str, str]]:
    skive = {
        "length": f"cover skived {trial.external_skive_mm} mm",
        "none": "no skive",
        "unknown": "skive unknown",
    }[trial.external_skive]
    depth = f"{trial.insertion_depth_mm} mm" if trial.insertion_depth_mm else "not noted"
    facts = [
        ("Crimper", f"{trial.crimper}, die {trial.die_set or 'not noted'}"),
        ("Pin", f"{trial.pin_mm} mm, {trial.pin_from}"),
        ("Insertion", f"{depth}, {skive}"),
        ("Begun", f"by {trial.begun_by}, {trial.site}"),
    ]
    if trial.tail_bore_mm:
        facts.insert(2, ("Tail bore", f"{trial.tail_bore_mm} mm before crimping"))
    if trial.overruled_by:
        facts.append(("Overruled", f"by {trial.overruled_by}: {trial.overruled_reason}"))
    return facts


def _notes(trial: CrimpTrial, parts: TrialParts) -> list[str]:
    """What the person should know of these parts before the first press."""
    found = []
    hose, fitting, shell = parts.hose, parts.fitting, parts.shell
    if hose and shell and shell.layers_made_for != hose.layers:
        found.append(
            f"The shell is made for {shell.layers_made_for} wire layers, the hose has "
            f"{hose.layers}."
        )
    if fitting and fitting.form != fitting.Form.STRAIGHT:
        found.append(
            f"The end is a {fitting.get_form_display()}: a straight pin may not reach the crimp. "
            "Use a ball gauge, or make the trial on a straight end of the same tail and shell."
        )
    if fitting and fitting.nose_bore_mm and fitting.nose_bore_mm <= trial.pin_mm:
        found.append(
            f"The nose bore is {fitting.nose_bore_mm} mm: a pin of {trial.pin_mm} mm does not "
            "pass it. It enters from the hose's side, or a ball gauge is used."
        )
    return found


def _warnings(found: Evaluation, parts: TrialParts, closed: bool) -> list[str]:
    """The warnings that say something now; what only waits for the closing is left to the form."""
    waits = ("The pin has not refused yet.", "The closing press has")
    told = [one for one in found.warnings if closed or not one.startswith(waits)]
    share = closing_compression(parts.joint, found.closing_od_mm)
    return [one for one in [*told, compression_warning(share, parts.layers)] if one]


def second_trials(
    person: Person, recipe_id: int, first_ids: Sequence[int]
) -> list[tuple[int, str]]:
    """Closed trials of a joint that may stand as the second, newest first, with their words."""
    seen = CrimpTrial.objects.visible_to(person).filter(recipe=recipe_id)
    rows = seen.exclude(closed_at=None)
    rows = rows.exclude(pk__in=first_ids).select_related("crimper", "begun_by")
    found = []
    for row in rows.order_by("-closed_at")[:20]:
        evaluation = evaluation_of(row)
        if evaluation.supports_recipe:
            words = (
                f"{row.begun_at:%Y-%m-%d}, {row.begun_by}, closed at "
                f"{evaluation.closing_od_mm:.2f} mm OD, {_proof_words(row)}"
            )
            found.append((row.pk, words))
    return found


def _proof_words(trial: CrimpTrial) -> str:
    proof = last_proof(trial)
    if proof is None:
        return "no proof test yet"
    result = "held" if proof.passed else "failed"
    return f"{result} {proof.pressure_bar.normalize():f} bar"
