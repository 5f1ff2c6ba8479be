"""Runs of fetching: begun, a page taken, put off, ended. Each step is its own transaction.

A page counts once: its figures and the step to the next page are written with its readings, and
only while the run stands at that page.
"""

import datetime as dt
import hashlib
from collections.abc import Sequence
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import F, Q

from fleet.actions.telematics_seen import PageSeen, take_machines
from fleet.calc.snapshots import Told
from fleet.models import Person, TelematicsRun, TelematicsSource

HOLD: Final = dt.timedelta(minutes=3)
MOST_PROBLEMS: Final = 200


def open_run(
    *, source: TelematicsSource, asked_by: Person | None, at: dt.datetime
) -> TelematicsRun:
    """The run of a source that is open, or a new one. Safe to repeat, and from two at once."""
    new = TelematicsRun(source=source, asked_by=asked_by, began_at=at, next_address=source.address)
    try:
        with transaction.atomic():
            new.save(force_insert=True)
    except IntegrityError:
        return TelematicsRun.objects.get(source=source, ended_at=None)
    return new


def hold_run(
    *, run: TelematicsRun, held: dt.datetime | None, at: dt.datetime
) -> dt.datetime | None:
    """Hold an open run for one worker, or hold it longer; until when, or None if another has it.

    `held` is what this worker was given last.
    """
    free = Q(held_until_at=None) | Q(held_until_at__lte=at)
    mine = Q(held_until_at=held) if held is not None else Q(pk=None)
    until = at + HOLD
    taken = TelematicsRun.objects.filter(free | mine, pk=run.pk, ended_at=None)
    return until if taken.update(held_until_at=until) else None


def let_go(*, run: TelematicsRun) -> None:
    """Let another worker go on with the run."""
    TelematicsRun.objects.filter(pk=run.pk, ended_at=None).update(held_until_at=None)


@transaction.atomic
def take_page(
    *,
    run: TelematicsRun,
    address: str,
    machines: Sequence[Told],
    taken: str,
    next_address: str,
    at: dt.datetime,
) -> bool:
    """Record what a page told, and step on to the next. Atomic, and done once for each page.

    False, with nothing done, where the run does not stand at this page any more. Sends
    `reading_recorded`.
    """
    locked = TelematicsRun.objects.select_for_update(of=("self",)).get(pk=run.pk)
    if locked.ended_at is not None or locked.next_address != address:
        return False
    source = TelematicsSource.objects.select_related("site").get(pk=locked.source_id)
    seen = take_machines(source=source, machines=machines, at=at)
    _count(locked, seen)
    locked.snapshot_text = locked.snapshot_text or taken
    locked.seen_addresses = [*locked.seen_addresses, mark_of(address)]
    locked.next_address, locked.tries, locked.not_before_at, locked.error = (
        next_address,
        0,
        None,
        "",
    )
    locked.save()
    return True


def put_off(*, run: TelematicsRun, sentence: str, until: dt.datetime) -> None:
    """Note what went wrong, and until when the provider is left alone."""
    held = TelematicsRun.objects.filter(pk=run.pk, ended_at=None)
    held.update(tries=F("tries") + 1, error=sentence, not_before_at=until, held_until_at=None)


def end_run(*, run: TelematicsRun, at: dt.datetime, error: str = "", note: str = "") -> None:
    """End a run for good: it is sealed. Safe to repeat."""
    ended: dict[str, Any] = {"ended_at": at, "next_address": "", "held_until_at": None}
    ended |= {"not_before_at": None, "error": error, "state": "failed" if error else "done"}
    if note:
        problems = TelematicsRun.objects.values_list("problems", flat=True).get(pk=run.pk)
        ended["problems"] = [*problems, note]
    TelematicsRun.objects.filter(pk=run.pk, ended_at=None).update(**ended)


def mark_of(address: str) -> str:
    """A short mark by which an address is known again; what it holds is not kept."""
    return hashlib.sha256(address.encode()).hexdigest()[:16]


def _count(run: TelematicsRun, seen: PageSeen) -> None:
    run.pages += 1
    run.equipment += seen.equipment
    run.recorded += seen.recorded
    run.doubtful += seen.doubtful
    run.known += seen.known
    run.unmatched += seen.unmatched
    run.unusable += seen.unusable
    room = max(MOST_PROBLEMS - len(run.problems), 0)
    run.problems = [*run.problems, *seen.problems[:room]]
