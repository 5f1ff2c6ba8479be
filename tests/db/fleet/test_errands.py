"""Errands: asked for, claimed, done, put back and given up."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction

from fleet.actions import errand_kinds
from fleet.actions.errand_kinds import register_errand
from fleet.actions.errands import (
    ErrandRun,
    LeaseLost,
    ask_daily,
    ask_errand,
    give_up_lost,
    renew_lease,
    run_errand,
)
from fleet.actions.refusals import Refused
from fleet.models import Errand
from fleet.queries.errands import errand_progress

pytestmark = pytest.mark.django_db
NOON = dt.datetime(2026, 3, 29, 12, tzinfo=dt.UTC)


@pytest.fixture
def done() -> Iterator[list[Any]]:
    """A kind of errand, *write*, that notes what it was given; the list is what it noted."""
    kept, noted = dict(errand_kinds.kinds), []

    @register_errand("write", daily=True)
    def write(run: ErrandRun) -> dict[str, Any]:
        noted.append(run.payload)
        if run.payload.get("refuse"):
            raise Refused("no", "The file is gone.")
        if run.payload.get("fail"):
            raise ValueError("bent")
        run.progress(1, 2)
        return {"lines": 3}

    yield noted
    errand_kinds.kinds.clear()
    errand_kinds.kinds.update(kept)


def clock_at(moment: dt.datetime) -> Any:
    return lambda: moment


def ask(**payload: Any) -> Errand:
    return ask_errand(kind="write", at=NOON, payload=payload)


def test_does_an_errand_once(done: list[Any]) -> None:
    errand = ask(file=7)
    assert run_errand(errand_id=errand.pk, clock=clock_at(NOON))
    assert not run_errand(errand_id=errand.pk, clock=clock_at(NOON))
    errand.refresh_from_db()
    assert (errand.state, errand.result, done) == ("done", {"lines": 3}, [{"file": 7}])


def test_leaves_an_errand_whose_time_has_not_come(done: list[Any]) -> None:
    later = NOON + dt.timedelta(seconds=1)
    errand = ask_errand(kind="write", at=NOON, not_before_at=later)
    assert not run_errand(errand_id=errand.pk, clock=clock_at(NOON))
    assert run_errand(errand_id=errand.pk, clock=clock_at(later))


def test_leaves_an_errand_that_another_worker_holds(done: list[Any]) -> None:
    errand = ask()
    Errand.objects.update(lease_until_at=NOON + dt.timedelta(seconds=9), lease_token="other")
    assert not run_errand(errand_id=errand.pk, clock=clock_at(NOON))
    assert done == []


def test_takes_over_when_the_lease_of_a_dead_worker_has_run_out(done: list[Any]) -> None:
    errand = ask()
    Errand.objects.update(lease_until_at=NOON - dt.timedelta(seconds=1), attempts=1)
    assert run_errand(errand_id=errand.pk, clock=clock_at(NOON))
    errand.refresh_from_db()
    assert (errand.state, errand.attempts) == ("done", 2)


def test_tries_a_failed_errand_again_later_and_gives_up_after_the_last(done: list[Any]) -> None:
    errand, now = ask(fail=True), NOON
    for pause_s in (30, 120):
        assert run_errand(errand_id=errand.pk, clock=clock_at(now))
        errand.refresh_from_db()
        assert errand.not_before_at == now + dt.timedelta(seconds=pause_s)
        now = errand.not_before_at
    run_errand(errand_id=errand.pk, clock=clock_at(now))
    errand.refresh_from_db()
    assert (errand.state, errand.error, len(done)) == ("failed", "ValueError: bent", 3)


def test_does_not_try_again_what_was_refused(done: list[Any]) -> None:
    errand = ask(refuse=True)
    run_errand(errand_id=errand.pk, clock=clock_at(NOON))
    errand.refresh_from_db()
    assert (errand.state, errand.error) == ("failed", "The file is gone.")


def test_gives_up_an_errand_that_stops_its_worker_every_time(done: list[Any]) -> None:
    errand = ask()
    Errand.objects.update(attempts=3, lease_until_at=NOON - dt.timedelta(seconds=1))
    assert give_up_lost(at=NOON) == 1
    errand.refresh_from_db()
    assert errand.state == "failed"
    assert errand.error == (
        "It was begun 3 times and never finished: the worker stopped each time."
    )
    assert give_up_lost(at=NOON) == 0


def test_a_late_twin_writes_nothing(done: list[Any]) -> None:
    errand = ask()
    run = ErrandRun(errand.pk, errand_kinds.kinds["write"], {}, None, "stale", clock_at(NOON))
    Errand.objects.update(lease_token="newer", lease_until_at=NOON)
    with pytest.raises(LeaseLost):
        run.progress(1, 2)
    assert not renew_lease(errand_id=errand.pk, token="stale", until=NOON)
    errand.refresh_from_db()
    assert (errand.progress_done, errand.lease_token) == (0, "newer")


def test_asks_once_while_one_with_the_key_waits_to_begin(done: list[Any]) -> None:
    first = ask_errand(kind="write", at=NOON, key="site 1")
    assert ask_errand(kind="write", at=NOON, key="site 1").pk == first.pk
    assert ask_errand(kind="write", at=NOON, key="site 2").pk != first.pk


def test_asks_anew_once_the_first_has_begun(done: list[Any]) -> None:
    first = ask_errand(kind="write", at=NOON, key="site 1")
    Errand.objects.filter(pk=first.pk).update(began_at=NOON)
    assert ask_errand(kind="write", at=NOON, key="site 1").pk != first.pk


def test_a_daily_errand_is_asked_for_once_a_day_whoever_asks(done: list[Any]) -> None:
    evening = NOON + dt.timedelta(hours=11, minutes=59)
    first = ask_daily(kind="write", at=NOON)
    assert ask_daily(kind="write", at=evening).pk == first.pk
    assert ask_daily(kind="write", at=evening + dt.timedelta(minutes=1)).pk != first.pk


def test_an_errand_of_a_change_that_was_undone_is_not_there(done: list[Any]) -> None:
    with transaction.atomic():
        ask()
        transaction.set_rollback(True)
    assert not Errand.objects.exists()


def test_shows_progress_to_the_person_who_asked_and_to_no_other(
    done: list[Any], django_user_model: Any
) -> None:
    asker, other = (django_user_model.objects.create_user(name) for name in ("asker", "other"))
    errand = ask_errand(kind="write", at=NOON, person=asker)
    Errand.objects.update(progress_done=1, progress_total=3)
    seen = errand_progress(errand_id=errand.pk, person=asker, at=NOON)
    assert seen is not None
    assert (seen.state, seen.per_cent) == ("waiting", 33)
    assert errand_progress(errand_id=errand.pk, person=other, at=NOON) is None
