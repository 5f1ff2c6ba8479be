"""The report counts once, says how, keeps to its scope; page, paper and workbook say the same."""

import datetime as dt
import io
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import openpyxl
import pdfplumber
import pytest
from django.test import Client
from django.urls import reverse

from assemblies.models import Position, Stay
from fleet.models import Downtime, HourReading, Machine, Person, Site
from scheduling.calc.report import ReportContent
from scheduling.models import Failure
from scheduling.queries.losses import LossScope, Period
from scheduling.queries.run_hours import hours_run
from scheduling.reports.content import report_content
from scheduling.reports.gathering import Gathered, gathered
from scheduling.reports.workbook import report_workbook
from tests import factories as make

pytestmark = pytest.mark.django_db
FIRST, LAST = dt.date(2026, 1, 1), dt.date(2026, 2, 28)
NOW = dt.datetime(2026, 3, 9, 8, tzinfo=dt.UTC)


def period(first: dt.date = FIRST, last: dt.date = LAST) -> Period:
    begins = dt.datetime.combine(first, dt.time(0), dt.UTC)
    ends = dt.datetime.combine(last + dt.timedelta(1), dt.time(0), dt.UTC)
    return Period(first, last, begins, ends)


def manager(*sites: Site) -> Person:
    made = make.person("manager", at=sites[0])
    for site in sites[1:]:
        from fleet.actions.people import post_person

        post_person(person=made, role="manager", site=site, by=None, at=NOW)
    return Person.objects.get(pk=made.pk)


def failed(place: Position, on: dt.date, **facts: Any) -> Failure:
    hose = make.fitted(on=place)
    Stay.objects.filter(assembly=hose).update(is_open=False, to_on=on, removal="failed")
    at = dt.datetime.combine(on, dt.time(10), dt.UTC)
    plain: dict[str, Any] = {"assembly": hose, "stay": hose.stays.get(), "site": hose.site}
    plain |= {"machine": place.machine, "failed_at": at, "failed_on": on, "mode": "burst"}
    return Failure.objects.create(**{**plain, **facts})


def stood(machine: Machine, start: str, end: str | None, **facts: Any) -> Downtime:
    begins = dt.datetime.fromisoformat(f"{start}:00+00:00")
    return Downtime.objects.create(
        machine=machine,
        site=machine.site,
        from_at=begins,
        from_on=begins.date(),
        to_at=end and dt.datetime.fromisoformat(f"{end}:00+00:00"),
        **{"cost_per_hour_minor": 10_000, **facts},
    )


def read(machine: Machine, on: dt.date, hours: int, **facts: Any) -> None:
    HourReading.objects.create(
        meter=machine.meters.get(),
        site=machine.site,
        read_at=dt.datetime.combine(on, dt.time(12), dt.UTC),
        read_on=on,
        reading_h=hours,
        machine_h=hours,
        recorded_at=NOW,
        **facts,
    )


def found(person: Person, asked: Period | None = None, **scope: int) -> Gathered:
    return gathered(LossScope(person, **scope), asked or period(), today=NOW.date(), now=NOW)


def content(person: Person, **scope: int) -> ReportContent:
    return report_content(
        found(person, None, **scope),
        scope_words="Blackmere Quarry: all machines",
        currency="EUR",
        made_on=NOW.date(),
        lists={},
        places={},
    )


def figure(told: ReportContent, key: str) -> Any:
    return next(one for one in told.figures if one.key == key)


def test_overlapping_time_down_counts_once_and_is_cut_at_the_period() -> None:
    machine = make.machine()
    stood(machine, "2026-01-10T08:00", "2026-01-10T12:00")
    stood(machine, "2026-01-10T10:00", "2026-01-10T14:00", planned=True)
    stood(machine, "2025-12-31T20:00", "2026-01-01T02:00")
    told = content(manager(machine.site))
    assert figure(told, "unplanned").value == Decimal("6.0")
    assert figure(told, "planned").value == Decimal("2.0")
    assert figure(told, "lost").value == Decimal("600.00")


def test_a_machine_still_down_counts_until_now_and_no_further() -> None:
    machine = make.machine()
    stood(machine, "2026-03-09T06:00", None)
    asked = period(dt.date(2026, 3, 1), dt.date(2026, 3, 31))
    assert found(manager(machine.site), asked).unplanned_h == Decimal("2.0")


def test_hours_run_are_carried_from_the_readings_to_the_period_s_edges() -> None:
    machine = make.machine()
    read(machine, dt.date(2026, 1, 11), 1000)
    read(machine, dt.date(2026, 2, 10), 1300)
    read(machine, dt.date(2026, 2, 20), 9000, doubt="too many")
    run = hours_run(LossScope(manager(machine.site)), period())
    assert (run.hours, run.machines, run.estimated) == (Decimal("590.0"), 1, 0)


def test_a_machine_without_readings_counts_at_its_usual_hours_and_says_so() -> None:
    machine = make.machine()
    run = hours_run(LossScope(manager(machine.site)), period())
    assert (run.hours, run.estimated) == (Decimal(8 * 59), 1)
    assert "1 without two readings" in figure(content(manager(machine.site)), "hours").note


def test_the_rate_has_exact_limits_and_is_set_against_the_period_before() -> None:
    place = make.position()
    for day in range(3):
        failed(place, FIRST + dt.timedelta(day))
    failed(place, FIRST - dt.timedelta(5))
    told = content(manager(place.machine.site))
    rate = figure(told, "rate")
    assert rate.value == Decimal("6.36")  # 3 ÷ 472 h × 1,000
    assert (rate.low, rate.high) == (Decimal("1.31"), Decimal("18.57"))
    assert "No change from the period before" in rate.note
    assert figure(told, "failures").note == "1 in the 59 days before."


def test_few_failures_are_warned_of() -> None:
    place = make.position()
    failed(place, FIRST)
    told = content(manager(place.machine.site))
    assert told.warnings[0].startswith("Only 1 failure in this period")
    assert "no known cause" in told.warnings[1]


def test_nothing_is_said_to_be_nothing_and_not_to_be_zero() -> None:
    told = content(manager(make.site()))
    assert figure(told, "rate").value is None
    assert figure(told, "rate").why == "No machine hour is known in this period."
    assert figure(told, "changed_share").value is None
    assert [table.rows for table in told.tables][1:] == [(), (), ()]


def test_causes_modes_and_worst_places_are_ordered() -> None:
    place, other = make.position(), make.position()
    for cause in ("abrasion", "abrasion", "age"):
        failed(place, FIRST, cause=cause, oil_lost_l=Decimal(10))
    failed(other, FIRST, cause="age", mode="pinhole", oil_lost_l=Decimal(90))
    told = content(manager(place.machine.site, other.machine.site))
    causes, modes, worst = told.tables[1:]
    assert [list(row.cells[:2]) for row in causes.rows] == [["abrasion", 2], ["age", 2]]
    assert [row.cells[0] for row in modes.rows] == ["burst", "pinhole"]
    assert [list(row.cells[1:]) for row in worst.rows] == [[3, Decimal(30)], [1, Decimal(90)]]


def test_another_site_s_losses_are_not_in_it() -> None:
    place = make.position()
    failed(place, FIRST)
    stood(place.machine, "2026-01-10T08:00", "2026-01-10T12:00")
    told = content(manager(make.site()))
    assert figure(told, "failures").value == 0
    assert figure(told, "unplanned").value == 0


def test_a_class_narrows_every_figure() -> None:
    site = make.site()
    one, two = make.machine(at=site), make.machine(at=site)
    failed(make.position(on=one), FIRST)
    stood(two, "2026-01-10T08:00", "2026-01-10T12:00")
    told = content(manager(site), machine_class_id=one.machine_class_id)
    assert (figure(told, "failures").value, figure(told, "unplanned").value) == (1, 0)
    assert figure(told, "overdue_share").why == "Kept for sites, not for a class."


@pytest.fixture
def year(client: Client) -> tuple[Client, str]:
    """A manager at a yard with losses, logged in, and the address of the report."""
    place = make.position()
    for day, cause in enumerate(("abrasion", "age", "unknown", "abrasion", "seat", "age")):
        failed(place, FIRST + dt.timedelta(day), cause=cause, cost_minor=12_345)
    stood(place.machine, "2026-01-10T08:00", "2026-01-11T12:30")
    client.force_login(manager(place.machine.site))
    return client, f"?from_on={FIRST}&to_on={LAST}"


def _numbers(text: str) -> list[str]:
    return re.findall(r"\d[\d,\u202f ]*\.?\d*", text)


def _plain(value: Decimal, places: int) -> str:
    return f"{value:,.{places}f}"


def _values(told: ReportContent) -> Iterator[str]:
    for one in told.figures:
        if one.value is not None:
            places = 2 if one.unit == "money" else 1 if one.unit == "%" else one.places
            yield _plain(one.value, places)


def test_page_paper_and_workbook_say_the_same(year: tuple[Client, str]) -> None:
    client, asked = year
    page = client.get(reverse("scheduling:report") + asked)
    told: ReportContent = page.context["content"]
    paper = client.get(reverse("scheduling:report_pdf") + asked).content
    with pdfplumber.open(io.BytesIO(paper)) as opened:
        printed = "\n".join(leaf.extract_text() for leaf in opened.pages)
    book = openpyxl.load_workbook(
        io.BytesIO(client.get(reverse("scheduling:report_xlsx") + asked).content)
    )
    sheet = {row[0]: row[1] for row in book["Figures"].iter_rows(values_only=True) if row[0]}
    shown = page.content.decode().replace("\u202f", ",")
    for one, value in zip(
        (f for f in told.figures if f.value is not None), _values(told), strict=True
    ):
        assert value in printed, one.key
        assert value in shown, one.key
        assert Decimal(str(sheet[one.words])) == one.value


def test_every_table_of_the_workbook_is_the_page_s(year: tuple[Client, str]) -> None:
    client, asked = year
    told: ReportContent = client.get(reverse("scheduling:report") + asked).context["content"]
    book = openpyxl.load_workbook(
        io.BytesIO(client.get(reverse("scheduling:report_xlsx") + asked).content)
    )
    for table in told.tables:
        rows = list(book[table.title[:31]].iter_rows(min_row=2, values_only=True))
        assert len(rows) == len(table.rows)
        assert [str(row[0]) for row in rows] == [str(row.cells[0]) for row in table.rows]


def test_each_figure_leads_to_its_list(year: tuple[Client, str]) -> None:
    client, asked = year
    told: ReportContent = client.get(reverse("scheduling:report") + asked).context["content"]
    assert all(one.link for one in told.figures)
    for address in {one.link for one in told.figures}:
        assert client.get(address).status_code == 200
    listed = client.get(reverse("scheduling:report_failures") + asked).context["page"]
    assert len(listed.rows) == figure(told, "failures").value


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ("?from_on=2026-02-01&to_on=2026-01-01", "turn them round"),
        ("?from_on=2010-02-01&to_on=2026-01-01", "five years at most"),
        ("?from_on=2100-02-01&to_on=2100-03-01", "still to come"),
        ("?from_on=9/3/2026", "could be two days"),
        ("?from_on=soon", "is not a day"),
        ("?site=999999", "Select a valid choice"),
        ("?machine_class=x", "Select a valid choice"),
    ],
)
def test_refuses_a_period_or_scope_that_can_t_be(
    asked: str, sentence: str, year: tuple[Client, str]
) -> None:
    client, _ = year
    assert sentence in client.get(reverse("scheduling:report") + asked).content.decode()
    assert client.get(reverse("scheduling:report_pdf") + asked).status_code == 400


NAMES = (
    "report",
    "report_pdf",
    "report_xlsx",
    "report_failures",
    "report_downtimes",
    "report_changes",
)


@pytest.mark.parametrize("name", NAMES)
def test_only_who_may_read_costs_sees_it(name: str, client: Client) -> None:
    address, site = reverse(f"scheduling:{name}"), make.site()
    assert client.get(address).status_code == 302
    client.force_login(make.person("fitter", at=site))
    assert client.get(address).status_code == 403
    client.force_login(make.person("safety officer", at=site))
    assert client.get(address).status_code == 200


def test_the_rate_is_drawn_part_by_part_with_its_own_failures_and_hours() -> None:
    place = make.position()
    read(place.machine, FIRST, 1000)
    read(place.machine, FIRST + dt.timedelta(10), 1030)
    for day in (0, 0, 58):
        failed(place, FIRST + dt.timedelta(day))
    parts = found(manager(place.machine.site)).parts
    assert [part.failures for part in parts] == [2, 0, 0, 1]
    assert parts[0].period.from_on == FIRST
    assert parts[-1].period.to_on == LAST
    assert sum(part.period.days for part in parts) == 59
    assert parts[0].hours == Decimal(42)  # 14 days at 3 h, the others at the usual 8
    assert parts[3].hours == Decimal(120)
    drawn = {one.key for one in content(manager(place.machine.site)).pictures}
    assert drawn == {"months", "rates", "causes"}


def test_a_short_period_is_one_part() -> None:
    asked = period(FIRST, FIRST + dt.timedelta(6))
    assert len(found(manager(make.site()), asked).parts) == 1


def test_a_text_that_begins_like_a_formula_stays_a_text() -> None:
    machine = make.machine(fleet_number='=HYPERLINK("http://x")')
    failed(make.position(on=machine, place="+2+3"), FIRST)
    book = openpyxl.load_workbook(io.BytesIO(report_workbook(content(manager(machine.site)))))
    cells = [cell for sheet in book.worksheets for row in sheet.iter_rows() for cell in row]
    assert "f" not in {cell.data_type for cell in cells}
    assert '=HYPERLINK("http://x"), +2+3' in {cell.value for cell in cells}
