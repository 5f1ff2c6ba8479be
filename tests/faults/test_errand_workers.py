"""Celery workers and the broker, killed, frozen and lost; the table of errands loses nothing."""

import datetime as dt
import signal
import time
from pathlib import Path

import pytest
from django.db import transaction
from django.test import override_settings
from django.utils import timezone

from fleet.actions.errand_kinds import kinds
from fleet.actions.errands import ask_errand
from fleet.models import Errand
from tests.faults.conftest import Broker, Installation, until
from tests.faults.shop import tasks as shop

pytestmark = [pytest.mark.redis, pytest.mark.django_db(transaction=True)]
WORKER = ("-m", "celery", "-A", "fleet.config.celery", "worker", "--concurrency", "1", "-l", "INFO")


@pytest.fixture(autouse=True)
def _kinds(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tests' own kinds are known here too, so that they can be asked for."""
    assert dt.timedelta(minutes=1) > shop.LEASE
    assert {"note", "slow", "dies once", "dies always"} <= set(kinds)


def ask(kind: str, folder: Path) -> Errand:
    payload = {"file": str(folder / f"{kind}.txt")}
    return ask_errand(kind=kind, at=timezone.now(), payload=payload)


def state(errand: Errand) -> str:
    errand.refresh_from_db()
    return str(errand.state)


def runs(folder: Path, kind: str) -> int:
    path = folder / f"{kind}.txt"
    return len(path.read_text().splitlines()) if path.exists() else 0


def work(installation: Installation, broker: Broker, *more: str, **told: str) -> None:
    """Start a worker, and wait until it listens."""
    process = installation.start(*WORKER, *more, REDIS_URL=broker.address, **told)
    until(lambda: " ready." in installation.said(process))


def sweep(installation: Installation, broker: Broker) -> None:
    """What beat does each minute."""
    send = "from fleet.tasks import sweep; import fleet.config.celery; sweep.delay()"
    command = f"import django; django.setup(); {send}"
    answer = installation.run("-c", command, REDIS_URL=broker.address)
    assert answer.returncode == 0, answer.stderr


def test_an_errand_is_done_by_a_worker_after_the_commit(
    installation: Installation, broker: Broker, tmp_path: Path
) -> None:
    work(installation, broker)
    with _celery_on(broker), transaction.atomic():
        errand = ask("note", tmp_path)
        time.sleep(0.5)
        assert runs(tmp_path, "note") == 0
    until(lambda: state(errand) == "done")
    assert (errand.result, errand.attempts) == ({"runs": 1}, 1)


def test_a_nudge_that_was_lost_costs_one_sweep(
    installation: Installation, broker: Broker, tmp_path: Path
) -> None:
    errand = ask("note", tmp_path)
    work(installation, broker)
    sweep(installation, broker)
    until(lambda: state(errand) == "done")
    assert state(errand) == "done"


def test_an_errand_whose_worker_was_killed_is_done_by_the_next_sweep(
    installation: Installation, broker: Broker, tmp_path: Path
) -> None:
    errand = ask("dies once", tmp_path)
    work(installation, broker)
    sweep(installation, broker)
    until(lambda: runs(tmp_path, "dies once") == 1)
    time.sleep(shop.LEASE.total_seconds() + 0.5)
    sweep(installation, broker)
    until(lambda: state(errand) == "done")
    assert (errand.attempts, runs(tmp_path, "dies once")) == (2, 2)


def test_an_errand_that_kills_every_worker_is_given_up_and_shown(
    installation: Installation, broker: Broker, tmp_path: Path
) -> None:
    errand = ask("dies always", tmp_path)
    work(installation, broker)
    for _ in range(3):
        sweep(installation, broker)
        time.sleep(shop.LEASE.total_seconds() + 1)
    until(lambda: state(errand) == "failed")
    assert runs(tmp_path, "dies always") == 2
    assert "begun 2 times and never finished" in errand.error


def test_a_long_errand_keeps_its_lease_and_runs_once(
    installation: Installation, broker: Broker, tmp_path: Path
) -> None:
    errand = ask("slow", tmp_path)
    work(installation, broker)
    work(installation, broker, "--hostname", "second@%h")
    for _ in range(5):
        sweep(installation, broker)
        time.sleep(0.5)
    until(lambda: state(errand) == "done")
    assert runs(tmp_path, "slow") == 1


@pytest.mark.parametrize("trouble", ["away", "frozen"])
def test_a_broker_that_is_no_help_holds_up_nobody(
    trouble: str, broker: Broker, tmp_path: Path
) -> None:
    """The row is there, the request goes on within two seconds, and nothing is raised."""
    with _celery_on(broker), transaction.atomic():
        ask("note", tmp_path)  # once while all is well: loading the client is not what is timed
    if trouble == "away":
        broker.stop()
    else:
        broker.signal(signal.SIGSTOP)
    began = time.monotonic()
    with _celery_on(broker), transaction.atomic():
        errand = ask("note", tmp_path)
    assert time.monotonic() - began < 10  # without time-outs it would wait for ever
    assert state(errand) == "waiting"


def _celery_on(broker: Broker) -> override_settings:
    """This process asks as a web server with that broker would."""
    from fleet.config.celery import app

    app.conf.broker_url = broker.address
    app.set_current()
    return override_settings(REDIS_URL=broker.address)
