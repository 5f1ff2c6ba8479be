"""Two people import at the same moment: the register holds each hose once, and says so."""

import datetime as dt
import threading

import pytest
from django.db import connection

from assemblies.actions.register.importing import Given, open_register, read_rows, write_rows
from assemblies.actions.register.writing import Import
from assemblies.models import Assembly, Position, Stay
from fleet.actions.refusals import Refused
from fleet.models import Machine, Site
from tests import factories as make

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(300)]
NOW = dt.datetime(2026, 3, 9, 8, 0, tzinfo=dt.UTC)
HEAD = "Machine,Position,Tag,Size"
ROUNDS = 20


def _import(site: Site, text: str, start: threading.Barrier, ended: list[str]) -> None:
    try:
        opened = open_register(Given(text.encode(), "a.csv"))
        read = read_rows(opened, answers={}, today=NOW.date())
        start.wait(30)
        plan = write_rows(rows=read.rows, into=Import(site, None, NOW, NOW.date(), "a.csv"))
        ended.append("".join(row.outcome[0] for row in plan.rows))
    except Refused as refused:
        ended.append(refused.code)
    finally:
        connection.close()


def _at_once(site: Site, *texts: str) -> list[str]:
    start, ended = threading.Barrier(len(texts)), list[str]()
    threads = [threading.Thread(target=_import, args=(site, text, start, ended)) for text in texts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return sorted(ended)


def test_the_same_file_twice_at_once_is_written_once() -> None:
    for number in range(ROUNDS):
        site = make.site()
        text = f"{HEAD}\nEX-{number},Boom,H1,1/2\nEX-{number},Boom,,1/2\n"
        assert _at_once(site, text, text) == ["nn", "ss"]
        assert Assembly.objects.filter(site=site).count() == 2
        assert Machine.objects.filter(site=site).count() == 1


def test_two_hoses_for_one_place_at_once_leave_one_there() -> None:
    for number in range(ROUNDS):
        site = make.site()
        texts = [f"{HEAD}\nEX-{number},Boom,{tag},1/2\n" for tag in ("A", "B")]
        assert _at_once(site, *texts) == ["n", "rows_refused"]
        assert Stay.objects.filter(site=site, is_open=True).count() == 1
        assert Position.objects.filter(machine__site=site).count() == 1
