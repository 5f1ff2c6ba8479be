"""Going through a source page by page: asked, read, recorded, and on to the next.

One step at a time: a slow provider costs a worker one page, and what went wrong is put off by
giving the errand back, never by waiting in it.
"""

import datetime as dt
import time
from collections.abc import Callable
from typing import Final

from fleet.actions.errands import Clock, NotYet
from fleet.actions.refusals import Refused
from fleet.actions.telematics_runs import (
    end_run,
    hold_run,
    let_go,
    mark_of,
    open_run,
    put_off,
    take_page,
)
from fleet.models import Person, TelematicsRun, TelematicsSource
from fleet.permissions import may
from fleet.telematics.addresses import next_address, read_address
from fleet.telematics.credentials import authorization
from fleet.telematics.fetch import Bounds, backoff, fetch_page
from fleet.telematics.nodes import PayloadError
from fleet.telematics.parse import parse_snapshot
from fleet.telematics.trouble import Trouble

MOST_PAGES: Final = 500
MOST_TRIES: Final = 6
AT_A_STRETCH_S: Final = 20.0
ANOTHER_HOLDS: Final = dt.timedelta(seconds=30)
AT_ONCE: Final = dt.timedelta(0)


def go_through(
    *,
    source: TelematicsSource,
    asked_by: Person | None,
    asked_at: dt.datetime,
    clock: Clock,
    bounds: Bounds | None = None,
    ticks: Callable[[], float] = time.monotonic,
) -> TelematicsRun:
    """Go through a source as far as a stretch of work allows; its run when it is over.

    Raises `NotYet` where the rest is for later. Safe to repeat: a run that is open goes on, and
    one that ended since it was asked for is the answer. Refuses: not_allowed.
    """
    if asked_by is not None and not may(asked_by, "edit_machines", source.site_id):
        raise Refused("not_allowed", "Whoever asked for it may not do so any more.")
    over = source.runs.filter(ended_at__gte=asked_at).order_by("-id").first()
    if over is not None and not source.runs.filter(ended_at=None).exists():
        return over
    run = open_run(source=source, asked_by=asked_by, at=clock())
    begun, held = ticks(), None
    while run.ended_at is None:
        if run.not_before_at is not None and run.not_before_at > clock():
            raise NotYet(run.not_before_at - clock())
        held = hold_run(run=run, held=held, at=clock())
        if held is None:
            raise NotYet(ANOTHER_HOLDS, got_on=False)
        _step(source, run, clock, bounds)
        run.refresh_from_db()
        if run.ended_at is None and ticks() - begun > AT_A_STRETCH_S:
            let_go(run=run)
            raise NotYet(AT_ONCE)
    return run


def _step(
    source: TelematicsSource, run: TelematicsRun, clock: Clock, bounds: Bounds | None
) -> None:
    """One page, or the note of why there is none."""
    if source.withdrawn_at is not None:
        end_run(run=run, at=clock(), error="The source was withdrawn.")
        return
    try:
        _page(source, run, clock, bounds)
    except PayloadError as error:
        words = f"Page {run.pages + 1} can’t be read. {error}"
        _in_trouble(run, Trouble(words, again=True), clock())
    except Trouble as trouble:
        _in_trouble(run, trouble, clock())


def _page(
    source: TelematicsSource, run: TelematicsRun, clock: Clock, bounds: Bounds | None
) -> None:
    if not run.next_address:
        end_run(run=run, at=clock(), note="" if run.equipment else "It told of no machine.")
        return
    if run.pages >= MOST_PAGES:
        raise Trouble(f"It has more than {MOST_PAGES} pages: the rest was not asked for.")
    here = read_address(run.next_address)
    header = authorization(source.credential_variable, here)
    page = fetch_page(here, form=source.form, authorization=header, bounds=bounds)
    snapshot = parse_snapshot(page.payload, form=source.form)
    then, trouble = "", None
    if snapshot.next_href:
        try:
            then = str(next_address(page.address, snapshot.next_href))
        except Trouble as caught:
            trouble = caught
    if mark_of(then) in {
        *run.seen_addresses,
        mark_of(run.next_address),
        mark_of(str(page.address)),
    }:
        then = ""  # the last page of some links to itself, or back to the first
    take_page(
        run=run,
        address=run.next_address,
        machines=snapshot.machines,
        taken=snapshot.taken,
        next_address=then,
        at=clock(),
    )
    if trouble is not None:
        raise trouble


def _in_trouble(run: TelematicsRun, trouble: Trouble, at: dt.datetime) -> None:
    if not trouble.again:
        end_run(run=run, at=at, error=trouble.sentence)
        return
    tries = run.tries + 1
    if tries >= MOST_TRIES:
        end_run(run=run, at=at, error=f"{trouble.sentence} It was tried {tries} times.")
        return
    pause = max(backoff(tries), trouble.after or AT_ONCE)
    put_off(run=run, sentence=trouble.sentence, until=at + pause)
    raise NotYet(pause)
