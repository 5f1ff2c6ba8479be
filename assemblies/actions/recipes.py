"""Crimp recipes: drafted from a published chart or for a trial, approved, replaced, withdrawn."""

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any, Final

from django.db import transaction

from assemblies.actions.revisions import (
    Kind,
    approve_draft,
    locked_draft,
    new_draft,
    require_anywhere,
    set_content,
    tell,
    withdraw_revision,
)
from assemblies.models import (
    CrimpRecipe,
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    RecipeRevision,
    ShellItem,
    ShellRevision,
)
from assemblies.queries.parts import counting
from fleet.actions.refusals import Refused
from fleet.models import Person


@transaction.atomic
def draft_recipe(
    *,
    hose: HoseItem,
    fitting: FittingItem,
    shell: ShellItem | None,
    facts: Mapping[str, Any],
    person: Person | None,
    at: dt.datetime,
) -> RecipeRevision:
    """Draft the next revision of a joint's recipe, the first one making the recipe. Atomic.

    Refuses: draft_exists, tail_differs, shell_differs, shell_too_many, chart_missing,
    skive_too_long, skive_without_length, field_wrong. Needs `edit_recipes` somewhere.
    """
    require_anywhere(person, RECIPE.edit)
    header, _ = CrimpRecipe.objects.get_or_create(hose=hose, fitting=fitting, shell=shell)
    draft = new_draft(RECIPE, header, facts, person, at)
    tell("drafted recipe", draft, ({}, {"joint": header, **facts}), person=person, at=at)
    return _of_recipe(draft)


@transaction.atomic
def change_recipe_draft(
    *,
    revision: RecipeRevision,
    facts: Mapping[str, Any],
    seen: str,
    person: Person,
    at: dt.datetime,
) -> RecipeRevision:
    """Change a draft. Atomic. `seen` is the fingerprint of what the person had before them.

    Refuses: not_a_draft, changed_meanwhile, and what the draft is refused for.
    """
    require_anywhere(person, RECIPE.edit)
    draft = locked_draft(RECIPE, revision, seen)
    draft.made_by, draft.made_at = person, at
    change = set_content(RECIPE, draft, facts)
    tell("changed recipe", draft, change, person=person, at=at)
    return _of_recipe(draft)


@transaction.atomic
def approve_recipe(
    *, revision: RecipeRevision, seen: str, person: Person, at: dt.datetime
) -> RecipeRevision:
    """Approve a draft on a published chart. Atomic; of two at once one wins.

    Refuses: no_trial (a trial recipe waits for its trials), od_missing, depth_missing,
    skive_unknown, part_not_approved, od_not_below_shell, approves_alone, not_a_draft,
    changed_meanwhile, approved_meanwhile. Needs `approve_recipes` somewhere.
    """
    require_anywhere(person, RECIPE.approve)
    draft = locked_draft(RECIPE, revision, seen)
    for refused in recipe_obstacles(draft):
        raise refused
    approve_draft(RECIPE, draft, person, at)
    return _of_recipe(draft)


@transaction.atomic
def withdraw_recipe_revision(
    *, revision: RecipeRevision, reason: str, person: Person, at: dt.datetime
) -> RecipeRevision:
    """Withdraw a revision for good. Atomic. Refuses: reason_missing, withdrawn_already."""
    return _of_recipe(withdraw_revision(RECIPE, revision, reason=reason, person=person, at=at))


def prepare_recipe(recipe: RecipeRevision) -> None:
    """Refuse a draft whose parts or figures can't go together."""
    for refused in _misfits(recipe):
        raise refused


def recipe_obstacles(recipe: RecipeRevision) -> Iterator[Refused]:
    """All that stands in the way of approving a recipe."""
    yield from _misfits(recipe)
    if recipe.basis == RecipeRevision.Basis.TRIAL:
        yield Refused(
            "no_trial",
            "A trial recipe is not approved by itself: it becomes provisional on one good crimp "
            "trial, and is approved on two whose diameters agree, with passed proof tests.",
        )
    if not recipe.crimp_od_mm:
        yield Refused("od_missing", "State the crimp OD of the chart.", field="crimp_od_mm")
    if not recipe.insertion_depth_mm:
        yield Refused(
            "depth_missing", "State how deep the hose goes in.", field="insertion_depth_mm"
        )
    if recipe.external_skive == RecipeRevision.Skive.UNKNOWN:
        yield Refused(
            "skive_unknown",
            "State whether the cover is skived, and how long: unknown is not the same as no skive.",
            field="external_skive",
        )
    for part in _parts(recipe):
        if part[1] is None or part[1].state != "approved":
            yield Refused("part_not_approved", f"{part[0]} has no approved revision.")


def _misfits(recipe: RecipeRevision) -> Iterator[Refused]:
    (_, hose), (_, fitting), *shells = _parts(recipe)
    shell: ShellRevision | None = shells[0][1] if shells else None
    yield from _wrong_sizes(hose, fitting, shell)
    if fitting is not None and fitting.one_piece and shells:
        yield Refused(
            "shell_too_many", f"{fitting.header} is one piece and has its own shell.", field="shell"
        )
    if recipe.basis == RecipeRevision.Basis.PUBLISHED and not recipe.chart_source.strip():
        yield Refused(
            "chart_missing",
            "Name the maker's chart that names both parts: document, edition, page.",
            field="chart_source",
        )
    yield from _wrong_skives(recipe)
    widest = shell.outside_diameter_mm if shell is not None else None
    if recipe.crimp_od_mm and widest and recipe.crimp_od_mm >= widest:
        yield Refused(
            "od_not_below_shell",
            f"The shell is {widest} mm before crimping: a crimp OD of {recipe.crimp_od_mm} mm "
            "would not close it.",
            field="crimp_od_mm",
        )


def _wrong_sizes(
    hose: HoseRevision | None, fitting: FittingRevision | None, shell: ShellRevision | None
) -> Iterator[Refused]:
    if hose is None:
        return
    if fitting is not None and fitting.tail_dn != hose.size_dn:
        yield Refused(
            "tail_differs",
            f"The tail of {fitting.header} is DN{fitting.tail_dn}, "
            f"the hose {hose.header} is DN{hose.size_dn}.",
            field="fitting",
        )
    if shell is not None and shell.tail_dn != hose.size_dn:
        yield Refused(
            "shell_differs",
            f"The shell {shell.header} is for DN{shell.tail_dn}, "
            f"the hose {hose.header} is DN{hose.size_dn}.",
            field="shell",
        )


def _wrong_skives(recipe: RecipeRevision) -> Iterator[Refused]:
    for name in ("external_skive", "internal_skive"):
        length = getattr(recipe, f"{name}_mm")
        to_a_length = getattr(recipe, name) == RecipeRevision.Skive.LENGTH
        if to_a_length != bool(length):
            yield Refused(
                "skive_without_length",
                "A skive to a length has its length in mm; no skive and skive unknown have none.",
                field=f"{name}_mm",
            )
        elif length and recipe.insertion_depth_mm and length > recipe.insertion_depth_mm:
            yield Refused(
                "skive_too_long",
                f"A skive of {length} mm is longer than the insertion of "
                f"{recipe.insertion_depth_mm} mm: bare wire would show.",
                field=f"{name}_mm",
            )


def _parts(recipe: RecipeRevision) -> list[tuple[str, Any]]:
    """The parts of a joint by name, each with its revision that counts."""
    header = recipe.header
    found = [
        (f"The hose {header.hose}", counting(HoseRevision, [header.hose_id])),
        (f"The fitting {header.fitting}", counting(FittingRevision, [header.fitting_id])),
    ]
    if header.shell_id is not None:
        found.append((f"The shell {header.shell}", counting(ShellRevision, [header.shell_id])))
    return [(name, next(iter(rows.values()), None)) for name, rows in found]


def _of_recipe(revision: Any) -> RecipeRevision:
    return revision  # type: ignore[no-any-return]  # the kind's rows are recipe revisions


RECIPE: Final = Kind(
    CrimpRecipe,
    RecipeRevision,
    "recipe",
    "edit_recipes",
    "approve_recipes",
    prepare_recipe,
    two_people=True,
)
