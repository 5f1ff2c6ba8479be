"""Dues while they are worked out: read by others, and by a worker that is killed in the middle."""

import datetime as dt
import time
from pathlib import Path

import pytest
from django.utils import timezone

from assemblies.models import Assembly
from fleet.actions.errand_kinds import kinds
from fleet.actions.errands import ask_daily
from fleet.models import Errand
from scheduling.actions.due_dates import refresh_all
from scheduling.actions.stale import mark_stale
from scheduling.models import Due, StaleMark
from scheduling.queries.tallies import wrong_tallies
from tests import factories as make
from tests.faults.conftest import Broker, Installation, until
from tests.faults.shop.tasks import LEASE
from tests.faults.test_errand_workers import sweep, work

pytestmark = pytest.mark.django_db(transaction=True)
HOSES, CHUNK = 50, 10
OLD, NEW = dt.date(2020, 1, 1), dt.date(2021, 1, 1)

# Another process: works all dues out again and again, each time from other days.
TURNS = """
import datetime as dt, django
django.setup()
from assemblies.models import Assembly
from scheduling.actions.due_dates import refresh_all
for turn in range(30):
    day = dt.date(2020 + turn % 2, 1, 1)
    Assembly.objects.update(built_earliest_on=day, built_latest_on=day)
    refresh_all(chunk=10)
"""


@pytest.fixture
def hoses(transactional_db: None) -> None:
    """Hoses with dues, all of the same day."""
    make.life_rule(built_months=72)
    place = make.position()
    for _ in range(HOSES):
        on = make.position(machine=place.machine)
        make.fitted(on=on, built_earliest_on=OLD, built_latest_on=OLD)
    refresh_all()


def _chunks() -> list[set[dt.date | None]]:
    """The days in each chunk of ids, as one look at the table finds them."""
    days = list(Due.objects.order_by("assembly_id").values_list("replace_on", flat=True))
    assert len(days) == HOSES
    return [set(days[at : at + CHUNK]) for at in range(0, HOSES, CHUNK)]


def test_readers_see_old_or_new_rows_of_a_chunk_and_never_none(
    hoses: None, installation: Installation
) -> None:
    refreshing = installation.start("-c", TURNS)
    seen: set[tuple[dt.date | None, ...]] = set()
    while refreshing.poll() is None:
        chunks = _chunks()
        assert all(len(days) == 1 for days in chunks)
        seen.add(tuple(day for days in chunks for day in days))
    assert refreshing.returncode == 0, installation.said(refreshing)
    assert len(seen) > 2  # between the first and the last state too: a look fell into a run
    assert list(wrong_tallies()) == []


def _no_daily_errands() -> None:
    """Today's were done already: else the whole run of the day would end what was begun."""
    for kind in kinds.values():
        if kind.daily:
            ask_daily(kind=kind.name, at=timezone.now())
    Errand.objects.update(state="done", ended_at=timezone.now())


@pytest.mark.redis
def test_a_worker_killed_in_a_refresh_leaves_old_dues_whole_and_the_next_sweep_ends_it(
    hoses: None, installation: Installation, broker: Broker, tmp_path: Path
) -> None:
    Assembly.objects.update(built_earliest_on=NEW, built_latest_on=NEW)
    mark_stale(subject="everything", ids=(), at=make.NOW)
    _no_daily_errands()
    told = tmp_path / "killed"
    work(installation, broker, DIE_IN_A_REFRESH=str(told))
    sweep(installation, broker)
    until(told.exists)
    until(lambda: "WorkerLostError" in installation.said(installation.started[0]))
    due, was = dt.date(2027, 1, 1), dt.date(2026, 1, 1)
    assert _chunks() == [{due}, {due}, {was}, {was}, {was}]  # the third was being written
    assert StaleMark.objects.get().done_generation == 0
    assert list(wrong_tallies()) == []
    time.sleep(LEASE.total_seconds() + 0.5)
    sweep(installation, broker)
    until(lambda: StaleMark.objects.get().done_generation == 1)
    assert _chunks() == [{due}] * 5
    assert refresh_all(check=True).written == 0
    assert list(wrong_tallies()) == []
