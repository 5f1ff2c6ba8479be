"""Doing errands: by a thread of the server, or by Celery workers where a broker is configured."""

import datetime as dt
import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from celery import shared_task
from django.conf import settings
from django.db import DatabaseError, connection
from django.utils import timezone

from fleet.actions.errand_kinds import register_errand, register_sweep
from fleet.actions.errands import ErrandRun, claimable, renew_lease, run_errand
from fleet.actions.refusals import Refused
from fleet.actions.sweeps import sweep_all
from fleet.actions.telematics import TELEMATICS, ask_sources_daily
from fleet.models import Errand, TelematicsSource
from fleet.telematics.ingest import go_through

log = logging.getLogger(__name__)

_look_now = threading.Event()


def kick(errand_id: int) -> None:
    """Say that an errand waits. Nothing depends on being heard: the sweep finds it as well."""
    if not settings.REDIS_URL:
        _look_now.set()
        return
    from celery import current_app

    # A broker that accepts and never answers must not hold the request: one second, one try.
    quick = {"socket_connect_timeout": 1, "socket_timeout": 1, "max_retries": 0}
    with current_app.connection_for_write(transport_options=quick) as quickly:
        do_errand.apply_async((errand_id,), connection=quickly, retry=False)


@shared_task  # type: ignore[untyped-decorator]  # Celery brings no types
def do_errand(errand_id: int) -> None:
    """Do one errand, if nobody has it."""
    _do(errand_id)


@shared_task  # type: ignore[untyped-decorator]  # Celery brings no types
def sweep() -> None:
    """Run the sweeps and do what is due."""
    sweep_all(clock=timezone.now)
    while due := list(claimable(timezone.now()).values_list("pk", flat=True)[:50]):
        done = [_do(errand_id) for errand_id in due]
        if not any(done):
            break


@register_sweep("telematics")
def sweep_telematics(at: dt.datetime) -> None:
    """Ask every source for its hours, once a day."""
    ask_sources_daily(at=at)


@register_errand(TELEMATICS, lease=dt.timedelta(minutes=2), longest=dt.timedelta(minutes=10))
def fetch_telematics(run: ErrandRun) -> dict[str, Any]:
    """Go through one source; what is left for later is given back: others get their turn."""
    source = TelematicsSource.objects.select_related("site").filter(pk=run.payload["source_id"])
    found = source.first()
    if found is None:
        raise Refused("source_unknown", "This source is not there.")
    if run.person is None and not found.asked_daily:
        raise Refused("by_hand_alone", "This source is asked by hand alone.")
    asked_at = Errand.objects.values_list("asked_at", flat=True).get(pk=run.errand_id)
    done = go_through(source=found, asked_by=run.person, asked_at=asked_at, clock=run.clock)
    return {"run_id": done.pk, "recorded": done.recorded, "error": done.error}


def _do(errand_id: int) -> bool:
    return run_errand(errand_id=errand_id, clock=timezone.now, watch=_holding)


@contextmanager
def _holding(run: ErrandRun) -> Iterator[None]:
    """Hold the lease of an errand while its work goes on, for as long as its kind may take."""
    over = threading.Event()
    holder = threading.Thread(target=_hold, args=(run, over), daemon=True)
    holder.start()
    try:
        yield
    finally:
        over.set()
        holder.join()


def _hold(run: ErrandRun, over: threading.Event) -> None:
    pause = run.kind.lease.total_seconds() / 4
    last = timezone.now() + run.kind.longest
    try:
        while not over.wait(pause) and (now := timezone.now()) < last:
            try:
                renew_lease(errand_id=run.errand_id, token=run.token, until=now + run.kind.lease)
            except DatabaseError:
                log.warning("the lease of errand %s could not be renewed just now", run.errand_id)
    finally:
        connection.close()


class ErrandThread(threading.Thread):
    """The one background thread of the embedded set-up, started by the server."""

    def __init__(self, look_every_seconds: float) -> None:
        super().__init__(name="layline-errands", daemon=True)
        self._pause = look_every_seconds
        self._stopping = threading.Event()

    def run(self) -> None:
        while not self._stopping.is_set():
            _look_now.clear()
            self._look()
            _look_now.wait(self._pause)

    def stop(self) -> None:
        """Finish what is in hand, for ten seconds at most; an errand cut off is begun again."""
        self._stopping.set()
        _look_now.set()
        self.join(timeout=10)

    def _look(self) -> None:
        try:
            sweep()
        except DatabaseError:
            log.exception("the errands could not be looked at; the next look is in a moment")
        finally:
            connection.close()
