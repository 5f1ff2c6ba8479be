"""The catalogue: hose, fitting and shell items, drafted, approved, replaced and withdrawn."""

import datetime as dt
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from django.db import IntegrityError, transaction

from assemblies.actions.revisions import (
    Kind,
    approve_draft,
    locked_draft,
    new_draft,
    require_anywhere,
    set_content,
    tell,
    withdraw_revision,
)
from assemblies.calc.connections import hose_type_named, standard_end
from assemblies.models import (
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    ShellItem,
    ShellRevision,
)
from assemblies.standards import tables
from assemblies.standards.sources import Source
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import Person
from fleet.models.abstract import Revision

_NOT_A_NAME = re.compile(r"[\W\d_]+")


@transaction.atomic
def add_item(
    *, kind: Kind, code: str, facts: Mapping[str, Any], person: Person | None, at: dt.datetime
) -> Any:
    """Make an item with its first draft. Atomic. Returns the draft.

    Refuses: code_missing, code_taken, and what the draft itself is refused for (above_standard,
    source_missing, type_unknown, layers_differ, field_wrong). Needs `edit_catalogue` somewhere;
    `person` None is the register itself.
    """
    require_anywhere(person, kind.edit)
    if not text_key(code):
        raise Refused("code_missing", "An item needs the workshop's code.", field="code")
    header = kind.headers(code=code.strip())
    try:
        with transaction.atomic():
            header.save()
    except IntegrityError as error:
        raise Refused(
            "code_taken", f"There is a {kind.noun} {code.strip()} already.", field="code"
        ) from error
    draft = new_draft(kind, header, facts, person, at)
    tell(f"added {kind.noun}", draft, ({}, {"code": code.strip(), **facts}), person=person, at=at)
    return draft


@transaction.atomic
def draft_item_revision(
    *, kind: Kind, header: Any, facts: Mapping[str, Any], person: Person | None, at: dt.datetime
) -> Any:
    """Draft the next revision of an item. Atomic.

    Refuses: draft_exists, withdrawn, and what the draft itself is refused for.
    """
    require_anywhere(person, kind.edit)
    draft = new_draft(kind, header, facts, person, at)
    tell(f"drafted {kind.noun}", draft, ({}, facts), person=person, at=at)
    return draft


@transaction.atomic
def change_item_draft(
    *,
    kind: Kind,
    revision: Revision,
    facts: Mapping[str, Any],
    seen: str,
    person: Person,
    at: dt.datetime,
) -> Any:
    """Change a draft. Atomic. `seen` is the fingerprint of what the person had before them.

    Refuses: not_a_draft, changed_meanwhile, withdrawn, and what the draft is refused for.
    """
    require_anywhere(person, kind.edit)
    draft = locked_draft(kind, revision, seen)
    draft.made_by, draft.made_at = person, at
    change = set_content(kind, draft, facts)
    tell(f"changed {kind.noun}", draft, change, person=person, at=at)
    return draft


@transaction.atomic
def approve_item(
    *, kind: Kind, revision: Revision, seen: str, person: Person, at: dt.datetime
) -> Any:
    """Approve a draft; the revision approved before is replaced. Atomic; of two at once one wins.

    Refuses: not_a_draft, changed_meanwhile, withdrawn, approved_meanwhile. Needs `approve_specs`.
    """
    require_anywhere(person, kind.approve)
    draft = locked_draft(kind, revision, seen)
    approve_draft(kind, draft, person, at)
    return draft


@transaction.atomic
def withdraw_item_revision(
    *, kind: Kind, revision: Revision, reason: str, person: Person, at: dt.datetime
) -> Any:
    """Withdraw a revision for good. Atomic. Refuses: reason_missing, withdrawn_already."""
    return withdraw_revision(kind, revision, reason=reason, person=person, at=at)


def prepare_hose(hose: HoseRevision) -> None:
    """Name the type as the table does, and the source of the rating, or refuse the draft."""
    kind = hose_type_named(hose.standard_type) if hose.standard_type.strip() else None
    if kind is None and hose.standard_type.strip():
        known = ", ".join(row.type for row in tables.hose_types())
        raise Refused(
            "type_unknown",
            f"“{hose.standard_type}” is none of {known}: leave it empty for a hose outside these, "
            "and give its maker's data.",
            field="standard_type",
        )
    hose.standard_type = kind.type if kind else ""
    if kind is not None and kind.layers is not None and kind.layers != hose.layers:
        raise Refused(
            "layers_differ",
            f"{kind.type} has {kind.layers} layers, not {hose.layers}.",
            field="layers",
        )
    row = tables.hose_pressure(hose.standard_type, hose.size_dn)
    printed = (row.working_pressure_bar, row.source) if row else None
    name = f"{hose.standard_type or 'this hose'} DN{hose.size_dn}"
    hose.rating_source = rating_source(name, hose.working_pressure_bar, hose.rating_source, printed)


def prepare_fitting(fitting: FittingRevision) -> None:
    """Name the source of the rating, or refuse the draft. A rating may still be unknown."""
    if fitting.working_pressure_bar is None:
        fitting.rating_source = ""
        return
    row = standard_end(fitting.connection, fitting.connection_size)
    printed = (row.working_pressure_bar, row.source) if row else None
    fitting.rating_source = rating_source(
        f"{fitting.connection} {fitting.connection_size}",
        fitting.working_pressure_bar,
        fitting.rating_source,
        printed,
    )


def rating_source(
    name: str, stated_bar: Decimal, source: str, printed: tuple[Decimal, Source] | None
) -> str:
    """The document behind a stated rating. Above a standard's row it must be another than that.

    Refuses: above_standard, source_missing.
    """
    stated = Decimal(str(stated_bar))
    if printed is not None and stated > printed[0] and _names_only(source, printed[1]):
        raise Refused(
            "above_standard",
            f"{printed[1]} gives {name} {printed[0]} bar: {stated.normalize():f} bar is above it. "
            "Name the maker's document that says so.",
            field="rating_source",
        )
    if source.strip():
        return source.strip()
    if printed is not None and stated == printed[0]:
        return str(printed[1])
    raise Refused(
        "source_missing",
        f"Name the document that rates {name} at {stated.normalize():f} bar.",
        field="rating_source",
    )


def _names_only(text: str, standard: Source) -> bool:
    """Whether a text names the standard itself, and nothing beside it."""
    left = text_key(text)
    for part in (*standard.document.split(","), standard.edition, "edition"):
        left = left.replace(text_key(part), " ")
    return not _NOT_A_NAME.sub("", left)


_RIGHTS: Final = ("edit_catalogue", "approve_specs")
_SOURCE: Final = frozenset({"rating_source"})
HOSE: Final = Kind(HoseItem, HoseRevision, "hose item", *_RIGHTS, prepare_hose, _SOURCE)
FITTING: Final = Kind(
    FittingItem, FittingRevision, "fitting item", *_RIGHTS, prepare_fitting, _SOURCE
)
SHELL: Final = Kind(ShellItem, ShellRevision, "shell item", *_RIGHTS)
KINDS: Final[Mapping[str, Kind]] = {"hose": HOSE, "fitting": FITTING, "shell": SHELL}
