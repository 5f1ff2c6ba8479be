"""A recipe out of trials: provisional after one that found the collapse, approved after two.

The parts stay unmatched: only a published chart that names hose, insert and shell matches them.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.db import transaction

from assemblies.actions.recipes import RECIPE, recipe_obstacles
from assemblies.actions.revisions import (
    approve_draft,
    content_fields,
    new_draft,
    require_anywhere,
    set_content,
    tell,
)
from assemblies.calc.trial import Evaluation, brackets_agree
from assemblies.models import CrimpRecipe, CrimpTrial, RecipeRevision, RecipeTrial
from assemblies.queries.trials import evaluation_of, last_proof, parts_of_trial
from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import may, require

HUNDREDTH: Final = Decimal("0.01")
PROOF_FACTOR: Final = 2
SHORTEST_HOLD_S: Final = 30
State = RecipeRevision.State


@dataclass(frozen=True, slots=True)
class Rating:
    """What a named person says the joint may carry, for it is no chart's."""

    working_pressure_bar: Decimal
    temperature_high_c: int | None = None


@transaction.atomic
def recipe_from_trial(*, trial: CrimpTrial, person: Person, at: dt.datetime) -> RecipeRevision:
    """Make a provisional recipe of one good trial; it holds the closing OD. Atomic.

    A draft for a trial of the same parts becomes it; an earlier provisional revision is
    replaced. Refuses: trial_open, trial_no_support, recipe_made, published_stands, draft_exists,
    and what stands in the way of any recipe (depth_missing, skive_unknown, part_not_approved…).
    Needs `edit_recipes` or `approve_recipes` at the trial's site.
    """
    if not may(person, "approve_recipes", trial.site_id):
        require(person, "edit_recipes", trial.site_id)
    header = CrimpRecipe.objects.select_for_update().get(pk=trial.recipe_id)
    held = CrimpTrial.objects.select_related("crimper").get(pk=trial.pk)
    found = _good(held)
    _refuse_published(header)
    if RecipeTrial.objects.filter(trial=held).exists():
        raise Refused("recipe_made", "A recipe stands on this trial already.")
    draft = _draft_for(header, _facts(held, found), person, at)
    for refused in _obstacles(draft):
        raise refused
    RecipeRevision.objects.filter(header=header, state=State.PROVISIONAL).update(
        state=State.REPLACED
    )
    draft.state = State.PROVISIONAL
    draft.save(update_fields=["state"])
    RecipeTrial.objects.create(revision=draft, trial=held)
    change = ({"state": "draft"}, {"state": "provisional", "crimp_od_mm": draft.crimp_od_mm})
    tell("made recipe provisional", draft, change, person=person, at=at)
    return draft


@transaction.atomic
def approve_trial_recipe(
    *,
    revision: RecipeRevision,
    second: CrimpTrial,
    rating: Rating,
    seen: str,
    person: Person,
    at: dt.datetime,
) -> RecipeRevision:
    """Approve a provisional recipe on a second trial that agrees, rated by the person. Atomic.

    The next revision is written: it holds the mean of the two closing ODs, the rated pressure
    and who stated it. Refuses: not_provisional, changed_meanwhile, no_first_trial, same_trial,
    other_joint, trial_open, trial_no_support, trials_disagree, rating_missing,
    rated_above_parts, not_proven, published_stands, approves_alone, approved_meanwhile, and what
    stands in the way of any recipe. Needs `approve_recipes` somewhere.
    """
    require_anywhere(person, RECIPE.approve)
    header = CrimpRecipe.objects.select_for_update().get(pk=revision.header_id)
    held = _provisional(revision, seen)
    _refuse_published(header)
    first = _first_trial(held)
    pair = _agreeing(first, CrimpTrial.objects.get(pk=second.pk))
    _refuse_rating(first, rating)
    for trial in (first, second):
        _refuse_unproven(trial, rating)
    draft = new_draft(RECIPE, header, _approved_facts(held, pair, rating, person), person, at)
    draft.made_by, draft.made_at = held.made_by, held.made_at
    draft.save(update_fields=["made_by", "made_at"])
    assert isinstance(draft, RecipeRevision)
    for refused in _obstacles(draft):
        raise refused
    RecipeRevision.objects.filter(pk=held.pk).update(state=State.REPLACED)
    approve_draft(RECIPE, draft, person, at)
    links = [RecipeTrial(revision=draft, trial=trial) for trial in (first, second)]
    RecipeTrial.objects.bulk_create(links)
    return draft


def _good(trial: CrimpTrial) -> Evaluation:
    """How a trial ended, where a recipe may stand on it."""
    if trial.closed_at is None:
        raise Refused("trial_open", "This trial is not closed yet.")
    found = evaluation_of(trial)
    if not found.supports_recipe or found.closing_od_mm is None:
        raise Refused(
            "trial_no_support",
            f"The trial of {trial.begun_at:%Y-%m-%d} ended as “{trial.outcome}”: no recipe can "
            "stand on it.",
        )
    return found


def _draft_for(
    header: CrimpRecipe, facts: dict[str, Any], person: Person, at: dt.datetime
) -> RecipeRevision:
    """The draft that was made for a trial of these parts, else a new one."""
    waiting = RecipeRevision.objects.filter(
        header=header, state=State.DRAFT, basis=RecipeRevision.Basis.TRIAL
    ).first()
    if waiting is None:
        made = new_draft(RECIPE, header, facts, person, at)
        assert isinstance(made, RecipeRevision)
        return made
    waiting.made_by, waiting.made_at = person, at
    set_content(RECIPE, waiting, facts)
    return waiting


def _facts(trial: CrimpTrial, found: Evaluation) -> dict[str, Any]:
    return {
        "basis": RecipeRevision.Basis.TRIAL,
        "chart_source": "",
        "crimp_od_mm": _hundredth(found.closing_od_mm),
        "die_set": trial.die_set,
        "pin_mm": trial.pin_mm,
        "pin_from": trial.pin_from,
        "insertion_depth_mm": trial.insertion_depth_mm,
        "external_skive": trial.external_skive,
        "external_skive_mm": trial.external_skive_mm,
        "internal_skive": trial.internal_skive,
        "internal_skive_mm": trial.internal_skive_mm,
        "note": f"Crimper {trial.crimper} closed at the setting {found.closing_setting_mm}: a "
        "note for that crimper, the OD is what counts.",
        "change_note": f"From the trial of {trial.begun_at:%Y-%m-%d}.",
    }


def _approved_facts(
    held: RecipeRevision,
    pair: tuple[Evaluation, Evaluation],
    rating: Rating,
    person: Person,
) -> dict[str, Any]:
    ods = [found.closing_od_mm for found in pair if found.closing_od_mm is not None]
    alone = (
        f" {person} made and approved it alone, as the site allows."
        if held.made_by_id == person.pk
        else ""
    )
    return {
        **{name: getattr(held, name) for name in content_fields(held)},
        "crimp_od_mm": _hundredth(sum(ods, Decimal(0)) / len(ods)),
        "working_pressure_bar": rating.working_pressure_bar,
        "temperature_high_c": rating.temperature_high_c,
        "rated_by": person,
        "change_note": f"Two trials agree: they closed at {ods[0]:.2f} and {ods[1]:.2f} mm; the "
        f"OD is their mean.{alone}",
    }


def _provisional(revision: RecipeRevision, seen: str) -> RecipeRevision:
    held = RecipeRevision.objects.select_for_update().get(pk=revision.pk)
    if held.state != State.PROVISIONAL:
        raise Refused(
            "not_provisional",
            f"Revision {held.number} is {held.get_state_display()}: only a provisional recipe is "
            "approved on a second trial.",
        )
    if RECIPE.fingerprint(held) != seen:
        raise Refused("changed_meanwhile", "Someone changed this recipe meanwhile: look again.")
    return held


def _first_trial(held: RecipeRevision) -> CrimpTrial:
    """The trial that a provisional recipe stands on."""
    closed = CrimpTrial.objects.filter(recipe_links__revision=held, closed_at__isnull=False)
    first = closed.order_by("closed_at", "pk").last()
    if first is None:
        raise Refused(
            "no_first_trial",
            f"No closed trial is on record behind revision {held.number}: a provisional recipe "
            "without one can't be approved. Make a provisional recipe of a good trial first.",
        )
    return first


def _agreeing(first: CrimpTrial, second: CrimpTrial) -> tuple[Evaluation, Evaluation]:
    if second.pk == first.pk:
        raise Refused("same_trial", "The recipe stands on this trial already: name another.")
    if second.recipe_id != first.recipe_id:
        raise Refused("other_joint", "The second trial is of other parts.")
    one, two = _good(first), _good(second)
    if not brackets_agree(one, two):
        raise Refused(
            "trials_disagree",
            f"The two trials do not agree: in one the tail began to collapse between "
            f"{_between(one)}, in the other between {_between(two)}. Make a third, and look what "
            "differs: hose, tail, shell, die.",
        )
    return one, two


def _between(found: Evaluation) -> str:
    low, high = found.od_bracket_mm or (None, None)
    return f"{low:.2f} and {high:.2f} mm OD" if low is not None else "unmeasured sizes"


def _refuse_rating(trial: CrimpTrial, rating: Rating) -> None:
    if rating.working_pressure_bar <= 0:
        raise Refused(
            "rating_missing",
            "State the working pressure that you rate this joint for.",
            field="working_pressure_bar",
        )
    parts = parts_of_trial(trial)
    for words, part in (("hose", parts.hose), ("fitting", parts.fitting)):
        ceiling = getattr(part, "working_pressure_bar", None)
        if ceiling is not None and rating.working_pressure_bar > ceiling:
            raise Refused(
                "rated_above_parts",
                f"{rating.working_pressure_bar.normalize():f} bar is above the {words}'s own "
                f"{ceiling.normalize():f} bar: a joint carries no more than its weakest part.",
                field="working_pressure_bar",
            )


def _refuse_unproven(trial: CrimpTrial, rating: Rating) -> None:
    proof, day = last_proof(trial), f"{trial.begun_at:%Y-%m-%d}"
    needed = PROOF_FACTOR * rating.working_pressure_bar
    wanted = f"{needed.normalize():f} bar, held {SHORTEST_HOLD_S} s or longer"
    if proof is None:
        said = "has no proof test"
    elif not proof.passed:
        said = "failed its proof test"
    elif proof.pressure_bar < needed or proof.hold_s < SHORTEST_HOLD_S:
        said = f"was tested at {proof.pressure_bar.normalize():f} bar for {proof.hold_s} s"
    else:
        return
    raise Refused("not_proven", f"The piece of the trial of {day} {said}: it needs {wanted}.")


def _refuse_published(header: CrimpRecipe) -> None:
    published = header.revisions.filter(
        state=State.APPROVED, basis=RecipeRevision.Basis.PUBLISHED
    ).first()
    if published is not None:
        raise Refused(
            "published_stands",
            f"A published chart names these parts ({published.chart_source}): its figures are the "
            "recipe. Withdraw that revision first if it is wrong.",
        )


def _obstacles(draft: RecipeRevision) -> Iterator[Refused]:
    """What stands in the way of any recipe; that it needs trials is seen to here."""
    return (refused for refused in recipe_obstacles(draft) if refused.code != "no_trial")


def _hundredth(size_mm: Decimal | None) -> Decimal | None:
    return None if size_mm is None else size_mm.quantize(HUNDREDTH)
