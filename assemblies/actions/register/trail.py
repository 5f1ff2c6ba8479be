"""The trail of an import: one entry for each thing made or changed, written in bulk."""

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from django.db import models

from fleet.models import Person, Site, TrailEntry
from fleet.models.batches import insert_rows, json_value, moment_value

_COLUMNS = (
    *("at", "actor_id", "actor_label", "site_id", "reason"),
    *("deed", "subject_type", "subject_id", "subject_label", "before", "after"),
)


class Noted(NamedTuple):
    """One thing that the import made or changed. Texts of JSON are written as they are."""

    deed: str
    model: type[models.Model]
    pk: int
    label: str
    after: Mapping[str, Any] | str
    before: Mapping[str, Any] | None = None


def write_trail(
    noted: Iterable[Noted], *, site: Site, person: Person | None, at: dt.datetime, reason: str
) -> None:
    """Write the entries. Call inside the transaction of the changes themselves."""
    moment = moment_value(TrailEntry, at)
    actor = (person.pk, str(person)) if person else (None, "Layline itself")
    head = (moment, *actor, site.pk, reason[:500])
    insert_rows(TrailEntry, _COLUMNS, (_row(head, entry) for entry in noted))


def _row(head: tuple[Any, ...], noted: Noted) -> tuple[Any, ...]:
    return (
        *head,
        noted.deed,
        noted.model._meta.label_lower,
        str(noted.pk),
        noted.label[:200],
        json_value(noted.before) if noted.before else "{}",
        noted.after if isinstance(noted.after, str) else json_value(noted.after),
    )
