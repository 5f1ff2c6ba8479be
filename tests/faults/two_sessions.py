"""Two processes that try the same thing at the same moment, round after round."""

import multiprocessing as mp
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection

WAIT_SECONDS = 60


@dataclass(frozen=True)
class Attempt:
    """One thing to try: insert a row of values, or take a quantity from a row's column."""

    label: str
    values: dict[str, Any]
    take: tuple[int, str, int] | None = None


def race(attempts: Sequence[Attempt]) -> list[int]:
    """Let two sessions try each attempt at once; how many of the two succeeded, by round."""
    context = mp.get_context("spawn")
    barrier, answers = context.Barrier(2), context.Queue()
    database = {key: connection.settings_dict[key] for key in ("ENGINE", "NAME")}
    arguments = (database, list(attempts), barrier, answers)
    sessions = [context.Process(target=_session, args=arguments) for _ in range(2)]
    for session in sessions:
        session.start()
    results = [answers.get(timeout=WAIT_SECONDS + len(attempts)) for _ in sessions]
    for session in sessions:
        session.join(WAIT_SECONDS)
    failed = [result for result in results if isinstance(result, str)]
    assert not failed, failed
    return [sum(pair) for pair in zip(*results, strict=True)]


def _session(
    database: dict[str, Any], attempts: Sequence[Attempt], barrier: Any, answers: Any
) -> None:
    import django

    django.setup()
    connection.settings_dict.update(database)
    try:
        connection.ensure_connection()
        won = []
        for attempt in attempts:
            barrier.wait(WAIT_SECONDS)
            won.append(_try(attempt))
        answers.put(won)
    except BaseException as error:
        barrier.abort()
        answers.put(repr(error))
        raise


def _try(attempt: Attempt) -> bool:
    from django.apps import apps
    from django.db import IntegrityError
    from django.db.models import F

    model = apps.get_model(attempt.label)
    try:
        if attempt.take is None:
            model._base_manager.create(**attempt.values)
        else:
            pk, column, amount = attempt.take
            model._base_manager.filter(pk=pk).update(**{column: F(column) - amount})
    except IntegrityError:
        return False
    return True
