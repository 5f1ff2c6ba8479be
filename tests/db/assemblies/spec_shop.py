"""Specs, their parts and recipes for tests."""

from decimal import Decimal
from typing import Any

from assemblies.actions.recipes import RECIPE, approve_recipe, draft_recipe
from assemblies.actions.specs import (
    SPEC,
    EndChoice,
    Sleeve,
    SpecContent,
    add_spec,
    approve_spec,
)
from assemblies.models import (
    FittingRevision,
    HoseRevision,
    RecipeRevision,
    ShellItem,
    ShellRevision,
    SpecRevision,
)
from fleet.models import Person
from tests import factories as make

NOW = make.NOW
CHART: dict[str, Any] = {
    "basis": "published",
    "chart_source": "Harrow crimp chart 7, page 3",
    "insertion_depth_mm": Decimal("31.00"),
    "external_skive": "none",
    "crimp_od_mm": Decimal("24.60"),
}


def end(**facts: Any) -> FittingRevision:
    """An approved one-piece fitting for DN12 hose."""
    return make.fitting(**{"one_piece": True, **facts})


def shell(**facts: Any) -> ShellRevision:
    n = ShellItem.objects.count() + 1
    return ShellRevision.objects.create(
        **{
            "header": ShellItem.objects.create(code=f"SH-{n}"),
            "maker": "Harrow Ends",
            "product": "S12",
            "tail_dn": 12,
            "layers_made_for": 2,
            "state": "approved",
            "made_at": NOW,
            "approved_at": NOW,
            "approved_by": make.person(),
            **facts,
        }
    )


def content(
    *,
    hose: HoseRevision | None = None,
    near: FittingRevision | None = None,
    far: FittingRevision | None = None,
    sleeves: tuple[Sleeve, ...] = (),
    **facts: Any,
) -> SpecContent:
    """A spec of 1200 mm, seat to seat, with two straight ends."""
    return SpecContent(
        {"hose": (hose or make.hose()).header, "length_mm": Decimal(1200), **facts},
        EndChoice((near or end()).header),
        EndChoice((far or end()).header),
        sleeves,
    )


def draft(code: str = "S-1", *, of: SpecContent | None = None, **facts: Any) -> SpecRevision:
    made = add_spec(
        code=code,
        title="Boom cylinder, rod side",
        content=of or content(**facts),
        person=make.person("planner"),
        at=NOW,
    )
    return SpecRevision.objects.get(pk=made.pk)


def approve(revision: SpecRevision, person: Person | None = None) -> SpecRevision:
    again = SpecRevision.objects.get(pk=revision.pk)
    return approve_spec(
        revision=again,
        seen=SPEC.fingerprint(again),
        person=person or make.person("manager"),
        at=NOW,
    )


def approved(code: str = "S-1", **facts: Any) -> SpecRevision:
    return approve(draft(code, **facts))


def recipe(
    hose: HoseRevision, fitting: FittingRevision, shell: ShellRevision | None = None, **facts: Any
) -> RecipeRevision:
    """A drafted recipe on a published chart."""
    made = draft_recipe(
        hose=hose.header,
        fitting=fitting.header,
        shell=shell.header if shell else None,
        facts={**CHART, **facts},
        person=make.person("planner"),
        at=NOW,
    )
    return RecipeRevision.objects.get(pk=made.pk)


def approved_recipe(
    hose: HoseRevision, fitting: FittingRevision, shell: ShellRevision | None = None, **facts: Any
) -> RecipeRevision:
    made = recipe(hose, fitting, shell, **facts)
    seen = RECIPE.fingerprint(made)
    return approve_recipe(revision=made, seen=seen, person=make.person("manager"), at=NOW)
