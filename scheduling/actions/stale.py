"""Marks of what must be worked out again: raised with the change, lowered after the work."""

import datetime as dt
import logging
from collections.abc import Callable, Iterable, Sequence
from typing import Final

from django.db import DatabaseError, connection
from django.db.models import F

from fleet.actions.statistics import freshen_statistics
from fleet.models import Site
from scheduling.actions.due_dates import (
    Refreshed,
    StillChanging,
    refresh_all,
    refresh_assemblies,
    refresh_machines,
    refresh_site,
)
from scheduling.models import StaleMark

log = logging.getLogger(__name__)

AT_ONCE: Final = 4  # this many subjects are worked out in the request itself
TOO_MANY: Final = 2000  # beyond this one mark on everything is cheaper than one on each
EVERYTHING: Final = StaleMark.Subject.EVERYTHING
_SMALL: Final = (StaleMark.Subject.MACHINE, StaleMark.Subject.ASSEMBLY)
_TABLE: Final = StaleMark._meta.db_table


def mark_stale(*, subject: str, ids: Iterable[int], at: dt.datetime) -> None:
    """Raise a mark on each subject, in the transaction of the change.

    The mark's row also makes changes to one subject wait for each other, so that the later sees
    what the earlier did.
    """
    wanted = sorted(set(ids)) if subject != EVERYTHING else [0]
    if len(wanted) > TOO_MANY:
        subject, wanted = EVERYTHING, [0]
    _mark(subject, wanted, at, done=False)


def _mark(subject: str, ids: Sequence[int], at: dt.datetime, *, done: bool) -> None:
    """One change more of each subject; `done` where this transaction works it out itself."""
    if not ids:
        return
    settled = f", done_generation = {_TABLE}.generation + 1" if done else ""
    sql = (
        f"INSERT INTO {_TABLE} (subject, subject_id, generation, done_generation, since_at)"
        f" VALUES {', '.join([f'(%s, %s, 1, {int(done)}, %s)'] * len(ids))}"
        " ON CONFLICT (subject, subject_id)"
        f" DO UPDATE SET generation = {_TABLE}.generation + 1{settled}, since_at = CASE"
        f" WHEN {_TABLE}.generation > {_TABLE}.done_generation THEN {_TABLE}.since_at"
        " ELSE excluded.since_at END"
    )
    field = StaleMark._meta.get_field("since_at")
    moment = connection.ops.adapt_datetimefield_value(field.get_prep_value(at))
    with connection.cursor() as cursor:
        cursor.execute(sql, [part for one in ids for part in (str(subject), one, moment)])


def work_off_now(*, subject: str, ids: Iterable[int], at: dt.datetime) -> bool:
    """Mark a few subjects and work them out within the request that changed them.

    Each mark is raised and lowered in one step, which is seen by others only with the work. Should
    that fail, or are they too many, the change itself stands, the marks are up, and False is
    returned: the sweep does it.
    """
    wanted = sorted(set(ids))
    if len(wanted) > AT_ONCE or subject not in _SMALL:
        mark_stale(subject=subject, ids=wanted, at=at)
        return False
    _mark(subject, wanted, at, done=True)
    try:
        if wanted:
            _refresh(subject, wanted)
    except (DatabaseError, StillChanging):
        log.exception("dues of %s %s are left to the sweep", subject, wanted)
        mark_stale(subject=subject, ids=wanted, at=at)
        return False
    return True


def work_off_marks(*, most: int = 500) -> int:
    """Work out what is marked, the oldest marks first. Safe to repeat and to run twice at once.

    Returns how many marks were lowered. A mark raised again meanwhile stays up.
    """
    lowered = 0
    while marks := _raised(most):
        before = lowered
        everything = [mark for mark in marks if mark.subject == EVERYTHING]
        if everything:
            known = _raised(None)
            refresh_all()
            lowered += _lower(known)
            continue
        for subject in sorted({mark.subject for mark in marks}):
            own = [mark for mark in marks if mark.subject == subject]
            _refresh(subject, [mark.subject_id for mark in own])
            lowered += _lower(own)
        if lowered == before:
            break
    return lowered


def refresh_everything(*, progress: Callable[[int, int], None] | None = None) -> Refreshed:
    """The whole run: lowers every mark that stood when it began."""
    known = _raised(None)
    refreshed = refresh_all(progress=progress)
    _lower(known)
    freshen_statistics()
    return refreshed


def marks_up() -> bool:
    """Whether anything is marked stale."""
    return StaleMark.objects.filter(generation__gt=F("done_generation")).exists()


def _raised(most: int | None) -> list[StaleMark]:
    raised = StaleMark.objects.filter(generation__gt=F("done_generation")).order_by(
        "since_at", "id"
    )
    return list(raised if most is None else raised[:most])


def _refresh(subject: str, ids: list[int]) -> None:
    if subject == StaleMark.Subject.MACHINE:
        refresh_machines(machine_ids=ids)
    elif subject == StaleMark.Subject.ASSEMBLY:
        refresh_assemblies(assembly_ids=ids)
    elif subject == StaleMark.Subject.SITE:
        for site in Site.objects.filter(pk__in=ids):
            refresh_site(site=site)
    else:
        refresh_all()


def _lower(marks: Iterable[StaleMark]) -> int:
    """Note up to which change the dues know; a change after that keeps its mark up."""
    return sum(
        StaleMark.objects.filter(pk=mark.pk, done_generation__lt=mark.generation).update(
            done_generation=mark.generation
        )
        for mark in marks
    )
