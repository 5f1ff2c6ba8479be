"""What a watchman asks: is it alive, and is it fit to work? No facts of the register."""

import datetime as dt
from collections.abc import Callable

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.queries.errands import (
    failed_errands,
    failing_sweeps,
    last_sweep_at,
    oldest_waiting_since,
)

LATE = dt.timedelta(minutes=10)


@require_safe
def live(_request: HttpRequest) -> JsonResponse:
    """The process answers."""
    return JsonResponse({"state": "alive"})


@require_safe
def ready(_request: HttpRequest) -> JsonResponse:
    """200 while requests can be served; *degraded* names what runs late or is away."""
    now = timezone.now()
    down = _failing({"database": _database_answers, "migrations": migrations_applied})
    late: dict[str, Callable[[], bool]] = {
        "errands": lambda: (oldest_waiting_since(at=now) or now) > now - LATE,
        "failed errands": lambda: not failed_errands(since=now - dt.timedelta(days=1)),
        "sweep": lambda: (last_sweep_at() or now) > now - LATE and not failing_sweeps(),
        "broker": _broker_answers,
    }
    degraded = [] if down else _failing(late)
    state = "down" if down else "degraded" if degraded else "ready"
    answer = {"state": state, "failing": down + degraded}
    return JsonResponse(answer, status=503 if down else 200)


def _failing(checks: dict[str, Callable[[], bool]]) -> list[str]:
    return [name for name, passes in checks.items() if not passes()]


def _database_answers() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return False
    return True


def migrations_applied() -> bool:
    """Whether the database is as this Layline expects it."""
    try:
        executor = MigrationExecutor(connection)
    except DatabaseError:
        return False
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())


def _broker_answers() -> bool:
    if not settings.REDIS_URL:
        return True
    import redis

    try:
        client = redis.Redis.from_url(
            settings.REDIS_URL, socket_timeout=1, socket_connect_timeout=1
        )
        return bool(client.ping())
    except redis.RedisError:
        return False
