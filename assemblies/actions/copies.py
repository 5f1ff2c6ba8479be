"""Copying what is on the machine: an old hose measured, its spec drafted, or set aside."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from assemblies.actions.revisions import require_anywhere, save_clean
from assemblies.actions.specs import SPEC, SpecContent, add_spec, copy_spec
from assemblies.models import Assembly, CopyPhoto, Position, SpecCopy, SpecRevision
from fleet import audit
from fleet.actions.photos import keep_photos
from fleet.actions.refusals import Refused
from fleet.models import Person, Photo, Site
from fleet.permissions import NotAllowed, may

MEASURERS = ("build", "edit_catalogue")


@dataclass(frozen=True, slots=True)
class OldHose:
    """What was measured: where, on what, in what words; `measured` is kept word for word."""

    site: Site
    title: str
    measured: Mapping[str, Any]
    assembly: Assembly | None = None
    position: Position | None = None


@transaction.atomic
def keep_measured(
    *, old: OldHose, client_id: str = "", person: Person, at: dt.datetime
) -> SpecCopy:
    """Keep an old hose as it was measured. Atomic; told twice with one `client_id`, kept once.

    Refuses: title_missing, hose_elsewhere, position_elsewhere. Needs `build` or `edit_catalogue`
    at the site.
    """
    require_measurer(person, old.site)
    kept = _kept_before(client_id, person)
    if kept is not None:
        return kept
    if not old.title.strip():
        raise Refused("title_missing", "Say what the hose is for.", field="title")
    if old.assembly is not None and old.assembly.site_id != old.site.pk:
        raise Refused("hose_elsewhere", f"{old.assembly} belongs to another site.")
    if old.position is not None and old.position.machine.site_id != old.site.pk:
        raise Refused("position_elsewhere", f"{old.position} is at another site.")
    copy = SpecCopy(
        **{"site": old.site, "assembly": old.assembly, "position": old.position},
        **{"title": old.title.strip(), "measured": dict(old.measured), "client_id": client_id},
        **{"measured_at": at, "measured_by": person},
    )
    try:
        save_clean(copy)
    except Refused:
        kept = _kept_before(client_id, person)  # told twice at once: the other one was first
        if kept is None:
            raise
        return kept
    _tell("measured an old hose", copy, person, at, after={"measured": copy.measured})
    return copy


@transaction.atomic
def spec_from_measured(
    *,
    copy: SpecCopy,
    code: str,
    title: str,
    content: SpecContent,
    person: Person,
    at: dt.datetime,
) -> SpecRevision:
    """Draft a spec from a measured hose, its items chosen. Atomic; of two at once one wins.

    Refuses: made_already, set_aside, and what `add_spec` refuses. Needs `edit_catalogue` at the
    hose's site.
    """
    locked = _waiting(copy)
    if not may(person, SPEC.edit, locked.site_id):
        raise NotAllowed("This needs the right “edit catalogue” at this site.")
    draft = add_spec(code=code, title=title, content=content, person=person, at=at)
    locked.spec = draft
    locked.save(update_fields=["spec"])
    _tell("drafted a spec from an old hose", locked, person, at, after={"spec": str(draft)})
    return draft


@transaction.atomic
def copy_hose(
    *, assembly: Assembly, code: str, title: str, person: Person, at: dt.datetime
) -> SpecRevision:
    """Draft a spec that says what a hose's own spec says, and keep which hose it was. Atomic.

    Refuses: no_spec, and what `copy_spec` refuses. Needs `edit_catalogue` at the hose's site.
    """
    if not may(person, SPEC.edit, assembly.site_id):
        raise NotAllowed("This needs the right “edit catalogue” at this site.")
    if assembly.spec is None:
        raise Refused("no_spec", f"No spec is known of {assembly}: measure it.")
    draft = copy_spec(revision=assembly.spec, code=code, title=title, person=person, at=at)
    copy = SpecCopy(
        **{"spec": draft, "site": assembly.site, "assembly": assembly},
        **{"title": title.strip(), "measured": {"spec": str(assembly.spec)}},
        **{"measured_at": at, "measured_by": person},
    )
    save_clean(copy)
    _tell("copied a hose", copy, person, at, after={"spec": str(draft)})
    return draft


@transaction.atomic
def add_copy_photos(
    *,
    copy: SpecCopy,
    sent: "Sequence[UploadedFile[Any]]",
    caption: str = "",
    client_id: str = "",
    person: Person,
    at: dt.datetime,
) -> list[Photo]:
    """Add photos to a measured hose. Atomic: one refused photo leaves none; safe to repeat.

    Refuses: photos_missing, set_aside, what `keep_photo` refuses. Needs `build` or
    `edit_catalogue` at the site.
    """
    locked = SpecCopy.objects.select_for_update().select_related("site").get(pk=copy.pk)
    require_measurer(person, locked.site)
    if locked.withdrawn_at is not None:
        raise Refused("set_aside", f"{locked} was set aside: nothing is added to it.")
    if not sent:
        raise Refused("photos_missing", "Choose a photo, or take one.", field="photos")
    kept = keep_photos(
        site=locked.site, sent=sent, caption=caption, client_id=client_id, person=person, at=at
    )
    for photo in kept:
        CopyPhoto.objects.get_or_create(copy=locked, photo=photo)
    return kept


@transaction.atomic
def set_aside(*, copy: SpecCopy, reason: str, person: Person, at: dt.datetime) -> SpecCopy:
    """Set a measured hose aside: no spec will come of it. Atomic. It stays to be read.

    Refuses: reason_missing, made_already, set_aside. Needs `edit_catalogue` at the site, or to
    have measured it.
    """
    locked = _waiting(copy)
    if locked.measured_by_id == person.pk:
        require_measurer(person, locked.site)
    elif not may(person, SPEC.edit, locked.site_id):
        raise NotAllowed("This needs the right “edit catalogue” at this site.")
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is set aside.", field="reason")
    locked.withdrawn_at, locked.withdrawn_by = at, person
    locked.withdrawal_reason = reason.strip()[:500]
    locked.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    _tell("set aside an old hose", locked, person, at, reason=locked.withdrawal_reason)
    return locked


def require_measurer(person: Person, site: Site) -> None:
    """Whoever builds hoses or keeps the catalogue at a site may measure old ones there."""
    if not any(may(person, right, site) for right in MEASURERS):
        raise NotAllowed("This needs the right “build” or “edit catalogue” at this site.")


def require_measurer_anywhere(person: Person) -> None:
    """The same, at some site."""
    require_anywhere(person, *MEASURERS)


def _kept_before(client_id: str, person: Person) -> SpecCopy | None:
    if not client_id:
        return None
    return SpecCopy.objects.filter(measured_by=person, client_id=client_id).first()


def _waiting(copy: SpecCopy) -> SpecCopy:
    locked = SpecCopy.objects.select_for_update().get(pk=copy.pk)
    if locked.spec_id is not None:
        raise Refused("made_already", f"A spec was drafted from {locked} already.")
    if locked.withdrawn_at is not None:
        raise Refused("set_aside", f"{locked} was set aside: {locked.withdrawal_reason}")
    return locked


def _tell(
    deed: str,
    copy: SpecCopy,
    person: Person,
    at: dt.datetime,
    *,
    after: Mapping[str, Any] | None = None,
    reason: str = "",
) -> None:
    told = audit.Deed(deed, copy, copy.site, {}, dict(after or {}), reason)
    audit.record(told, actor=person, at=at)
