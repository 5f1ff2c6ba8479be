"""A build sheet's content from a spec, its recipes and what it is wanted for; sheets as issued."""

import datetime as dt
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace

from assemblies.calc.sheet import Basis, ProofTest, SheetContent, from_json
from assemblies.calc.sheet_steps import steps_for
from assemblies.calc.sheet_words import bars
from assemblies.calc.tags import NotATag, check_tag
from assemblies.models import (
    Assembly,
    FrozenSheet,
    Position,
    SpecRevision,
    Stay,
)
from assemblies.queries.capability import notes_for
from assemblies.queries.obstacles import Obstacle
from assemblies.queries.parts import SpecParts, parts_of
from assemblies.queries.ratings import RatingFacts, rating_of
from assemblies.queries.sheet_lines import (
    end_line,
    hose_line,
    length_line,
    orientation_line,
    pressure_line,
    sleeve_lines,
)
from assemblies.queries.spec_lengths import length_facts
from fleet.calc.keys import text_key
from fleet.models import Machine, Person, Site
from fleet.navigation import alarms_for
from fleet.pdf.qr import usable_link

MOST_PIECES = 200
_PROOF_SOURCE = "2 × working pressure: SAE J343, ISO 6605."


@dataclass(frozen=True, slots=True)
class SheetOrder:
    """What a sheet is wanted for: how many, where they will sit, by when.

    `machine` is for a sheet that serves several positions of one machine, as in its hose book.
    """

    site: Site
    quantity: int = 1
    position: Position | None = None
    machine: Machine | None = None
    need_by: dt.date | None = None
    job: str = ""


def sheet_obstacle(parts: SpecParts) -> Obstacle | None:
    """What forbids a sheet altogether. A missing recipe does not: the sheet says so in words."""
    spec = parts.spec
    if spec.state != "approved":
        state = spec.get_state_display()
        sentence = f"Revision {spec.number} of {spec.header} is {state}: no sheet is drawn from it."
        return Obstacle("spec_not_approved", sentence)
    if parts.hose is None or len(parts.ends) < 2:
        return Obstacle("parts_missing", f"{spec.header} has no hose that counts, or not two ends.")
    facts = length_facts(parts)
    if facts.tolerance is None:
        return Obstacle("tolerance_unknown", facts.tolerance_problem)
    return None


def sheet_content(
    parts: SpecParts, order: SheetOrder, *, number: str, drawn_on: dt.date, address: str, job: str
) -> SheetContent:
    """Freeze what a sheet says. `address` is the register's own, `job` the path of the sheet.

    Call `sheet_obstacle` first. Both ends must stand, else ValueError.
    """
    lengths, rating = length_facts(parts), rating_of(parts)
    length = length_line(lengths)
    if parts.hose is None or length is None:
        raise ValueError(f"{parts.spec} cannot be put on a sheet: look for obstacles first.")
    near, far = (
        end_line(parts, end, point)
        for end, point in zip(parts.ends, (lengths.near_point, lengths.far_point), strict=True)
    )
    spec = parts.spec
    content = SheetContent(
        number=number,
        drawn_on=drawn_on,
        title=spec.header.title,
        spec_code=spec.header.code,
        spec_revision=spec.number,
        description="",
        quantity=order.quantity,
        hose=hose_line(parts.hose),
        ends=(near, far),
        length=length,
        orientation=orientation_line(parts, lengths),
        sleeves=sleeve_lines(parts),
        pressure=pressure_line(rating),
        test=_proof(parts, rating, order.site),
        cleanliness=spec.cleanliness,
        alerts=tuple(_alerts(parts, order)),
        notes=spec.note,
        stamp_lines=_stamp_lines(rating, order.site, drawn_on),
        spec_link=usable_link(f"{address}/S/{spec.pk}"),
        job_link=usable_link(f"{address}{job}"),
    )
    return _wanted_for(replace(content, steps=steps_for(content)), order)


def _wanted_for(content: SheetContent, order: SheetOrder) -> SheetContent:
    place, machine = order.position, _machine_of(order)
    return replace(
        content,
        machine=str(machine) if machine else "",
        position=str(place) if place else "",
        need_by=order.need_by,
        job=order.job,
    )


def _proof(parts: SpecParts, rating: RatingFacts, site: Site) -> ProofTest:
    spec = parts.spec
    known = rating.rating.proof_bar if rating.rating else None
    hold = (spec.test_hold_s, spec.test_hold_s) if spec.test_hold_s else (30, 60)
    unmatched = any(end.recipe and end.recipe.basis == Basis.TRIAL for end in parts.ends)
    return ProofTest(
        pressure_bar=spec.test_pressure_bar or known,
        policy=_test_policy(site, unmatched=unmatched),
        hold_from_s=hold[0],
        hold_to_s=hold[1],
        source="Pressure as the specification asks." if spec.test_pressure_bar else _PROOF_SOURCE,
    )


def _test_policy(site: Site, *, unmatched: bool) -> str:
    if unmatched:
        return "Every piece: the parts are unmatched."
    if site.proof_test == "one_in_n":
        return f"One piece in {site.proof_test_one_in}, as the site asks."
    return "None is asked by the site." if site.proof_test == "none" else "Every piece."


def _stamp_lines(rating: RatingFacts, site: Site, day: dt.date) -> tuple[str, ...]:
    mark = site.assembler_mark or site.code
    pressure = bars(rating.rating.working_pressure_bar) if rating.rating else "____ bar"
    return f"{mark} / {pressure} / {day:%y%m}", "tag: ________"


def _alerts(parts: SpecParts, order: SheetOrder) -> Iterator[str]:
    """What must stand on the sheet in large letters."""
    approved = [end for end in parts.ends if end.recipe and end.recipe.state == "approved"]
    unmatched = [end.end.which for end in approved if end.recipe and end.recipe.basis == "trial"]
    if unmatched:
        yield (
            f"UNMATCHED at end {' and '.join(unmatched)}: no published chart names these parts "
            "together. Built on an approved trial recipe; shorter life, first inspection early."
        )
    for end in approved:
        recipe = end.recipe
        if recipe and recipe.made_by_id is not None and recipe.made_by_id == recipe.approved_by_id:
            yield f"The recipe of end {end.end.which} was made and approved by one person alone."
    yield from _run_notes(parts, order.site)
    machine = _machine_of(order)
    if machine is not None:
        yield from machine_alerts(machine)


def _machine_of(order: SheetOrder) -> Machine | None:
    return order.position.machine if order.position else order.machine


def _run_notes(parts: SpecParts, site: Site) -> Iterator[str]:
    """What the last crimps by the recipes of this sheet warn of."""
    recipes = {
        end.recipe.pk: end.recipe
        for end in parts.ends
        if end.recipe and end.recipe.state == "approved"
    }
    for pk, recipe in recipes.items():
        at = [end.end.which for end in parts.ends if end.recipe and end.recipe.pk == pk]
        for note in notes_for(recipe, site_ids={site.pk}):
            yield f"End {' and '.join(at)}: {note}"


def machine_alerts(machine: Machine) -> list[str]:
    """What every paper of a machine says: hoses to take out now, conditional releases."""
    return [alarm.on_paper for alarm in alarms_for(machine.pk)]


def approved_spec_of(position: Position) -> SpecRevision | None:
    """The approved revision of the spec that a position requires."""
    if position.required_spec_id is None:
        return None
    found = SpecRevision.objects.filter(header=position.required_spec_id, state="approved")
    revision: SpecRevision | None = found.select_related("header", "hose").first()
    return revision


def spec_revision_numbered(spec_id: int, number: int | None = None) -> SpecRevision | None:
    """A revision of a spec: the approved one, or the one of a number."""
    found = SpecRevision.objects.filter(header=spec_id).select_related("header", "hose")
    found = found.filter(state="approved") if number is None else found.filter(number=number)
    return found.first()


def spec_revision_coded(revision_id: int) -> SpecRevision | None:
    """The revision that a code on a sheet speaks of."""
    return SpecRevision.objects.filter(pk=revision_id).first()


def hose_tagged(typed: str) -> Assembly | None:
    """The hose with this own tag, of whatever site; for commands, which see all."""
    try:
        code = check_tag(typed)
    except NotATag:
        return None
    found = Assembly.objects.filter(tag=code, withdrawn_at=None)
    return found.select_related("site", "spec__header", "spec__hose").first()


def spec_coded(code: str) -> SpecRevision | None:
    """The approved revision of the spec with this code."""
    found = SpecRevision.objects.filter(header__code_key=text_key(code), state="approved")
    return found.select_related("header", "hose").first()


def spec_for_hose(hose: Assembly) -> tuple[SpecRevision | None, Position | None]:
    """What to build another like this hose by, and where it sits: the spec that counts now."""
    stay = Stay.objects.filter(assembly=hose, is_open=True).select_related("position__machine")
    position = next((one.position for one in stay if one.position), None)
    if hose.spec is not None:
        found = SpecRevision.objects.filter(header=hose.spec.header_id, state="approved")
        return found.select_related("header", "hose").first() or hose.spec, position
    return (approved_spec_of(position), position) if position else (None, None)


def content_of(sheet: FrozenSheet) -> SheetContent:
    """The content of a sheet as it was issued."""
    return from_json(json.dumps(sheet.content))


def sheet_for(person: Person, site_id: int, number: int) -> FrozenSheet | None:
    """The sheet of this number at a site, where the person may see it."""
    found = FrozenSheet.objects.visible_to(person).filter(site_id=site_id, number=number)
    sheet: FrozenSheet | None = found.select_related("site", "spec__header", "issued_by").first()
    return sheet


def parts_for_sheet(spec: SpecRevision) -> SpecParts:
    """The parts of one spec revision."""
    return parts_of([spec])[spec.pk]
