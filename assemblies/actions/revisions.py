"""How everything that is revised is drafted, approved, replaced and withdrawn.

A draft may be changed; from its approval on, the database itself keeps its content. Approving
replaces the revision that was approved before, in the same transaction.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from fleet.models.abstract import Revision
from fleet.permissions import NotAllowed, may_anywhere

_KEPT_BESIDE: Final = frozenset(
    {"id", "header", "number", "state", "made_by", "made_at", "approved_by", "approved_at"}
    | {"withdrawn_at", "withdrawn_by", "withdrawal_reason"}
)


def require_anywhere(person: Person | None, *capabilities: str) -> None:
    """What all sites share is changed by whoever has one of the rights at some site."""
    if person is None or any(may_anywhere(person, name) for name in capabilities):
        return
    needed = " or ".join(f"“{name.replace('_', ' ')}”" for name in capabilities)
    raise NotAllowed(f"This needs the right {needed}.")


def content_fields(revision: Revision) -> list[str]:
    """The fields that say what the thing is, without who did what when."""
    fields = revision._meta.concrete_fields
    return [field.name for field in fields if field.name not in _KEPT_BESIDE]


def content_of(revision: Revision) -> dict[str, Any]:
    """The content of a revision by its fields."""
    return {name: _plain(getattr(revision, name)) for name in content_fields(revision)}


def leave(_revision: Any) -> None:
    """Nothing to make ready."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of revised thing: its tables, its name, who may edit and who may approve.

    `prepare` completes a draft before it is saved (the columns of `completes`), or refuses it;
    `content` tells all that it says, parts included; with `two_people` the one who drafted it
    doesn't approve it alone.
    """

    headers: Any  # the model classes: each revision model has its own `header`
    revisions: Any
    noun: str
    edit: str
    approve: str
    prepare: Callable[[Any], None] = leave
    completes: frozenset[str] = frozenset()
    content: Callable[[Any], dict[str, Any]] = content_of
    two_people: bool = False

    def fingerprint(self, revision: Revision) -> str:
        """A short digest of the content: who changes or approves it names what they saw."""
        plain = json.dumps(self.content(revision), sort_keys=True, ensure_ascii=True, default=str)
        return hashlib.sha256(plain.encode("ascii")).hexdigest()[:20]


def new_draft(
    kind: Kind,
    header: models.Model,
    facts: Mapping[str, Any],
    person: Person | None,
    at: dt.datetime,
) -> Revision:
    """The next draft of a header. Call inside a transaction. Refuses: draft_exists, withdrawn."""
    kind.headers.objects.select_for_update().get(pk=header.pk)
    _refuse_withdrawn(kind, header)
    earlier = kind.revisions.objects.filter(header=header).order_by("-number")
    open_draft = earlier.filter(state=Revision.State.DRAFT).first()
    if open_draft is not None:
        raise Refused(
            "draft_exists",
            f"Revision {open_draft.number} of {kind.noun} {header} is a draft: change that one.",
        )
    last = earlier.first()
    draft: Revision = kind.revisions(
        header=header, number=last.number + 1 if last else 1, made_by=person, made_at=at, **facts
    )
    _save_prepared(kind, draft)
    return draft


def locked_draft(kind: Kind, revision: Revision, seen: str) -> Any:
    """The draft as it stands, locked. Refuses: not_a_draft, changed_meanwhile, withdrawn."""
    header: Any = kind.headers.objects.select_for_update().get(pk=_header_id(revision))
    _refuse_withdrawn(kind, header)
    found: Any = kind.revisions.objects.select_for_update().get(pk=revision.pk)
    if found.state != Revision.State.DRAFT:
        raise Refused(
            "not_a_draft",
            f"Revision {found.number} is {found.get_state_display()}: draft a new one.",
        )
    if kind.fingerprint(found) != seen:
        raise Refused(
            "changed_meanwhile", f"Someone changed this {kind.noun} meanwhile: look again."
        )
    return found


def set_content(
    kind: Kind, draft: Revision, facts: Mapping[str, Any]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Set the facts of a locked draft and save it; what differed, before and after."""
    known = content_fields(draft)
    before, after = audit.changes(draft, {k: v for k, v in facts.items() if k in known})
    for name, value in after.items():
        setattr(draft, name, value)
    _save_prepared(kind, draft)
    return before, after


def approve_draft(kind: Kind, draft: Revision, person: Person, at: dt.datetime) -> int | None:
    """Approve a locked draft; the number of the revision it replaces. Of two at once one wins.

    Refuses: approves_alone, approved_meanwhile.
    """
    _refuse_alone(kind, draft, person)
    approved = kind.revisions.objects.filter(
        header_id=_header_id(draft), state=Revision.State.APPROVED
    )
    replaced = approved.first()
    draft.state, draft.approved_by, draft.approved_at = Revision.State.APPROVED, person, at
    try:
        with transaction.atomic():
            approved.update(state=Revision.State.REPLACED)
            draft.save(update_fields=["state", "approved_by", "approved_at"])
    except IntegrityError as error:
        raise Refused(
            "approved_meanwhile", f"Another revision of this {kind.noun} was approved meanwhile."
        ) from error
    after = {"revision": draft.number, "replaces": replaced and replaced.number}
    deed = audit.Deed(f"approved {kind.noun}", draft, None, {"state": "draft"}, after)
    audit.record(deed, actor=person, at=at)
    return replaced.number if replaced else None


def withdraw_revision(
    kind: Kind, revision: Revision, *, reason: str, person: Person | None, at: dt.datetime
) -> Any:
    """Withdraw a revision for good; call inside a transaction. Drafts by who edits them.

    Refuses: reason_missing, withdrawn_already.
    """
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is withdrawn.", field="reason")
    kind.headers.objects.select_for_update().get(pk=_header_id(revision))
    found: Any = kind.revisions.objects.select_for_update().get(pk=revision.pk)
    is_draft = found.state == Revision.State.DRAFT
    require_anywhere(person, *([kind.edit] if is_draft else []), kind.approve, "withdraw")
    if found.state == Revision.State.WITHDRAWN:
        raise Refused("withdrawn_already", f"Revision {found.number} is withdrawn already.")
    before = {"state": found.state}
    found.state, found.withdrawn_at, found.withdrawn_by = "withdrawn", at, person
    found.withdrawal_reason = reason.strip()[:500]
    found.save(update_fields=["state", "withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    deed = audit.Deed(f"withdrew {kind.noun}", found, None, before, {"state": "withdrawn"}, reason)
    audit.record(deed, actor=person, at=at)
    return found


def _save_prepared(kind: Kind, draft: Revision) -> None:
    refuse_wrong_fields(draft, without=kind.completes)
    kind.prepare(draft)
    save_clean(draft)


def refuse_wrong_fields(row: models.Model, *, without: frozenset[str] = frozenset()) -> None:
    """Refuse what is wrong with one field, naming it."""
    try:
        row.full_clean(_KEPT_BESIDE | without, validate_unique=False, validate_constraints=False)
    except ValidationError as error:
        name, messages = next(iter(error.message_dict.items()))
        raise Refused("field_wrong", f"{_label(row, name)}: {messages[0]}", field=name) from error


def save_clean(row: models.Model) -> None:
    """Check a row's fields and save it; what is wrong with it is refused with its field."""
    refuse_wrong_fields(row)
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as error:
        raise Refused("does_not_fit", _broken_rule(row, str(error))) from error


def _refuse_alone(kind: Kind, draft: Revision, person: Person) -> None:
    if not kind.two_people or draft.made_by_id != person.pk:
        return
    alone = Site.objects.filter(approves_alone=True, withdrawn_at=None)
    if not any(kind.approve in person.capabilities_at(site.pk) for site in alone):
        raise Refused(
            "approves_alone",
            f"You drafted this {kind.noun}: someone else approves it, "
            "unless a site of yours says that its people approve alone.",
        )


def _refuse_withdrawn(kind: Kind, header: models.Model) -> None:
    if getattr(header, "withdrawn_at", None) is not None:
        raise Refused("withdrawn", f"The {kind.noun} {header} is withdrawn.")


def _header_id(revision: Revision) -> int:
    return int(revision.header_id)  # type: ignore[attr-defined]  # every concrete revision has one


def _broken_rule(row: models.Model, error: str) -> str:
    """The database's rules are named in words: say which one what is written breaks."""
    names = [rule.name for rule in row._meta.constraints if rule.name in error]
    rule = names[0].replace("_", " ") if names else "one thing of a kind"
    return f"What is written breaks a rule: {rule}."


def _label(row: models.Model, name: str) -> str:
    try:
        return str(getattr(row._meta.get_field(name), "verbose_name", name)).capitalize()
    except LookupError:
        return "This"


def tell(
    deed: str,
    draft: models.Model,
    change: tuple[Mapping[str, Any], Mapping[str, Any]],
    *,
    person: Person | None,
    at: dt.datetime,
) -> None:
    """Write a change to the trail: it is of no one site."""
    audit.record(audit.Deed(deed, draft, None, *change), actor=person, at=at)


def _plain(value: Any) -> Any:
    return value.pk if isinstance(value, models.Model) else value
