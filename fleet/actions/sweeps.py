"""The sweep: finds what is due, whatever became of the message that should have told."""

import datetime as dt
import logging
import secrets

from django.db.models import Q

from fleet.models import SweepRun

from .errand_kinds import kinds, sweeps
from .errands import Clock, ask_daily, give_up_lost

log = logging.getLogger(__name__)

LEASE = dt.timedelta(minutes=10)


def sweep_all(*, clock: Clock) -> list[str]:
    """Run every registered sweep that nobody else is running; gives the names of those that failed.

    One that fails is noted and keeps none of the others from running.
    """
    give_up_lost(at=clock())
    for kind in [kind.name for kind in kinds.values() if kind.daily]:
        ask_daily(kind=kind, at=clock())
    return [name for name in sorted(sweeps) if not _run(name, clock)]


def _run(name: str, clock: Clock) -> bool:
    token = _claim(name, clock())
    if not token:
        return True
    error = ""
    try:
        sweeps[name](clock())
    except Exception as caught:
        log.exception("the sweep %s failed", name)
        error = f"{type(caught).__name__}: {caught}"
    held = SweepRun.objects.filter(name=name, lease_token=token)
    held.update(lease_until_at=None, last_ended_at=clock(), last_error=error)
    return not error


def _claim(name: str, at: dt.datetime) -> str:
    """The token of a lease on the sweep, or an empty text where another runs it."""
    SweepRun.objects.bulk_create([SweepRun(name=name)], ignore_conflicts=True)
    free = Q(lease_until_at=None) | Q(lease_until_at__lt=at)
    token = secrets.token_hex(12)
    taken = SweepRun.objects.filter(free, name=name)
    return token if taken.update(lease_token=token, lease_until_at=at + LEASE) else ""
