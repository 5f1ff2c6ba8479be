"""The schedule's errands and sweep: each calls one action."""

import datetime as dt
from typing import Any

from fleet.actions.errand_kinds import register_errand, register_sweep
from fleet.actions.errands import ErrandRun
from scheduling.actions.loss_tallies import keep_losses
from scheduling.actions.nudges import STALE_DUES, see_to_marks
from scheduling.actions.stale import refresh_everything, work_off_marks
from scheduling.actions.tallies import put_tallies_together, recount_tallies
from scheduling.actions.tryouts import TRY, work_out


@register_sweep("stale dues")
def sweep_stale_dues(at: dt.datetime) -> None:
    """Have whatever is marked stale worked out, however the nudge was lost."""
    see_to_marks(at=at)


@register_sweep("tallies of dues")
def sweep_tallies(_at: dt.datetime) -> None:
    """Put together what the changes since the last sweep added to each site's counts."""
    put_tallies_together()


@register_sweep("losses of the last quarter")
def sweep_losses(at: dt.datetime) -> None:
    """Work out anew what the losses of each site came to, where that is an hour old."""
    keep_losses(at=at)


@register_errand("refresh dues", daily=True)
def refresh_dues(run: ErrandRun) -> dict[str, Any]:
    """Once a day, all of them: finds what no mark told of."""
    written = refresh_everything(progress=run.progress).written
    return {"written": written, "recounted": len(recount_tallies())}


@register_errand(STALE_DUES)
def work_off_stale_dues(_run: ErrandRun) -> dict[str, Any]:
    """What a change too large for its request left to be worked out."""
    return {"lowered": work_off_marks()}


@register_errand(TRY)
def try_a_rule(run: ErrandRun) -> dict[str, Any]:
    """What a draft of a rule would change, for more hoses than a person waits for."""
    return work_out(run)
