"""Beginning builds: pieces on the bench, each with its record, from a frozen sheet."""

import datetime as dt
from dataclasses import dataclass

from django.db import IntegrityError, transaction

from assemblies.calc.sheet import EndLine, SheetContent
from assemblies.models import (
    Assembly,
    BuildBatch,
    BuildEnd,
    BuildRecord,
    FrozenSheet,
    RecipeRevision,
    SpecRevision,
    Stay,
)
from assemblies.queries.build_facts import recipes_of_sheet
from assemblies.queries.sheets import MOST_PIECES, content_of
from assemblies.signals import assembly_changed
from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.local_days import local_day
from fleet.models import Person
from fleet.permissions import require

_GONE = {"replaced": "is replaced by a later one", "withdrawn": "is withdrawn"}


@dataclass(frozen=True, slots=True)
class SheetRecipes:
    """The recipe revisions that a sheet's two ends were printed from, by end."""

    of: dict[str, RecipeRevision]


@transaction.atomic
def begin_builds(
    *, sheet: FrozenSheet, quantity: int, client_id: str, person: Person, at: dt.datetime
) -> BuildBatch:
    """Begin pieces by a sheet: for each an assembly on the bench, held, and its record. Atomic.

    Safe to repeat: begun once for one `client_id`. The records' ends are stamped with the recipe
    revisions that the sheet was printed from. Refuses: quantity, sheet_aside, spec_not_approved,
    no_recipe, cut_length_unknown, recipe_withdrawn, recipe_replaced, recipe_gone. Sends
    `assembly_changed`. Needs `build` at the sheet's site.
    """
    require(person, "build", sheet.site_id)
    begun = _begun_before(person, client_id)
    if begun is not None:
        return begun
    if not 1 <= quantity <= MOST_PIECES:
        sentence = f"1 to {MOST_PIECES} pieces are begun at once, not {quantity}."
        raise Refused("quantity", sentence, field="quantity")
    held = FrozenSheet.objects.select_related("site", "spec__header", "spec__hose").get(pk=sheet.pk)
    recipes = recipes_to_build_by(held)
    batch, is_new = _batch(held, quantity, client_id, person, at)
    if not is_new:
        return batch
    made = [_piece(batch, place, recipes, person, at) for place in range(1, quantity + 1)]
    after = {"sheet": held.number, "pieces": quantity}
    deed = audit.Deed("began building", batch, held.site, {}, after)
    audit.record(deed, actor=person, at=at)
    assembly_changed.send(sender=Assembly, assembly_ids=[one.assembly_id for one in made], at=at)
    return batch


@transaction.atomic
def put_sheet_aside(
    *, sheet: FrozenSheet, reason: str, person: Person, at: dt.datetime
) -> FrozenSheet:
    """Take a sheet off the bench's list: nobody wants it built any more. Atomic; safe to repeat.

    Refuses: reason_missing. Needs `build` at the sheet's site.
    """
    require(person, "build", sheet.site_id)
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is not to be built.", field="reason")
    locked = FrozenSheet.objects.select_for_update().get(pk=sheet.pk)
    if locked.aside_at is None:
        locked.aside_at, locked.aside_by, locked.aside_reason = at, person, reason.strip()[:300]
        locked.save(update_fields=["aside_at", "aside_by", "aside_reason"])
        deed = audit.Deed("put a sheet aside", locked, locked.site, reason=reason.strip())
        audit.record(deed, actor=person, at=at)
    return locked


def recipes_to_build_by(sheet: FrozenSheet) -> SheetRecipes:
    """The recipe revisions behind a sheet, where it may still be built by; else a refusal."""
    content = content_of(sheet)
    if sheet.aside_at is not None:
        raise Refused("sheet_aside", f"This sheet was put aside: {sheet.aside_reason}")
    _refuse_spec(sheet.spec)
    _refuse_gaps(content)
    revisions = recipes_of_sheet(sheet, content)
    for end in content.ends:
        _refuse_recipe(end, revisions.get(end.label))
    return SheetRecipes(revisions)


def _refuse_spec(spec: SpecRevision) -> None:
    if spec.state == SpecRevision.State.APPROVED:
        return
    stands = _GONE.get(spec.state, f"is {spec.get_state_display()}")
    raise Refused(
        "spec_not_approved",
        f"Revision {spec.number} of {spec.header} {stands} since this sheet was printed: draw a "
        "sheet of the revision that counts.",
    )


def _refuse_gaps(content: SheetContent) -> None:
    for end in content.ends:
        if end.crimp is None:
            raise Refused(
                "no_recipe",
                f"The sheet gives no crimp for end {end.label}: {end.no_crimp_reason} Do not "
                "crimp it; once a recipe is approved, draw the sheet anew.",
            )
    if content.length.cut_length_mm is None:
        raise Refused(
            "cut_length_unknown", f"The sheet has no cut length: {content.length.arithmetic}"
        )


def _refuse_recipe(end: EndLine, revision: RecipeRevision | None) -> None:
    if revision is None:
        raise Refused(
            "recipe_gone", f"The recipe of end {end.label} is not in the register: ask before use."
        )
    if revision.state == RecipeRevision.State.APPROVED:
        return
    withdrawn = revision.state == RecipeRevision.State.WITHDRAWN
    why = f": {revision.withdrawal_reason}" if revision.withdrawal_reason else ""
    stands = _GONE.get(revision.state, f"is {revision.get_state_display()}")
    raise Refused(
        "recipe_withdrawn" if withdrawn else "recipe_replaced",
        f"Revision {revision.number} of the recipe at end {end.label} {stands} since this sheet "
        f"was printed{why}. Build nothing by it: draw the sheet anew.",
    )


def _begun_before(person: Person, client_id: str) -> BuildBatch | None:
    if not client_id:
        return None
    return BuildBatch.objects.filter(begun_by=person, client_id=client_id).first()


def _batch(
    sheet: FrozenSheet, quantity: int, client_id: str, person: Person, at: dt.datetime
) -> tuple[BuildBatch, bool]:
    """The batch, and whether it is new; told twice at once it is the one that was there first."""
    facts = {"site": sheet.site, "sheet": sheet, "quantity": quantity, "client_id": client_id}
    try:
        with transaction.atomic():
            return BuildBatch.objects.create(**facts, begun_at=at, begun_by=person), True
    except IntegrityError:
        begun = _begun_before(person, client_id)
        if begun is None:
            raise
        return begun, False


def _piece(
    batch: BuildBatch, place: int, recipes: SheetRecipes, person: Person, at: dt.datetime
) -> BuildRecord:
    """One piece: the assembly, held, its open stay on the bench, its record and two ends."""
    sheet, site = batch.sheet, batch.site
    today = local_day(at, site.time_zone)
    assembly = Assembly.objects.create(
        **{"site": site, "origin": Assembly.Origin.BUILT, "condition": Assembly.Condition.HELD},
        **{"spec": sheet.spec, "hose": sheet.spec.hose, "known_from_on": today},
        **{"built_earliest_on": today, "built_latest_on": today, "built_precision": "day"},
    )
    Stay.objects.create(
        **{"assembly": assembly, "site": site, "place": Stay.Place.BENCH, "from_at": at},
        **{"from_earliest_on": today, "from_latest_on": today, "from_precision": "day"},
        **{"recorded_by": person, "recorded_at": at},
    )
    build = BuildRecord.objects.create(
        **{"assembly": assembly, "site": site, "spec": sheet.spec, "sheet": sheet},
        **{"batch": batch, "place_in_batch": place, "built_on": today},
    )
    for which, recipe in sorted(recipes.of.items()):
        BuildEnd.objects.create(build=build, which=which, recipe=recipe)
    return build
