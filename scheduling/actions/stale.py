"""Marks of what must be worked out again: raised with the change, lowered after the work."""

import datetime as dt
import logging
from collections.abc import Callable, Iterable
from typing import Final

from django.db import DatabaseError, connection, transaction
from django.db.models import F

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
_TABLE: Final = StaleMark._meta.db_table


def mark_stale(*, subject: str, ids: Iterable[int], at: dt.datetime) -> None:
    """Raise a mark on each subject, in the transaction of the change.

    The mark's row also makes changes to one subject wait for each other, so that the later sees
    what the earlier did.
    """
    wanted = sorted(set(ids)) if subject != EVERYTHING else [0]
    if len(wanted) > TOO_MANY:
        subject, wanted = EVERYTHING, [0]
    sql = (
        f"INSERT INTO {_TABLE} (subject, subject_id, generation, done_generation, since_at)"
        " VALUES (%s, %s, 1, 0, %s) ON CONFLICT (subject, subject_id)"
        f" DO UPDATE SET generation = {_TABLE}.generation + 1, since_at = CASE"
        f" WHEN {_TABLE}.generation > {_TABLE}.done_generation THEN {_TABLE}.since_at"
        " ELSE excluded.since_at END"
    )
    field = StaleMark._meta.get_field("since_at")
    moment = connection.ops.adapt_datetimefield_value(field.get_prep_value(at))
    with connection.cursor() as cursor:
        cursor.executemany(sql, [(str(subject), subject_id, moment) for subject_id in wanted])


def work_off_now(*, subject: str, ids: Iterable[int]) -> bool:
    """Work out a few subjects within the request that marked them; False where that is left.

    Should it fail, the change itself stands and the marks stay up for the sweep.
    """
    wanted = sorted(set(ids))
    if not wanted or len(wanted) > AT_ONCE:
        return not wanted
    marks = list(StaleMark.objects.filter(subject=subject, subject_id__in=wanted))
    try:
        with transaction.atomic():
            _refresh(subject, wanted)
            _lower(marks)
    except (DatabaseError, StillChanging):
        log.exception("dues of %s %s are left to the sweep", subject, wanted)
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
    return refreshed


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
