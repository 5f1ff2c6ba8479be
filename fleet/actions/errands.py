"""Asking for an errand, claiming it, doing it, and noting how it ended."""

import datetime as dt
import logging
import secrets
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, models, transaction
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from fleet.models import Errand, Person
from fleet.signals import errand_asked

from .errand_kinds import ErrandKind, kinds
from .refusals import Refused

log = logging.getLogger(__name__)
Clock = Callable[[], dt.datetime]

FIRST_PAUSE = dt.timedelta(seconds=30)
NEVER_FINISHED = "It was begun {n} times and never finished: the worker stopped each time."


class LeaseLost(Exception):
    """Another worker has this errand now; what this one would write is no longer wanted."""


class NotYet(Exception):
    """The work goes on after a pause; what was done so far stands, and this was no failed try.

    `got_on` False: nothing was done this time, so tries that failed before still count.
    """

    def __init__(self, pause: dt.timedelta, *, got_on: bool = True) -> None:
        super().__init__(f"goes on in {pause}")
        self.pause, self.got_on = pause, got_on


@dataclass(frozen=True)
class ErrandRun:
    """What a handler is given: the errand's ids, who asked, and a way to tell how far it is."""

    errand_id: int
    kind: ErrandKind
    payload: Mapping[str, Any]
    person: Person | None
    token: str
    clock: Clock

    def progress(self, done: int, total: int) -> None:
        """Note how far the work is. Raises `LeaseLost` where another has taken it over."""
        until = self.clock() + self.kind.lease
        held = _held(self.errand_id, self.token)
        if not held.update(progress_done=done, progress_total=total, lease_until_at=until):
            raise LeaseLost(f"errand {self.errand_id}")


Watch = Callable[[ErrandRun], AbstractContextManager[Any]]


def ask_errand(
    *,
    kind: str,
    at: dt.datetime,
    payload: Mapping[str, Any] | None = None,
    person: Person | None = None,
    key: str = "",
    not_before_at: dt.datetime | None = None,
) -> Errand:
    """Ask for an errand, in the transaction of what it is about. Sends `errand_asked`.

    Safe to repeat where a key is given: while one with that key waits to begin, that one is given.
    """
    errand = Errand(
        kind=kind,
        key=key,
        payload=dict(payload or {}),
        person=person,
        most_attempts=kinds[kind].most_attempts,
        asked_at=at,
        not_before_at=not_before_at or at,
    )
    return _insert(errand, Errand.objects.filter(key=key, state="waiting", began_at=None))


def ask_daily(
    *, kind: str, at: dt.datetime, of: str = "", payload: Mapping[str, Any] | None = None
) -> Errand:
    """Ask for a daily errand, once a UTC day however many sweeps ask. Sends `errand_asked`.

    `of` names what it is about, where each of several things has a daily errand of its own.
    """
    period = f"{at.astimezone(dt.UTC).date().isoformat()} {of}".strip()
    errand = Errand(
        kind=kind,
        period=period,
        payload=dict(payload or {}),
        most_attempts=kinds[kind].most_attempts,
        asked_at=at,
        not_before_at=at,
    )
    return _insert(errand, Errand.objects.filter(period=period))


def _insert(errand: Errand, twins: "models.QuerySet[Errand]") -> Errand:
    """Save the errand, or give its twin where the database says that there is one."""
    for _ in range(3):
        try:
            with transaction.atomic():
                errand.save(force_insert=True)
        except IntegrityError:
            if not errand.key and not errand.period:
                raise
            twin = twins.filter(kind=errand.kind).first()
            if twin is not None:
                return twin
            continue  # the twin began between our try and our look
        errand_asked.send(sender=Errand, errand_id=errand.pk)
        return errand
    raise Refused("errand_crowded", "Too many people ask for this at once: try again.")


def claimable(at: dt.datetime) -> "models.QuerySet[Errand]":
    """The errands that a worker may take now."""
    free = Q(lease_until_at=None) | Q(lease_until_at__lt=at)
    return Errand.objects.filter(
        free, state="waiting", not_before_at__lte=at, attempts__lt=F("most_attempts")
    ).order_by("not_before_at", "id")


def run_errand(*, errand_id: int, clock: Clock, watch: Watch = nullcontext) -> bool:
    """Claim one errand and do it. False where it is done, taken, not due, or of no known kind.

    The claim is one conditional update: of any number of workers, one has it. `watch` surrounds
    the work, and may hold its lease.
    """
    run = _claim(errand_id, clock)
    if run is None:
        return False
    try:
        with watch(run):
            result = run.kind.handler(run) or {}
    except LeaseLost:
        log.warning("errand %s was taken over while it ran", errand_id)
    except NotYet as later:
        _wait(run, later)
    except Refused as refusal:
        _end(run, state="failed", error=refusal.sentence)
    except Exception as error:
        log.exception("errand %s (%s) failed", errand_id, run.kind.name)
        _put_back(run, f"{type(error).__name__}: {error}")
    else:
        _end(run, state="done", result=result)
    return True


def renew_lease(*, errand_id: int, token: str, until: dt.datetime) -> bool:
    """Hold an errand for longer. False where it is no longer this worker's."""
    return bool(_held(errand_id, token).update(lease_until_at=until))


def give_up_lost(*, at: dt.datetime) -> int:
    """Mark as failed what was begun as often as allowed and never finished. Safe to repeat."""
    lost = Errand.objects.filter(
        state="waiting", attempts__gte=F("most_attempts"), lease_until_at__lt=at
    )
    count = 0
    for errand in lost:
        note = errand.error or NEVER_FINISHED.format(n=errand.attempts)
        changed = lost.filter(pk=errand.pk).update(state="failed", ended_at=at, error=note)
        count += changed
    return count


def _claim(errand_id: int, clock: Clock) -> ErrandRun | None:
    found = Errand.objects.filter(pk=errand_id).values("kind").first()
    kind = kinds.get(found["kind"]) if found else None
    if kind is None:
        return None
    at, token = clock(), secrets.token_hex(12)
    taken = (
        claimable(at)
        .filter(pk=errand_id)
        .order_by()
        .update(
            lease_token=token,
            lease_until_at=at + kind.lease,
            attempts=F("attempts") + 1,
            began_at=Coalesce("began_at", at),
        )
    )
    if not taken:
        return None
    errand = Errand.objects.select_related("person").get(pk=errand_id)
    return ErrandRun(errand_id, kind, errand.payload, errand.person, token, clock)


def _held(errand_id: int, token: str) -> "models.QuerySet[Errand]":
    return Errand.objects.filter(pk=errand_id, state="waiting", lease_token=token)


def _end(
    run: ErrandRun, *, state: str, error: str = "", result: Mapping[str, Any] | None = None
) -> None:
    _held(run.errand_id, run.token).update(
        state=state,
        error=error,
        result=dict(result or {}),
        ended_at=run.clock(),
        lease_until_at=None,
    )


def _wait(run: ErrandRun, later: NotYet) -> None:
    attempts = 0 if later.got_on else F("attempts") - 1
    _held(run.errand_id, run.token).update(
        lease_until_at=None, not_before_at=run.clock() + later.pause, attempts=attempts
    )


def _put_back(run: ErrandRun, error: str) -> None:
    """For another try, later each time; or failed, where that was the last."""
    attempts = Errand.objects.values_list("attempts", flat=True).get(pk=run.errand_id)
    if attempts >= run.kind.most_attempts:
        _end(run, state="failed", error=error)
        return
    later = run.clock() + FIRST_PAUSE * 4 ** (attempts - 1)
    _held(run.errand_id, run.token).update(error=error, lease_until_at=None, not_before_at=later)
