"""Two processes that try the same thing at the same moment, round after round."""

import multiprocessing as mp
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import connection

WAIT_SECONDS = 60


@dataclass(frozen=True)
class Attempt:
    """One thing to try: insert a row of values, or take a quantity from a row's column.

    `second` are the values in which the second session's row differs.
    """

    label: str
    values: dict[str, Any] = field(default_factory=dict)
    second: dict[str, Any] = field(default_factory=dict)
    take: tuple[int, str, int] | None = None


class Sessions:
    """Two processes with a database session each, kept for many races."""

    def __init__(self) -> None:
        context = mp.get_context("spawn")
        # Kept: the semaphores go when the last hold on them in this process goes.
        self.barrier, self.answers = context.Barrier(2), context.Queue()
        self.tasks = [context.Queue() for _ in range(2)]
        database = {key: connection.settings_dict[key] for key in ("ENGINE", "NAME")}
        self.processes = [
            context.Process(
                target=_session,
                args=(database, tasks, self.barrier, self.answers, who),
                daemon=True,
            )
            for who, tasks in enumerate(self.tasks)
        ]
        for process in self.processes:
            process.start()

    def race(self, attempts: Sequence[Attempt]) -> list[int]:
        """Let both try each attempt at once; how many of the two succeeded, by round."""
        for tasks in self.tasks:
            tasks.put(list(attempts))
        results = [self.answers.get(timeout=WAIT_SECONDS + len(attempts)) for _ in self.tasks]
        failed = [result for result in results if isinstance(result, str)]
        assert not failed, failed
        return [sum(pair) for pair in zip(*results, strict=True)]

    def close(self) -> None:
        for tasks in self.tasks:
            tasks.put(None)
        for process in self.processes:
            process.join(WAIT_SECONDS)


def _session(database: dict[str, Any], tasks: Any, barrier: Any, answers: Any, who: int) -> None:
    import django

    django.setup()
    connection.settings_dict.update(database)
    connection.ensure_connection()
    while (attempts := tasks.get()) is not None:
        try:
            answers.put([_try_together(attempt, barrier, who) for attempt in attempts])
        except BaseException as error:
            barrier.abort()
            answers.put(repr(error))
            raise


def _try_together(attempt: Attempt, barrier: Any, who: int) -> bool:
    barrier.wait(WAIT_SECONDS)
    return _try(attempt, who)


def _try(attempt: Attempt, who: int) -> bool:
    from django.apps import apps
    from django.db import IntegrityError
    from django.db.models import F

    model = apps.get_model(attempt.label)
    try:
        if attempt.take is None:
            values = attempt.values | (attempt.second if who else {})
            model._base_manager.create(**values)
        else:
            pk, column, amount = attempt.take
            model._base_manager.filter(pk=pk).update(**{column: F(column) - amount})
    except IntegrityError:
        return False
    return True
