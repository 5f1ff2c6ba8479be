"""Of two workers that reach for one errand at the same moment, exactly one has it."""

import datetime as dt
import multiprocessing as mp
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection, models
from django.utils import timezone

from fleet.actions import errand_kinds, errands, sweeps
from fleet.actions.errand_kinds import register_errand, register_sweep
from fleet.actions.errands import ErrandRun, ask_daily, ask_errand, run_errand
from fleet.models import Errand

pytestmark = pytest.mark.django_db(transaction=True)
ROUNDS = 200
FORK = mp.get_context("fork")


@pytest.fixture(autouse=True)
def _race_kinds(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(errand_kinds, "kinds", errand_kinds.kinds.copy())
    monkeypatch.setattr(errands, "kinds", errand_kinds.kinds)
    mine: dict[str, Any] = {}
    monkeypatch.setattr(sweeps, "sweeps", mine)
    monkeypatch.setattr(errand_kinds, "sweeps", mine)
    register_errand("race", daily=True)(_nothing)
    yield
    connection.close()


def _nothing(run: ErrandRun) -> None:
    """A race is about who has it, not about what is done."""


def together(deed: Any, things: list[Any]) -> list[int]:
    """Two processes do the deed to each thing at once; how many of the two succeeded, by round."""
    connection.close()
    barrier, answers = FORK.Barrier(2), FORK.Queue()
    sides = [
        FORK.Process(target=_side, args=(deed, things, barrier, answers), daemon=True)
        for _ in range(2)
    ]
    for side in sides:
        side.start()
    results = [answers.get(timeout=120) for _ in sides]
    for side in sides:
        side.join(timeout=60)
    return [sum(pair) for pair in zip(*results, strict=True)]


def _side(deed: Any, things: list[Any], barrier: Any, answers: Any) -> None:
    won = []
    for thing in things:
        barrier.wait(60)
        won.append(bool(deed(thing)))
    connection.close()
    answers.put(won)


def claim(errand_id: int) -> bool:
    return run_errand(errand_id=errand_id, clock=timezone.now)


def asked(count: int) -> list[int]:
    return [ask_errand(kind="race", at=timezone.now()).pk for _ in range(count)]


def test_one_of_two_workers_has_the_errand() -> None:
    assert together(claim, asked(ROUNDS)) == [1] * ROUNDS
    assert set(Errand.objects.values_list("state", "attempts")) == {("done", 1)}


def test_without_the_condition_both_would_have_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(errands, "claimable", _claimable_by_all)
    assert 2 in together(claim, asked(ROUNDS))


def _claimable_by_all(at: dt.datetime) -> "models.QuerySet[Errand]":
    return Errand.objects.filter(asked_at__lte=at)


def test_one_of_two_sweepers_runs_the_sweep() -> None:
    register_sweep("count")(lambda at: None)
    both = together(_sweep, list(range(ROUNDS // 4)))
    assert set(both) == {1}


def _sweep(number: int) -> bool:
    """Whether this side has the sweep's lease; the other is beaten until it is given back."""
    at = dt.datetime(2026, 1, 1, tzinfo=dt.UTC) + number * 2 * sweeps.LEASE
    return bool(sweeps._claim("count", at))


def test_a_daily_errand_is_made_once_by_two_sweepers() -> None:
    days = [dt.datetime(2026, 1, 1, tzinfo=dt.UTC) + dt.timedelta(days=n) for n in range(50)]
    assert together(_ask_daily, days) == [2] * 50
    assert Errand.objects.count() == 50


def _ask_daily(day: dt.datetime) -> Errand:
    return ask_daily(kind="race", at=day)


def test_an_errand_with_a_key_is_asked_for_once_by_two_people() -> None:
    keys = [f"site {n}" for n in range(50)]
    assert together(_ask_with_key, keys) == [2] * 50
    assert Errand.objects.count() == 50


def _ask_with_key(key: str) -> Errand:
    return ask_errand(kind="race", at=timezone.now(), key=key)
