"""Which hoses are made of parts that no published chart names together, and at which end."""

from collections.abc import Collection, Mapping
from typing import Any

from assemblies.models import Assembly, BuildEnd, ConditionalRelease, Position, RecipeRevision
from assemblies.queries.parts import parts_of

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
    built = _by_build(hose_ids)
    pieces = ConditionalRelease.objects.filter(assembly__in=hose_ids, trial__isnull=False)
    found = dict.fromkeys(pieces.values_list("assembly_id", flat=True), _TRIAL)
    rest = Assembly.objects.filter(pk__in=set(hose_ids) - set(built), spec__isnull=False)
    found |= _by_spec({row.pk: row.spec for row in rest.select_related("spec__header")})
    return found | {hose: why for hose, why in built.items() if why}


def why_unmatched(hose: Assembly) -> str:
    """Why one hose is unmatched, in a few words; empty where it is not known to be."""
    return unmatched_among([hose.pk]).get(hose.pk, "")


def _by_build(hose_ids: Collection[int]) -> dict[int, str]:
    rows = BuildEnd.objects.filter(build__assembly__in=hose_ids).order_by("build_id", "which")
    found: dict[int, list[str]] = {}
    for hose, which, basis in rows.values_list("build__assembly", "which", "recipe__basis"):
        found.setdefault(hose, []).extend(_end(which, basis))
    return {hose: ", ".join(ends) for hose, ends in found.items()}


def _end(which: str, basis: str | None) -> list[str]:
    if basis == _PUBLISHED:
        return []
    return [f"end {which} {_NO_RECIPE if basis is None else _TRIAL}"]


def _by_spec(specs: Mapping[int, Any]) -> dict[int, str]:
    """By what the spec's joints are crimped by now; a joint without an approved recipe is told."""
    distinct = {spec.pk: spec for spec in specs.values()}
    told = {spec_id: _told(parts.ends) for spec_id, parts in parts_of([*distinct.values()]).items()}
    return {hose: told[spec.pk] for hose, spec in specs.items() if told[spec.pk]}


def _told(ends: Any) -> str:
    """Only a trial recipe tells: a joint without any may have been made elsewhere."""
    trial = [end for end in ends if end.recipe and end.recipe.basis != _PUBLISHED]
    return ", ".join(f"end {end.end.which} {_TRIAL}" for end in trial)
