"""The kinds of errand and the sweeps, each registered by the app that knows how to do it."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .errands import ErrandRun

Handler = Callable[["ErrandRun"], dict[str, Any] | None]
Sweep = Callable[[dt.datetime], object]

FIRST_LEASE = dt.timedelta(minutes=1)


@dataclass(frozen=True)
class ErrandKind:
    """How a kind of errand is done. `daily` ones are asked for by the sweep, once a UTC day."""

    name: str
    handler: Handler
    most_attempts: int = 3
    lease: dt.timedelta = FIRST_LEASE
    longest: dt.timedelta = dt.timedelta(minutes=25)
    daily: bool = False


kinds: dict[str, ErrandKind] = {}
sweeps: dict[str, Sweep] = {}


def register_errand(
    name: str,
    *,
    most_attempts: int = 3,
    lease: dt.timedelta = FIRST_LEASE,
    longest: dt.timedelta = dt.timedelta(minutes=25),
    daily: bool = False,
) -> Callable[[Handler], Handler]:
    """Register a function as the doer of a kind of errand.

    The function must be safe to repeat: a worker may die after the work and before the note of it.
    A worker that answers holds its lease for as long as `longest`; then another may begin.
    """

    def registered(handler: Handler) -> Handler:
        kinds[name] = ErrandKind(name, handler, most_attempts, lease, longest, daily)
        return handler

    return registered


def register_sweep(name: str) -> Callable[[Sweep], Sweep]:
    """Register a function, given the moment, that finds and does what a lost nudge left undone."""

    def registered(sweep: Sweep) -> Sweep:
        sweeps[name] = sweep
        return sweep

    return registered
