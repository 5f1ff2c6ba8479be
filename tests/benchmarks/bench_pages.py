"""Pages of a big register beside bare views, paired in one run; medians of `BENCH_ROUNDS` (25).

The bare view of a page runs the very statements that the page's own view runs, in their order,
and gives their rows as JSON; both go through the same middleware, log-in and test client. Nothing
is kept between two requests that a server would not keep. The last lines compare the deepest page
of each list with its first.
"""

import importlib
import json
import os
import statistics
import sys
import time
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import Group
from django.core.management import call_command
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.test import Client, override_settings
from django.urls import include, path
from django.utils import timezone

from assemblies.models import Assembly
from fleet.actions.statistics import freshen_statistics
from fleet.models import HourReading, Person, Posting
from fleet.permissions import ensure_roles
from scheduling.actions.due_dates import refresh_all
from scheduling.actions.tallies import put_tallies_together
from scheduling.models import Due, Failure
from scheduling.queries.due_list import BY_DAY

ON_REGISTER = True
Statement = tuple[str, Any]
_replayed: list[Statement] = []


def bare(_request: HttpRequest) -> HttpResponse:
    """Runs what a page runs, and gives the rows."""
    told = []
    with connection.cursor() as cursor:
        for sql, params in _replayed:
            cursor.execute(sql, params)
            told.append(cursor.fetchall() if cursor.description else [])
    return JsonResponse(told, safe=False, json_dumps_params={"default": str})


def nothing(_request: HttpRequest) -> HttpResponse:
    """What every page costs before its view begins."""
    return HttpResponse("")


urlpatterns = [
    path("bench/bare/", bare),
    path("bench/nothing/", nothing),
    path("", include("fleet.config.urls")),
]


@dataclass(frozen=True)
class Taken:
    """A page's medians in ms, its statements, and its ratio to the bare view, pair by pair."""

    page_ms: float
    bare_ms: float
    statements: int
    ratio: float
    size_kb: float


def main() -> None:
    rounds = int(os.environ.get("BENCH_ROUNDS", "25"))
    call_command("collectstatic", verbosity=0, interactive=False)
    importlib.import_module("fleet.config.wsgi")  # what a server has done before the first request
    if not Due.objects.exists():
        refresh_all()
    put_tallies_together()
    freshen_statistics()
    if connection.vendor == "postgresql":  # which does so by itself, a minute later
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    with override_settings(ROOT_URLCONF=__name__, ALLOWED_HOSTS=["testserver"]):
        client = _client()
        _say(f"{Due.objects.count():,} dues, {rounds} rounds, medians")
        taken = {name: _measure(client, where, rounds) for name, where in _pages().items()}
        for name, (first, deep) in _lists().items():
            _compare(client, name, first, deep, rounds)
    worst = max(taken, key=lambda name: taken[name].ratio)
    _say(f"{'worst ratio':36}{taken[worst].ratio:8.2f}  {worst}")


def _client() -> Client:
    """A planner of every site: whose lists are the longest."""
    ensure_roles()
    person, _ = Person.objects.get_or_create(username="bench planner")
    role = Group.objects.get(name="planner")
    facts = {"began_at": timezone.now()}
    Posting.objects.get_or_create(person=person, role=role, site=None, defaults=facts)
    client = Client()
    client.force_login(person)
    return client


def _pages() -> dict[str, str]:
    hoses = Assembly.objects.count()
    some = hoses * 6 // 10 + 1
    tag = Assembly.objects.filter(pk__gte=some).exclude(tag=None).first()
    assert tag is not None
    machine = hoses // 40 * 6 // 10
    return {
        "today": "/",
        "tag look-up": f"/t/{tag.tag_id}",
        "hose": f"/hoses/{some}/",
        "why this date": f"/hoses/{some}/why/",
        "position": f"/positions/{some}/",
        "machine": f"/machines/{machine}/",
        "find, by tag": f"/find/?q=k{some}",
        "find, by mark's beginning": f"/find/?q=k{str(some)[:3]}",
        "find, by machine": f"/find/?q=m-{machine}",
        "due, all sites": "/due/",
        "due, site and state": "/due/?site=3&standing=over",
        "due, site and consequence": "/due/?site=3&consequence=hurts",
        "due, state and circuit": "/due/?standing=soon&circuit=steering",
        "due, by machine": "/due/?by=machine",
        "due, undated": "/due/?standing=undated",
        "machines": "/machines/",
        "machines, site and class": "/machines/?site=3&machine_class=2",
        "untagged": "/untagged/",
        "readings in doubt": "/doubtful/",
        "failures": "/failures/",
        "readings of a machine (API)": f"/api/v1/machines/{machine}/readings/",
        "dues (API)": "/api/v1/dues/",
    }


def _lists() -> dict[str, tuple[str, str]]:
    """Each list's first page and its deepest, which begins fifty rows before the end."""
    dated = Due.objects.exclude(due_on=None)
    day = dated.order_by("-due_on", "-assembly_id").values_list(*BY_DAY)[50]
    site = dated.filter(site=3).order_by("-due_on", "-assembly_id").values_list(*BY_DAY)[50]
    machine = dated.exclude(machine=None).order_by(
        "-machine__number_key", "-machine_id", "-due_on", "-assembly_id"
    )
    by_machine = machine.values_list("machine__number_key", "machine_id", *BY_DAY)[50]
    number = Due.objects.exclude(machine=None).order_by("-machine__number_key", "-machine_id")
    last_machines = number.values_list("machine__number_key", "machine_id").distinct()[50]
    untagged = Assembly.objects.filter(tag=None).order_by("-pk").values_list("pk")[50]
    failed = list(Failure.objects.order_by("failed_on", "pk").values_list("failed_on", "pk")[:51])
    doubt = list(HourReading.objects.exclude(doubt="").order_by("-pk").values_list("pk")[:51])
    return {
        "due, all sites": ("/due/?", _after(day)),
        "due, one site": ("/due/?site=3&", _after(site)),
        "due, by machine": ("/due/?by=machine&", _after(by_machine)),
        "machines": ("/machines/?", _after(last_machines)),
        "untagged": ("/untagged/?", _after(untagged)),
        "failures": ("/failures/?", _after(failed[-1])),
        "readings in doubt": ("/doubtful/?", _after(doubt[-1])),
    }


def _after(place: tuple[Any, ...]) -> str:
    parts = [f"day:{part.isoformat()}" if hasattr(part, "isoformat") else part for part in place]
    return f"after={json.dumps(parts)}"


def _measure(client: Client, where: str, rounds: int) -> Taken:
    _replayed[:] = _statements(client, where)
    size = len(client.get(where, follow=False).content) / 1024
    page, side = _paired(lambda: client.get(where), lambda: client.get("/bench/bare/"), rounds)
    ratio = statistics.median(a / b for a, b in zip(page, side, strict=True))
    middle = statistics.median(page), statistics.median(side)
    taken = Taken(*middle, len(_replayed), ratio, size)
    _say(
        f"{where[:35]:36}{taken.page_ms:8.1f} ms {taken.bare_ms:8.1f} ms bare "
        f"{taken.ratio:6.2f} x  {taken.statements:3} statements {taken.size_kb:6.0f} KB",
    )
    return taken


def _compare(client: Client, name: str, first: str, deep: str, rounds: int) -> None:
    pair = _paired(lambda: client.get(first), lambda: client.get(first + deep), rounds)
    ratio = statistics.median(b / a for a, b in zip(*pair, strict=True))
    early, late = map(statistics.median, pair)
    _say(f"{name:36}{early:8.1f} ms {late:8.1f} ms deepest {ratio:6.2f} x its first page")


def _statements(client: Client, where: str) -> list[Statement]:
    """What the page's view runs, without what its middleware runs before it."""
    client.get(where)
    with _noted() as before:
        client.get("/bench/nothing/")
    with _noted() as noted:
        answer = client.get(where)
    if answer.status_code not in {200, 302}:
        raise RuntimeError(f"{where} answered {answer.status_code}")
    return [one for one in noted[len(before) :] if one[0].lstrip().startswith(("SELECT", "WITH"))]


@contextmanager
def _noted() -> Any:
    noted: list[Statement] = []

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        noted.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield noted


def _paired(
    one: Callable[[], Any], other: Callable[[], Any], rounds: int
) -> tuple[list[float], list[float]]:
    """Both in turn, in ms; who goes first changes each time."""
    first: list[float] = []
    second: list[float] = []
    for turn in range(rounds):
        for call, to in ((one, first), (other, second))[:: 1 if turn % 2 else -1]:
            start = time.perf_counter()
            call()
            to.append((time.perf_counter() - start) * 1000)
    return first, second


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()
