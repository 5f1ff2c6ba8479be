"""Assembly specs: drafted, changed, copied, approved, replaced, withdrawn, and required."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from django.db import IntegrityError, transaction

from assemblies.actions.positions import change_position
from assemblies.actions.revisions import (
    Kind,
    approve_draft,
    content_of,
    locked_draft,
    new_draft,
    require_anywhere,
    save_clean,
    set_content,
    tell,
    withdraw_revision,
)
from assemblies.models import (
    AssemblySpec,
    FittingItem,
    Position,
    ShellItem,
    SpecEnd,
    SpecRevision,
    SpecSleeve,
)
from assemblies.queries.obstacles import (
    Obstacle,
    approval_obstacles,
    asks_too_much,
    draft_obstacles,
)
from assemblies.queries.parts import parts_of
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import Person

MOST_SLEEVES = 8


@dataclass(frozen=True, slots=True)
class EndChoice:
    """What one end is made with."""

    fitting: FittingItem
    shell: ShellItem | None = None


@dataclass(frozen=True, slots=True)
class Sleeve:
    """A sleeve, guard or spring, from and to in mm from end A; to None: the whole hose."""

    kind: str
    from_mm: Decimal = Decimal(0)
    to_mm: Decimal | None = None


@dataclass(frozen=True, slots=True)
class SpecContent:
    """All that a spec says: its own facts, its two ends, its sleeves."""

    facts: Mapping[str, Any]
    near: EndChoice
    far: EndChoice
    sleeves: tuple[Sleeve, ...] = field(default=())


@transaction.atomic
def add_spec(
    *, code: str, title: str, content: SpecContent, person: Person | None, at: dt.datetime
) -> SpecRevision:
    """Make a spec with its first draft. Atomic.

    Refuses: code_missing, title_missing, code_taken, tail_differs, shell_differs,
    shell_too_many, angle_meaningless, tolerance_half, sleeves_too_many, field_wrong.
    Needs `edit_catalogue` somewhere.
    """
    require_anywhere(person, SPEC.edit)
    header = _new_header(code, title)
    draft = _drafted(header, content, person, at)
    after = {"code": header.code, "title": header.title, **SPEC.content(draft)}
    tell("added spec", draft, ({}, after), person=person, at=at)
    return draft


@transaction.atomic
def copy_spec(
    *, revision: SpecRevision, code: str, title: str, person: Person, at: dt.datetime
) -> SpecRevision:
    """Make a new spec whose first draft says what a revision says. Atomic.

    Refuses: code_missing, title_missing, code_taken.
    """
    require_anywhere(person, SPEC.edit)
    draft = _drafted(_new_header(code, title), content_again(revision), person, at)
    tell("copied spec", draft, ({"from": str(revision)}, {"code": code}), person=person, at=at)
    return draft


@transaction.atomic
def draft_spec_revision(
    *, header: AssemblySpec, content: SpecContent, person: Person | None, at: dt.datetime
) -> SpecRevision:
    """Draft the next revision of a spec. Atomic.

    Refuses: draft_exists, withdrawn, and what the draft is refused for in `add_spec`.
    """
    require_anywhere(person, SPEC.edit)
    draft = _drafted(header, content, person, at)
    tell("drafted spec", draft, ({}, SPEC.content(draft)), person=person, at=at)
    return draft


@transaction.atomic
def change_spec_draft(
    *, revision: SpecRevision, content: SpecContent, seen: str, person: Person, at: dt.datetime
) -> SpecRevision:
    """Change a draft. Atomic. `seen` is the fingerprint of what the person had before them.

    Refuses: not_a_draft, changed_meanwhile, withdrawn, and what the draft is refused for.
    """
    require_anywhere(person, SPEC.edit)
    draft: SpecRevision = locked_draft(SPEC, revision, seen)
    was = SPEC.content(draft)
    draft.made_by, draft.made_at = person, at
    set_content(SPEC, draft, content.facts)
    draft.ends.all().delete()  # parts of a draft: the database keeps those of a sealed revision
    draft.sleeves.all().delete()
    _write_parts(draft, content)
    now = SPEC.content(draft)
    differing = [name for name in now if was[name] != now[name]]
    change = ({name: was[name] for name in differing}, {name: now[name] for name in differing})
    tell("changed spec", draft, change, person=person, at=at)
    return draft


@transaction.atomic
def approve_spec(
    *, revision: SpecRevision, seen: str, person: Person, at: dt.datetime
) -> SpecRevision:
    """Approve a draft; the revision approved before is replaced. Atomic; of two at once one wins.

    Refuses: below_duty (a position asks more than it bears), rating_unknown, part_not_approved,
    shell_missing, allowance_missing, basis_mismatch, too_short, tolerance_unknown,
    angle_missing, sleeve_too_long, test_out_of_range, approves_alone, not_a_draft,
    changed_meanwhile, approved_meanwhile. Needs `approve_specs` somewhere.
    """
    require_anywhere(person, SPEC.approve)
    draft: SpecRevision = locked_draft(SPEC, revision, seen)
    for obstacle in approval_obstacles(parts_of([draft])[draft.pk], person):
        raise _refused(obstacle)
    approve_draft(SPEC, draft, person, at)
    return draft


@transaction.atomic
def withdraw_spec_revision(
    *, revision: SpecRevision, reason: str, person: Person, at: dt.datetime
) -> SpecRevision:
    """Withdraw a revision for good. Atomic. Refuses: reason_missing, withdrawn_already."""
    found: SpecRevision = withdraw_revision(SPEC, revision, reason=reason, person=person, at=at)
    return found


@transaction.atomic
def require_spec(
    *,
    position: Position,
    spec: AssemblySpec | None,
    version: int,
    person: Person,
    at: dt.datetime,
) -> Position:
    """Say which spec a position requires, or that it requires none. Atomic.

    Refuses: below_duty (the approved revision bears less than the position asks), withdrawn,
    changed_meanwhile. Needs `edit_machines` at the position's site. Sends `position_changed`.
    """
    if spec is not None:
        AssemblySpec.objects.select_for_update().get(pk=spec.pk)
        if spec.withdrawn_at is not None:
            raise Refused("withdrawn", f"The spec {spec} is withdrawn.", field="required_spec")
        obstacle = asks_too_much(position, spec)
        if obstacle is not None:
            raise _refused(obstacle)
    return change_position(
        position=position, facts={"required_spec": spec}, version=version, person=person, at=at
    )


def content_again(revision: SpecRevision) -> SpecContent:
    """What a revision says, to be drafted again."""
    skipped = {"change_note"}
    names = [name for name in content_of(revision) if name not in skipped]
    ends = {end.which: EndChoice(end.fitting, end.shell) for end in _ends(revision)}
    sleeves = tuple(Sleeve(one.kind, one.from_mm, one.to_mm) for one in revision.sleeves.all())
    facts = {name: getattr(revision, name) for name in names}
    return SpecContent(facts, ends["A"], ends["B"], sleeves)


def spec_content(revision: SpecRevision) -> dict[str, Any]:
    """All that a revision says, as plain values: what approval is given to."""
    ends = {
        f"end_{end.which}": f"{end.fitting} {end.shell or ''}".strip() for end in _ends(revision)
    }
    sleeves = [f"{one.kind} {one.from_mm}–{one.to_mm or 'end'}" for one in revision.sleeves.all()]
    return {**content_of(revision), **ends, "sleeves": sleeves}


def _ends(revision: SpecRevision) -> list[SpecEnd]:
    return list(SpecEnd.objects.filter(spec=revision).select_related("fitting", "shell"))


def _new_header(code: str, title: str) -> AssemblySpec:
    if not text_key(code):
        raise Refused("code_missing", "A spec needs a code.", field="code")
    if not title.strip():
        raise Refused("title_missing", "Say what the spec is for.", field="title")
    header = AssemblySpec(code=code.strip(), title=title.strip())
    try:
        with transaction.atomic():
            header.save()
    except IntegrityError as error:
        raise Refused(
            "code_taken", f"There is a spec {code.strip()} already.", field="code"
        ) from error
    return header


def _drafted(
    header: AssemblySpec, content: SpecContent, person: Person | None, at: dt.datetime
) -> SpecRevision:
    draft = new_draft(SPEC, header, content.facts, person, at)
    assert isinstance(draft, SpecRevision)
    _write_parts(draft, content)
    return SpecRevision.objects.select_related("header", "hose").get(pk=draft.pk)


def _write_parts(draft: SpecRevision, content: SpecContent) -> None:
    """Write the ends and sleeves of a draft, then refuse what can't go together."""
    if len(content.sleeves) > MOST_SLEEVES:
        raise Refused(
            "sleeves_too_many", f"A spec has {MOST_SLEEVES} sleeves at most.", field="sleeves"
        )
    for which, choice in (("A", content.near), ("B", content.far)):
        save_clean(SpecEnd(spec=draft, which=which, fitting=choice.fitting, shell=choice.shell))
    for number, one in enumerate(content.sleeves, start=1):
        save_clean(
            SpecSleeve(
                spec=draft, number=number, kind=one.kind, from_mm=one.from_mm, to_mm=one.to_mm
            )
        )
    saved = SpecRevision.objects.select_related("header", "hose").get(pk=draft.pk)
    for obstacle in draft_obstacles(parts_of([saved])[saved.pk]):
        raise _refused(obstacle)


def _refused(obstacle: Obstacle) -> Refused:
    return Refused(obstacle.code, obstacle.sentence, field=obstacle.field)


SPEC: Final = Kind(
    AssemblySpec,
    SpecRevision,
    "spec",
    "edit_catalogue",
    "approve_specs",
    content=spec_content,
    two_people=True,
)
