"""Two processes that reach for hose of the same reels at the same moment.

Nothing of the register is imported here before Django stands: each process begins afresh.
"""

import datetime as dt
import multiprocessing as mp
from decimal import Decimal
from typing import Any

from django.db import connection

WAIT_SECONDS = 60


def race(reel_ids: list[int], *, guarded: bool) -> list[list[str]]:
    """What each of the two came to, reel by reel: taken, or the code of the refusal."""
    context = mp.get_context("spawn")
    barrier, answers = context.Barrier(2), context.Queue()
    database = {key: connection.settings_dict[key] for key in ("ENGINE", "NAME")}
    args = (database, reel_ids, guarded, barrier, answers)
    both = [context.Process(target=_bench, args=args, daemon=True) for _ in range(2)]
    for process in both:
        process.start()
    told = [answers.get(timeout=WAIT_SECONDS + len(reel_ids)) for _ in both]
    for process in both:
        process.join(WAIT_SECONDS)
    assert not [answer for answer in told if isinstance(answer, str)], told
    return [list(pair) for pair in zip(*told, strict=True)]


def _bench(
    database: dict[str, Any], reel_ids: list[int], guarded: bool, barrier: Any, answers: Any
) -> None:
    import django

    django.setup()
    connection.settings_dict.update(database)
    connection.ensure_connection()
    take = _take if guarded else _take_without_looking
    try:
        answers.put([take(reel_id, barrier) for reel_id in reel_ids])
    except BaseException as error:
        barrier.abort()
        answers.put(repr(error))
        raise


def _take(reel_id: int, barrier: Any) -> str:
    from assemblies.actions.stock import use_from_reel
    from assemblies.models import Reel
    from fleet.actions.refusals import Refused

    reel, now = Reel.objects.get(pk=reel_id), dt.datetime(2026, 3, 9, tzinfo=dt.UTC)
    barrier.wait(WAIT_SECONDS)
    try:
        use_from_reel(reel=reel, metres=Decimal(1), reference="race", person=None, at=now)
    except Refused as refusal:
        return refusal.code
    return "taken"


def _take_without_looking(reel_id: int, barrier: Any) -> str:
    """As it would be done with neither lock nor condition: read, think, write what was thought."""
    from assemblies.models import StockItem

    barrier.wait(WAIT_SECONDS)
    item = StockItem.objects.get(reel=reel_id)
    barrier.wait(WAIT_SECONDS)
    if item.balance < 1:
        return "not_enough"
    StockItem.objects.filter(pk=item.pk).update(balance=item.balance - 1)
    return "taken"
