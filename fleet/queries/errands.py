"""What the pages show of errands."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fleet.models import Errand, Person, SweepRun


@dataclass(frozen=True)
class ErrandProgress:
    """How far an errand is. `state` is waiting, running, done or failed."""

    errand_id: int
    kind: str
    state: str
    done: int
    total: int
    attempts: int
    error: str
    result: Mapping[str, Any]
    asked_at: dt.datetime
    ended_at: dt.datetime | None

    @property
    def per_cent(self) -> int:
        if self.state == "done":
            return 100
        return 0 if not self.total else min(99, 100 * self.done // self.total)


def errand_progress(*, errand_id: int, person: Person, at: dt.datetime) -> ErrandProgress | None:
    """One errand of this person; nothing where it is another's or isn't there."""
    errand = Errand.objects.filter(pk=errand_id, person=person).first()
    return _progress(errand, at) if errand else None


def errands_of(*, person: Person, at: dt.datetime, most: int = 20) -> list[ErrandProgress]:
    """The person's last errands, the newest first."""
    found = Errand.objects.filter(person=person).order_by("-id")[:most]
    return [_progress(errand, at) for errand in found]


def oldest_waiting_since(*, at: dt.datetime) -> dt.datetime | None:
    """Since when the errand that is due the longest has waited to be taken."""
    due = Errand.objects.filter(state="waiting", not_before_at__lte=at, began_at=None)
    return due.order_by("not_before_at").values_list("not_before_at", flat=True).first()


def failed_errands(*, since: dt.datetime) -> list[tuple[int, str, str]]:
    """Number, kind and error of the errands that were given up since a moment."""
    failed = Errand.objects.filter(state="failed", ended_at__gte=since).order_by("-id")
    return list(failed.values_list("id", "kind", "error")[:50])


def failing_sweeps() -> list[tuple[str, str]]:
    """Name and error of the sweeps whose last run failed."""
    return list(SweepRun.objects.exclude(last_error="").values_list("name", "last_error"))


def last_sweep_at() -> dt.datetime | None:
    """When a sweep last ended; None where none ever ran."""
    ended = SweepRun.objects.exclude(last_ended_at=None).order_by("-last_ended_at")
    return ended.values_list("last_ended_at", flat=True).first()


def _progress(errand: Errand, at: dt.datetime) -> ErrandProgress:
    running = errand.lease_until_at is not None and errand.lease_until_at > at
    return ErrandProgress(
        errand_id=errand.pk,
        kind=errand.kind,
        state="running" if errand.state == "waiting" and running else errand.state,
        done=errand.progress_done,
        total=errand.progress_total,
        attempts=errand.attempts,
        error=errand.error,
        result=errand.result,
        asked_at=errand.asked_at,
        ended_at=errand.ended_at,
    )
