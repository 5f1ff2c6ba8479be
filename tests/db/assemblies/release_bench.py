"""Terms of a conditional release for tests, and hoses that need one."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.installations import Moment, fit_assembly
from assemblies.actions.releases import (
    Limits,
    Piece,
    release_conditionally,
    release_trial_piece,
)
from assemblies.models import Assembly, BuildEnd, BuildRecord, ConditionalRelease, Position
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies.test_sheets import trial_recipe

NOW, TODAY = make.NOW, make.TODAY
BY = TODAY + dt.timedelta(days=3)
TERMS: dict[str, Any] = {
    "reason": "Boom down in the pit, no spare.",
    "limits": Limits(Decimal(180), "EX-014, dipper"),
    "replace_by_on": BY,
}
PIECE = Piece("T 1", "straight, same recipe", Decimal(900))


def held(at: Site, **facts: Any) -> Assembly:
    return make.stored(at=at, condition="held", owner_mark="H 1", **facts)


def release(hose: Assembly, by: Person, **facts: Any) -> ConditionalRelease:
    told: dict[str, Any] = {**TERMS, "today": TODAY, "at": NOW, **facts}
    return release_conditionally(assembly=hose, person=by, **told)


def fit(hose: Assembly, spot: Position) -> None:
    fit_assembly(assembly=hose, position=spot, when=Moment(TODAY, NOW), person=None, now=NOW)


def refused(hose: Assembly, spot: Position) -> str:
    with pytest.raises(Refused) as refusal:
        fit(hose, spot)
    return refusal.value.code


def unmatched(at: Site) -> Assembly:
    """A hose in store, built by an approved trial recipe."""
    hose, end = make.hose(), shop.end()
    recipe = trial_recipe(hose, end)
    spec = shop.draft(hose=hose, near=end, far=end)
    made = make.stored(at=at, owner_mark="U 1", origin="built")
    build = BuildRecord.objects.create(
        assembly=made, site=at, spec=spec, built_on=TODAY, proof_passed=True
    )
    BuildEnd.objects.create(build=build, which="A", recipe=recipe)
    BuildRecord.objects.filter(pk=build.pk).update(signed_at=NOW, signed_by=make.person())
    return Assembly.objects.get(pk=made.pk)


def release_piece(trial: Any, by: Person, **facts: Any) -> ConditionalRelease:
    told: dict[str, Any] = {**TERMS, "piece": PIECE, "today": TODAY, "at": NOW, **facts}
    return release_trial_piece(trial=trial, person=by, **told)
