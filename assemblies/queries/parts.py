"""The parts behind specs: for each, the revision that counts now, in a fixed number of queries."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

from django.db.models import Q, QuerySet

from assemblies.models import (
    FittingRevision,
    HoseRevision,
    RecipeRevision,
    ShellRevision,
    SpecEnd,
    SpecRevision,
)
from fleet.models.compiled import compiled

_COUNTING = ("approved", "provisional", "draft")
_STATE: Callable[[Any], str] = attrgetter("state")
Joint = tuple[int, int, int | None]


@dataclass(frozen=True, slots=True)
class EndParts:
    """One end: the item revisions that count now, None where an item has none."""

    end: SpecEnd
    fitting: FittingRevision | None
    shell: ShellRevision | None
    recipe: RecipeRevision | None

    @property
    def needs_shell(self) -> bool:
        return self.fitting is not None and not self.fitting.one_piece and self.shell is None


@dataclass(frozen=True, slots=True)
class SpecParts:
    """A spec revision with the parts it names."""

    spec: SpecRevision
    hose: HoseRevision | None
    near: EndParts | None
    far: EndParts | None

    @property
    def ends(self) -> tuple[EndParts, ...]:
        return tuple(end for end in (self.near, self.far) if end is not None)


def parts_of(specs: Sequence[SpecRevision]) -> dict[int, SpecParts]:
    """The parts of each spec revision, by its id; the number of queries is fixed.

    An item counts by its approved revision; where it has none, by its newest draft.
    """
    ends = list(
        SpecEnd.objects.filter(spec__in=specs).select_related("fitting", "shell").order_by("which")
    )
    hoses = counting(HoseRevision, {spec.hose_id for spec in specs})
    fittings = counting(FittingRevision, {end.fitting_id for end in ends})
    shells = counting(ShellRevision, {end.shell_id for end in ends if end.shell_id is not None})
    hose_of = {spec.pk: spec.hose_id for spec in specs}
    recipes = recipes_of({(hose_of[end.spec_id], end.fitting_id, end.shell_id) for end in ends})
    found: dict[int, dict[str, EndParts]] = {spec.pk: {} for spec in specs}
    for end in ends:
        joint = (hose_of[end.spec_id], end.fitting_id, end.shell_id)
        shell = shells.get(end.shell_id) if end.shell_id is not None else None
        found[end.spec_id][end.which] = EndParts(
            end, fittings.get(end.fitting_id), shell, recipes.get(joint)
        )
    return {
        spec.pk: SpecParts(
            spec, hoses.get(spec.hose_id), found[spec.pk].get("A"), found[spec.pk].get("B")
        )
        for spec in specs
    }


def counting(revisions: Any, header_ids: Iterable[int]) -> dict[int, Any]:
    """The revision of each header that counts: the approved one, else the newest draft."""
    found = revisions.objects.filter(header_id__in=set(header_ids), state__in=_COUNTING)
    return _best(found.select_related("header").order_by("number"), lambda row: row.header_id)


def recipes_of(joints: Iterable[Joint]) -> dict[Joint, RecipeRevision]:
    """The recipe revision of each joint that counts: approved, else provisional, else a draft."""
    wanted = set(joints)
    if not wanted:
        return {}
    hoses, fittings, _ = zip(*wanted, strict=True)
    found = RecipeRevision.objects.filter(
        Q(header__hose_id__in=set(hoses)) & Q(header__fitting_id__in=set(fittings)),
        state__in=_COUNTING,
    ).select_related("header", "approved_by", "rated_by")
    rows = _best(found.order_by("number"), joint_of)
    return {joint: row for joint, row in rows.items() if joint in wanted}


@compiled
def _recipes(hose_ids: Collection[int], fitting_ids: Collection[int]) -> "QuerySet[Any, Any]":
    found = RecipeRevision.objects.filter(
        header__hose_id__in=hose_ids, header__fitting_id__in=fitting_ids, state__in=_COUNTING
    )
    joint = ("header__hose_id", "header__fitting_id", "header__shell_id")
    return found.order_by("number").values_list(*joint, "state", "basis")


def bases_of(joints: Collection[Joint]) -> dict[Joint, str]:
    """The basis of the recipe of each joint that counts; a joint without one is left out."""
    if not joints:
        return {}
    hoses, fittings, _ = zip(*joints, strict=True)
    rows = _best(_recipes(set(hoses), set(fittings)), lambda row: row[:3], lambda row: row[3])
    return {joint: rows[joint][4] for joint in joints if joint in rows}


def joint_of(recipe: RecipeRevision) -> Joint:
    return recipe.header.hose_id, recipe.header.fitting_id, recipe.header.shell_id


def _best(
    rows: Iterable[Any], key: Callable[[Any], Any], state: Callable[[Any], str] = _STATE
) -> dict[Any, Any]:
    """Of each key the row of the strongest state, the newest of those."""
    ranks: Mapping[str, int] = {state: -rank for rank, state in enumerate(_COUNTING)}
    found: dict[Any, Any] = {}
    for row in rows:
        held = found.get(key(row))
        if held is None or ranks[state(row)] >= ranks[state(held)]:
            found[key(row)] = row
    return found
