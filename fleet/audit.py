"""Writing the trail: with the change, in the same transaction."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import models

from fleet.models import Person, Site, TrailEntry

BATCH = 2000


@dataclass(frozen=True)
class Deed:
    """One change to be written to the trail."""

    deed: str
    subject: models.Model
    site: Site | None = None
    before: Mapping[str, Any] = field(default_factory=dict)
    after: Mapping[str, Any] = field(default_factory=dict)
    reason: str = ""


def record(deed: Deed, *, actor: Person | None, at: dt.datetime, request_id: str = "") -> None:
    """Write one deed. Call inside the transaction of the change itself."""
    _entry(deed, actor=actor, at=at, request_id=request_id).save(force_insert=True)


def record_many(
    deeds: Iterable[Deed], *, actor: Person | None, at: dt.datetime, request_id: str = ""
) -> None:
    """Write many deeds in batches. Call inside the transaction of the changes themselves."""
    entries = [_entry(deed, actor=actor, at=at, request_id=request_id) for deed in deeds]
    TrailEntry.objects.bulk_create(entries, batch_size=BATCH)


def changes(row: models.Model, after: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """The fields of `after` that differ from the row, as (before, after)."""
    differing = [name for name, value in after.items() if getattr(row, name) != value]
    return {n: getattr(row, n) for n in differing}, {n: after[n] for n in differing}


def _entry(deed: Deed, *, actor: Person | None, at: dt.datetime, request_id: str) -> TrailEntry:
    return TrailEntry(
        at=at,
        actor=actor,
        actor_label=str(actor) if actor else "Layline itself",
        site=deed.site,
        deed=deed.deed,
        subject_type=deed.subject._meta.label_lower,
        subject_id=str(deed.subject.pk),
        subject_label=str(deed.subject)[:200],
        before={name: _plain(value) for name, value in deed.before.items()},
        after={name: _plain(value) for name, value in deed.after.items()},
        reason=deed.reason,
        request_id=request_id,
    )


def _plain(value: Any) -> Any:
    if isinstance(value, models.Model):
        return str(value)
    if isinstance(value, dt.date | Decimal):
        return str(value)
    return value
