"""Which hoses are made of parts that no published chart names together, and at which end."""

from collections.abc import Collection
from typing import Any

from django.db.models import QuerySet

from assemblies.models import (
    Assembly,
    BuildEnd,
    ConditionalRelease,
    Position,
    RecipeRevision,
    SpecEnd,
)
from assemblies.queries.parts import bases_of
from fleet.models.compiled import compiled

_PUBLISHED = RecipeRevision.Basis.PUBLISHED
_NO_RECIPE = "made without a recipe"
_TRIAL = "crimped by trial"
GRAVE_CIRCUITS = frozenset({Position.Circuit.STEERING, Position.Circuit.BRAKES})


def hurts_there(position: Position) -> bool:
    """Whether a failure at a position hurts someone: as judged, or on steering and brakes."""
    judged = position.consequence == Position.Consequence.HURTS
    return judged or position.circuit in GRAVE_CIRCUITS


def unmatched_among(hose_ids: Collection[int]) -> dict[int, str]:
    """Why each of some hoses is unmatched; those not known to be are left out.

    What was built tells first; a hose without a build record is told by its spec's recipes; a
    piece of a crimp trial always is. Of a hose found on a machine or bought in nothing is known
    here, and nothing is said. The number of queries is fixed.
    """
    if not hose_ids:
        return {}
    built = _by_build(hose_ids)
    found = dict.fromkeys(_pieces(hose_ids), _TRIAL)
    found |= _by_spec(set(hose_ids) - set(built))
    return found | {hose: why for hose, why in built.items() if why}


def why_unmatched(hose: Assembly) -> str:
    """Why one hose is unmatched, in a few words; empty where it is not known to be."""
    return unmatched_among([hose.pk]).get(hose.pk, "")


@compiled
def _ends_built(hose_ids: Collection[int]) -> "QuerySet[BuildEnd, tuple[int, str, str | None]]":
    rows = BuildEnd.objects.filter(build__assembly__in=hose_ids).order_by("build_id", "which")
    return rows.values_list("build__assembly", "which", "recipe__basis")


@compiled
def _pieces(hose_ids: Collection[int]) -> "QuerySet[ConditionalRelease, int]":
    pieces = ConditionalRelease.objects.filter(assembly__in=hose_ids, trial__isnull=False)
    return pieces.values_list("assembly_id", flat=True)


@compiled
def _ends_asked(hose_ids: Collection[int]) -> "QuerySet[SpecEnd, Any]":
    """The ends of the hoses' specs, each with the joint that it is."""
    ends = SpecEnd.objects.filter(spec__assemblies__in=hose_ids).order_by("which")
    return ends.values_list("spec__assemblies", "which", "spec__hose", "fitting", "shell")


def _by_build(hose_ids: Collection[int]) -> dict[int, str]:
    found: dict[int, list[str]] = {}
    for hose, which, basis in _ends_built(hose_ids):
        found.setdefault(hose, []).extend(_end(which, basis))
    return {hose: ", ".join(ends) for hose, ends in found.items()}


def _end(which: str, basis: str | None) -> list[str]:
    if basis == _PUBLISHED:
        return []
    return [f"end {which} {_NO_RECIPE if basis is None else _TRIAL}"]


def _by_spec(hose_ids: Collection[int]) -> dict[int, str]:
    """By what the spec's joints are crimped by now. Only a trial recipe tells: a joint without any
    may have been made elsewhere.
    """
    ends = _ends_asked(hose_ids) if hose_ids else []
    bases = bases_of({(hose, fitting, shell) for _, _, hose, fitting, shell in ends})
    found: dict[int, list[str]] = {}
    for hose_id, which, *joint in ends:
        if bases.get(tuple(joint), _PUBLISHED) != _PUBLISHED:
            found.setdefault(hose_id, []).append(f"end {which} {_TRIAL}")
    return {hose_id: ", ".join(told) for hose_id, told in found.items()}
