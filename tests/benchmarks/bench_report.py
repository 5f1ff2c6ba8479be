"""How fast the manager's report is gathered, beside its bare SQL, paired in one run.

On the kept register of `--size` hoses, with a twentieth as many failures and times down in the
year, which this adds once. Only ratios taken in one run mean anything.
"""

import datetime as dt
import os
from decimal import Decimal
from functools import partial

from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.models import Stay
from fleet.models import Downtime, Person
from scheduling.calc.life.comparison import side_by_side
from scheduling.models import Failure
from scheduling.queries.group_rates import By, group_rates
from scheduling.queries.losses import LossScope, Period
from scheduling.reports.content import report_content
from scheduling.reports.gathering import gathered
from tests.benchmarks.timing import paired, say

ON_REGISTER = True
LAST = dt.date(2026, 3, 8)
NOW = dt.datetime(2026, 3, 9, 8, tzinfo=dt.UTC)
MODES = ("burst", "pinhole", "body_leak", "crimp_leak")
CAUSES = ("abrasion", "age", "fatigue", "unknown", "seat")


def main() -> None:
    hoses = int(os.environ.get("BENCH_HOSES", "100000"))
    _add_losses(hoses // 20)
    person = _everyone()
    first = LAST - dt.timedelta(364)
    begins = dt.datetime.combine(first, dt.time(0), dt.UTC)
    ends = dt.datetime.combine(LAST + dt.timedelta(1), dt.time(0), dt.UTC)
    scope, period = LossScope(person), Period(first, LAST, begins, ends)

    def report() -> None:
        found = gathered(scope, period, today=NOW.date(), now=NOW)
        report_content(
            found, scope_words="all", currency="EUR", made_on=NOW.date(), lists={}, places={}
        )

    def rates() -> None:
        side_by_side(group_rates(scope, period, By.HOSE_TYPE).groups)

    say(f"{hoses:,} hoses, {Failure.objects.count():,} failures")
    for name, work in (("the report", report), ("rates of hose types", rates)):
        with CaptureQueriesContext(connection) as asked:
            work()
        queries = [query["sql"] for query in asked]
        ours, bare = paired(work, partial(_bare, queries), 5)
        say(f"{name}: {1000 * ours:,.0f} ms")
        say(f"  {ours / bare:.2f} x its bare SQL ({len(queries)} queries, rows fetched, dropped)")


def _bare(queries: list[str]) -> None:
    with connection.cursor() as cursor:
        for sql in queries:
            cursor.execute(sql)
            while cursor.fetchmany(10_000):
                pass


def _everyone() -> Person:
    from fleet.actions.people import post_person
    from fleet.permissions import ensure_roles

    ensure_roles()
    person, made = Person.objects.get_or_create(username="bench-manager")
    if made:
        post_person(person=person, role="manager", site=None, by=None, at=NOW)
    return Person.objects.get(pk=person.pk)


def _add_losses(number: int) -> None:
    """Failures spread over the year on fitted hoses, each with a time down; added once."""
    if Failure.objects.filter(note="bench").exists():
        return
    stays = Stay.objects.filter(place="position", is_open=True).values_list(
        "pk", "assembly_id", "site_id", "position__machine_id"
    )
    failures, downs = [], []
    for n, (stay, hose, site, machine) in enumerate(stays[:number].iterator()):
        on = LAST - dt.timedelta(n % 365)
        at = dt.datetime.combine(on, dt.time(n % 24), dt.UTC)
        failures.append(
            Failure(
                assembly_id=hose,
                stay_id=stay,
                site_id=site,
                machine_id=machine,
                failed_at=at,
                failed_on=on,
                mode=MODES[n % 4],
                cause=CAUSES[n % 5],
                oil_lost_l=Decimal(n % 40),
                cost_minor=10_000 + n % 7,
                note="bench",
            )
        )
        downs.append(
            Downtime(
                machine_id=machine,
                site_id=site,
                from_at=at,
                from_on=on,
                to_at=at + dt.timedelta(hours=n % 9 + 1),
                planned=n % 6 == 0,
                cost_per_hour_minor=15_000,
            )
        )
    Failure.objects.bulk_create(failures, batch_size=2000)
    Downtime.objects.bulk_create(downs, batch_size=2000)
