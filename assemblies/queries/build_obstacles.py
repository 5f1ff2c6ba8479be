"""What stands in the way of signing a piece, each a sentence; and what is said beside it."""

from collections import Counter
from collections.abc import Iterator

from assemblies.calc.build_lines import Judgement, Verdict
from assemblies.models import BuildBatch, BuildEnd, BuildRecord, RecipeRevision, SpecRevision
from assemblies.queries.build_facts import ends_of, judgement_of

CRIMPED = ("hose", "cut", "end A", "end B")


def obstacles_to_sign(
    build: BuildRecord, judged: Judgement | None, ends: dict[str, BuildEnd]
) -> tuple[str, ...]:
    """Why a piece can't be signed as good, in the order of the bench; empty where it can."""
    if judged is None:
        return ("This piece has no sheet to be judged by: it can't be signed here.",)
    lines = (f"{line.named}: {line.sentence}" for line in judged.obstacles)
    return (*lines, *obstacles_beside(build, ends))


def obstacles_beside(build: BuildRecord, ends: dict[str, BuildEnd]) -> tuple[str, ...]:
    """What stands in the way of signing a piece beside what is judged of it."""
    return (*_first_off(build), *_withdrawn(build, ends), *_short(ends))


def said_beside(build: BuildRecord, ends: dict[str, BuildEnd]) -> tuple[str, ...]:
    """What has changed since the sheet was printed and does not forbid signing."""
    found = []
    if build.spec.state == SpecRevision.State.REPLACED:
        found.append(
            f"Revision {build.spec.number} of {build.spec.header} was replaced since this sheet "
            "was printed: ask who needs this hose whether it is still the right one."
        )
    for which, end in ends.items():
        if end.recipe is not None and end.recipe.state == RecipeRevision.State.REPLACED:
            found.append(
                f"The recipe at end {which} was revised since this sheet was printed; this piece "
                f"is judged by revision {end.recipe.number}, as printed."
            )
    position = build.sheet.position if build.sheet else None
    if position is not None and position.required_spec_id != build.spec.header_id:
        now = position.required_spec or "none"
        found.append(
            f"{position.machine}, {position} asks for the spec {now} by now, not for "
            f"{build.spec.header}: do not fit it there unasked."
        )
    return tuple(found)


def first_off_of(batch: BuildBatch) -> BuildRecord | None:
    """The piece that stands for its batch: the first that was not scrapped."""
    rows = batch.builds.filter(scrapped_reason="").order_by("place_in_batch")
    return rows.select_related("site", "sheet", "batch", "reel__hose", "crimper", "gauge").first()


def first_off_faults(piece: BuildRecord) -> tuple[str, ...]:
    """What is wrong or not written yet of the crimp of a first piece."""
    judged = judgement_of(piece, ends_of(piece))
    if judged is None:
        return ("It has no sheet to be judged by.",)
    bad = (Verdict.OUT, Verdict.MISSING)
    return tuple(
        f"{line.named}: {line.sentence}" for line in judged.of(*CRIMPED) if line.verdict in bad
    )


def _first_off(build: BuildRecord) -> Iterator[str]:
    batch = build.batch
    if batch is None or batch.quantity == 1 or batch.first_off_checked_at is not None:
        return
    first = first_off_of(batch)
    if first is None or first.pk != build.pk:
        yield "The first piece of this batch is not checked yet: check it before the rest."


def _withdrawn(build: BuildRecord, ends: dict[str, BuildEnd]) -> Iterator[str]:
    if build.spec.state == SpecRevision.State.WITHDRAWN:
        why = build.spec.withdrawal_reason
        yield f"The spec {build.spec.header} revision {build.spec.number} is withdrawn: {why}"
    for which, end in ends.items():
        recipe = end.recipe
        if recipe is not None and recipe.state == RecipeRevision.State.WITHDRAWN:
            yield f"The recipe at end {which} is withdrawn: {recipe.withdrawal_reason}"


def _short(ends: dict[str, BuildEnd]) -> Iterator[str]:
    """Lots with fewer pieces than this build takes, or withdrawn."""
    lots = [lot for end in ends.values() for lot in (end.fitting_lot, end.shell_lot) if lot]
    wanted = Counter(lot.pk for lot in lots)
    for lot in {lot.pk: lot for lot in lots}.values():
        if lot.withdrawn_at is not None:
            yield f"The lot {lot} is withdrawn ({lot.withdrawal_reason}): nothing is built from it."
        elif lot.balance < wanted[lot.pk]:
            left = f"{lot.balance.normalize():f}"
            yield f"{lot} has {left} left in stock, {wanted[lot.pk]} are used: have it counted."
