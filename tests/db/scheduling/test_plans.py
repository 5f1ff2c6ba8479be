"""Every listed page of a register of some thousands: read by indexes, at any depth."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from assemblies.models import Assembly
from fleet.models import HourReading, Machine
from scheduling.actions.stale import refresh_everything
from scheduling.actions.tallies import put_tallies_together
from scheduling.models import Due, Failure
from tests import factories as make
from tests.benchmarks import big_register
from tests.db.scheduling.plans import faults_of

pytestmark = pytest.mark.django_db
HOSES = 4000
EACH = 4  # on a machine, so that there are machines enough
# Statements that no index serves, with the reason why they may be.
ALLOWED = {
    'SELECT %s AS "a" FROM "fleet_machine" WHERE': "stops at the first that was not withdrawn",
    '"fleet_machine"."number_key"::text LIKE': "a part of a number may stand anywhere in it: of "
    "1,000,000 hoses' 25,000 machines that is read in a few milliseconds",
}

PAGES = [
    "/",
    "/t/{tag}",
    "/hoses/{hose}/",
    "/hoses/{hose}/why/",
    "/positions/{hose}/",
    "/machines/{machine}/",
    "/find/?q=k{hose}",
    "/find/?q=k23",
    "/due/",
    "/due/?site=3&standing=over",
    "/due/?site=3&standing=soon",
    "/due/?site=3&consequence=hurts",
    "/due/?standing=over&consequence=hurts",
    "/due/?standing=fine",
    "/due/?standing=undated",
    "/due/?standing=out",
    "/due/?by=machine",
    "/due/?machine={machine}",
    "/due/?within=90",
    "/machines/",
    "/machines/?site=3&machine_class=2",
    "/untagged/",
    "/doubtful/",
    "/failures/",
    "/machines/{machine}/reading/",
    "/api/v1/dues/",
    "/api/v1/machines/{machine}/readings/",
    "/due/?after={by_day}",
    "/due/?site=3&after={by_day}",
    "/due/?by=machine&after={by_machine}",
    "/machines/?after={by_number}",
    "/untagged/?after={by_id}",
    "/failures/?after={by_failure}",
    "/doubtful/?after={by_reading}",
]


@pytest.fixture
def places(monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """A register of some thousands with its statistics; what the addresses above name in it."""
    monkeypatch.setattr(big_register, "HOSES_A_MACHINE", EACH)
    big_register.fill(HOSES)
    refresh_everything()
    put_tallies_together(most=1)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":  # which else does so by itself, a minute later
            cursor.execute("ANALYZE")
    tagged = Assembly.objects.exclude(tag=None)
    due = Due.objects.exclude(due_on=None).exclude(machine=None).order_by("-due_on", "-pk")[50]
    machine = Machine.objects.order_by("-number_key", "-pk")[10]
    failure = Failure.objects.order_by("failed_on", "pk")[5]
    reading = HourReading.objects.exclude(doubt="").order_by("pk")[0]
    day = f"day:{due.due_on:%Y-%m-%d}"
    key = due.machine.number_key if due.machine else ""
    return {
        "tag": tagged.order_by("-pk")[100].tag_id or "",
        "hose": str(HOSES * 6 // 10 + 1),
        "machine": str(HOSES // EACH * 6 // 10),
        "by_day": json.dumps([day, due.pk]),
        "by_machine": json.dumps([key, due.machine_id, day, due.pk]),
        "by_number": json.dumps([machine.number_key, machine.pk]),
        "by_id": json.dumps([HOSES // 2]),
        "by_failure": json.dumps([f"day:{failure.failed_on:%Y-%m-%d}", failure.pk]),
        "by_reading": json.dumps([reading.pk]),
    }


def test_every_page_is_read_by_indexes(client: Client, places: dict[str, str]) -> None:
    """One test for all, because the register takes longer to fill than they take to read."""
    client.force_login(make.person("planner"))
    found = {page: _faults(client, page.format(**places)) for page in PAGES}
    told = [f"{page}: {fault}" for page, faults in found.items() for fault in faults]
    assert not told, "\n".join(told)
    if connection.vendor == "sqlite":
        _forget_statistics()
        for page in ("/due/", "/machines/"):  # of a new register, of which nothing is known yet
            assert _faults(client, page) == []


def test_a_statement_that_reads_a_table_through_is_told_of(places: dict[str, str]) -> None:
    told = faults_of("SELECT * FROM scheduling_due WHERE flags = 77", ())
    assert len(told) == 1
    assert "scheduling_due" in told[0]
    sorts = "SELECT * FROM assemblies_assembly ORDER BY note LIMIT 10"
    assert faults_of(sorts, ())
    assert faults_of("SELECT * FROM scheduling_due WHERE assembly_id = 3", ()) == []
    walk = "SELECT * FROM scheduling_due ORDER BY due_on, assembly_id LIMIT 10"
    assert faults_of(walk, ()) == []


def _forget_statistics() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM sqlite_stat1 WHERE tbl = 'scheduling_due'")
        assert cursor.fetchone()[0] > 0, "the whole run has left no statistics"
        cursor.execute("DELETE FROM sqlite_stat1")
        cursor.execute("ANALYZE sqlite_schema")


def _faults(client: Client, address: str) -> list[str]:
    with _noted() as noted:
        answer = client.get(address)
    assert answer.status_code in {200, 302}, (address, answer.status_code)
    told = ((sql, params) for sql, params in noted if sql.startswith(("SELECT", "WITH")))
    return [
        f"{fault} in {sql[:60]}…{sql[sql.find(' FROM ') :][:300]}"
        for sql, params in told
        if not any(part in sql for part in ALLOWED)
        for fault in faults_of(sql, params)
    ]


@contextmanager
def _noted() -> Iterator[list[tuple[str, Any]]]:
    """The statements as they are sent: a value written in may use an index that a parameter
    can't."""
    noted: list[tuple[str, Any]] = []

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        noted.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield noted
