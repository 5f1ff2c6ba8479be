"""Recipes read: one joint with its revisions side by side, and what to be warned of."""

from dataclasses import dataclass
from typing import Any

from assemblies.models import (
    CrimpRecipe,
    FittingRevision,
    HoseRevision,
    RecipeRevision,
    ShellRevision,
)
from assemblies.queries.parts import counting
from assemblies.queries.side_by_side import FactRow, RevisionHead, fact_rows, head_of


@dataclass(frozen=True, slots=True)
class RecipePage:
    """One joint: its parts, its revisions, its warnings."""

    recipe_id: int
    title: str
    hose_id: int
    hose: str
    fitting_id: int
    fitting: str
    shell_id: int | None
    shell: str
    heads: tuple[RevisionHead, ...]
    rows: tuple[FactRow, ...]
    warnings: tuple[str, ...]

    @property
    def draft(self) -> RevisionHead | None:
        return next((head for head in self.heads if head.state == "draft"), None)

    @property
    def approved(self) -> RevisionHead | None:
        return next((head for head in self.heads if head.state == "approved"), None)

    @property
    def counts(self) -> RevisionHead | None:
        """The revision that counts: approved, else provisional, else the draft."""
        states = ("approved", "provisional", "draft")
        standing = [head for head in self.heads if head.state in states]
        return min(standing, key=lambda head: states.index(head.state), default=None)

    @property
    def mark(self) -> str:
        return self.counts.mark if self.counts else "withdrawn"

    @property
    def mark_words(self) -> str:
        return self.counts.state if self.counts else "withdrawn"


def recipe_page(recipe_id: int) -> RecipePage | None:
    """One joint with all its revisions, the newest first."""
    joints = CrimpRecipe.objects.select_related("hose", "fitting", "shell")
    joint = joints.filter(pk=recipe_id).first()
    if joint is None:
        return None
    people = ("made_by", "approved_by", "withdrawn_by", "rated_by")
    revisions = list(
        RecipeRevision.objects.filter(header=joint).select_related(*people).order_by("-number")
    )
    return RecipePage(
        joint.pk,
        str(joint),
        joint.hose_id,
        str(joint.hose),
        joint.fitting_id,
        str(joint.fitting),
        joint.shell_id,
        str(joint.shell or ""),
        tuple(head_of(revision) for revision in revisions),
        fact_rows(revisions),
        tuple(_warnings(joint, revisions)),
    )


def recipe_revision(recipe_id: int, number: int) -> RecipeRevision | None:
    """One revision of a recipe, or None."""
    found = RecipeRevision.objects.filter(header=recipe_id, number=number)
    return found.select_related("header__hose", "header__fitting", "header__shell").first()


def _warnings(joint: CrimpRecipe, revisions: list[RecipeRevision]) -> list[str]:
    """What the person should know beside the figures."""
    hose: HoseRevision | None = counting(HoseRevision, [joint.hose_id]).get(joint.hose_id)
    fitting: FittingRevision | None = counting(FittingRevision, [joint.fitting_id]).get(
        joint.fitting_id
    )
    found = [_layers(joint, hose), _makers(hose, fitting, revisions)]
    return [sentence for sentence in found if sentence]


def _layers(joint: CrimpRecipe, hose: Any) -> str:
    if joint.shell_id is None or hose is None:
        return ""
    shell = counting(ShellRevision, [joint.shell_id]).get(joint.shell_id)
    if shell is None or shell.layers_made_for == hose.layers:
        return ""
    return (
        f"The shell is made for {shell.layers_made_for} layers, the hose has {hose.layers}: "
        "look twice that the chart names just these."
    )


def _makers(hose: Any, fitting: Any, revisions: list[RecipeRevision]) -> str:
    """Equal layer counts prove nothing: only a chart that names both makes a matched pair."""
    approved = [one for one in revisions if one.state == "approved"]
    if approved and approved[0].basis == RecipeRevision.Basis.PUBLISHED:
        return ""
    if hose is None or fitting is None:
        return ""
    return (
        f"Unmatched: no approved published chart here names both {hose.maker} {hose.product} and "
        f"{fitting.maker} {fitting.product}."
    )
