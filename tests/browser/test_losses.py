"""Failures, report, rates, trends, studies at a phone and a desk; a burst from yard to report."""

import datetime as dt
import io
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from PIL import Image
from playwright.sync_api import FilePayload

from assemblies.models import Stay
from fleet.actions.downtime import machine_down
from fleet.models import HourReading, Person, Usage
from scheduling.actions.failures import Report, report_failure
from scheduling.actions.loss_tallies import keep_losses
from scheduling.actions.studies import Asked, make_study
from scheduling.calc.life.installations import Clock
from scheduling.models import Failure, LifeStudy
from scheduling.queries.lifetimes import LifeScope
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.browser.test_every_page import SPILLED, TOO_SMALL, grave
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db(transaction=True)
DAYS = 300


@pytest.fixture
def where() -> Yard:
    """A yard with a year of failures, causes, costs, hours, a machine down, and a study."""
    found = yard(name="Blackmere Quarry with a Name That Goes On for Quite a While")
    now = timezone.now()
    _hours(found, now)
    _year_of_failures(found, now)
    person = make.person("planner", "manager", "inspector", "fitter", at=found.site)
    reported(found, person, now)
    machine_down(
        machine=make.machine(at=found.site),
        from_at=now - dt.timedelta(hours=30),
        planned=True,
        reason="Yearly service, with a reason that goes on and on until the line must break",
        person=person,
        at=now,
    )
    asked = Asked(
        "Lift hoses of the loaders on the upper bench",
        LifeScope(site_id=found.site.pk),
        Clock.DAYS,
        planned=Decimal(400),
        failure=Decimal(4000),
    )
    make_study(asked=asked, person=person, today=now.date(), at=now)
    keep_losses(at=now)
    return Yard(found.site, found.machine, found.position, found.hose, person)


def _hours(found: Yard, now: dt.datetime) -> None:
    for days, hours in ((DAYS, 1000), (0, 4000)):
        HourReading.objects.create(
            meter=found.machine.meters.get(),
            site=found.site,
            read_at=now - dt.timedelta(days),
            read_on=(now - dt.timedelta(days)).date(),
            reading_h=hours,
            machine_h=hours,
            recorded_at=now,
        )
    Usage.objects.filter(machine=found.machine).update(machine_h=Decimal(4000))


def _year_of_failures(found: Yard, now: dt.datetime) -> None:
    causes = ("abrasion", "age", "fatigue", "seat", "unknown", "over_pressure")
    places = [make.position(on=found.machine, circuit=c) for c in ("working", "steering", "travel")]
    for n in range(14):
        place = places[n % 3]
        on = (now - dt.timedelta(DAYS - 20 * n - 5)).date()
        known = (now - dt.timedelta(DAYS)).date()
        hose = make.fitted(
            on=place,
            hose_type=("2SN", "4SP", "R13")[n % 3],
            known_from_on=known,
            stay_from_earliest_on=known,
            stay_from_latest_on=known,
        )
        Stay.objects.filter(assembly=hose).update(is_open=False, to_on=on, removal="failed")
        Failure.objects.create(
            assembly=hose,
            stay=hose.stays.get(),
            machine=found.machine,
            site=found.site,
            failed_at=dt.datetime.combine(on, dt.time(10), dt.UTC),
            failed_on=on,
            machine_h=1100 + 190 * n,
            mode=("burst", "pinhole", "crimp_leak")[n % 3],
            cause=causes[n % 6],
            oil_lost_l=n,
            cost_minor=12_000 * n,
        )


def reported(found: Yard, person: Person, now: dt.datetime) -> Failure:
    since = now - dt.timedelta(hours=5)
    report = Report("burst", since, since, note="Sprayed the cab and the exhaust side.")
    return report_failure(
        assembly=found.hose, report=report, client_id="seen", person=person, at=now
    )


def paths(where: Yard) -> list[str]:
    failure, study = Failure.objects.get(client_id="seen"), LifeStudy.objects.get()
    hose = make.fitted(on=make.position(on=where.machine), owner_mark="BQ 99").pk
    at = where.position.pk
    named = ("today", "report", "rates", "studies", "study_add", "failure_report", "failures")
    lists = ("report_failures", "report_downtimes", "report_changes")
    kinds = ("site", "hose_type", "circuit", "recipe", "reel")
    return [
        *(reverse(f"scheduling:{name}") for name in (*named, *lists)),
        *(f"{reverse('scheduling:rates')}?by={kind}" for kind in kinds),
        reverse("scheduling:report") + "?from_on=2001-01-01&to_on=2001-03-01",
        reverse("scheduling:report") + "?from_on=soon",
        reverse("scheduling:study", args=[study.pk]),
        reverse("scheduling:machine_trend", args=[where.machine.pk]),
        reverse("scheduling:position_trend", args=[at]),
        reverse("scheduling:failure", args=[failure.pk]),
        reverse("scheduling:failure_complete", args=[failure.pk]),
        reverse("scheduling:hose_failure", args=[hose]),
        reverse("scheduling:hose_failure", args=[where.hose.pk]),
        reverse("scheduling:machine_failure", args=[where.machine.pk]),
        reverse("scheduling:machine_stands", args=[where.machine.pk]),
        reverse("scheduling:machine_runs", args=[failure.downtime_id]),
        reverse("assemblies:scrap", args=[make.stored(at=where.site).pk]),
        reverse("assemblies:swap", args=[at]) + "?why=failed",
    ]


@pytest.mark.parametrize(
    ("size", "scheme"), [(NARROWEST, "light"), (PHONE, "dark"), (DESK, "dark"), (DESK, "light")]
)
def test_every_page_of_losses_is_readable_and_silent(
    visit: Callable[..., Visit], where: Yard, size: dict[str, int], scheme: str
) -> None:
    seen = visit(where.planner, size, scheme=scheme)
    wrong: dict[str, object] = {}
    for path in paths(where):
        page = seen.open(path)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
        faults = {
            "axe": grave(page),
            "spilled": page.evaluate(SPILLED),
            "small": page.evaluate(TOO_SMALL) if size["width"] < 500 else [],
            "console": list(seen.console),
        }
        seen.console.clear()
        if any(faults.values()):
            wrong[path] = {name: fault for name, fault in faults.items() if fault}
    assert not wrong


@pytest.fixture
def photo() -> FilePayload:
    out = io.BytesIO()
    Image.new("RGB", (640, 480), (90, 60, 40)).save(out, "JPEG")
    return {"name": "burst.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def test_a_burst_from_the_yard_to_the_manager_s_report(
    visit: Callable[..., Visit], photo: FilePayload
) -> None:
    found = yard()
    fitter = make.person("fitter", at=found.site)
    seen = visit(fitter, PHONE)
    page = seen.open(reverse("scheduling:today"))
    page.click("nav >> text=Failed >> visible=true")  # 1
    page.fill("#failed-box", "BQ 17")  # 2: typed, or scanned off the tag
    page.click("main >> text=Go on")  # 3
    page.click("label:has-text('burst')")  # 4; that the machine stands is chosen already
    page.set_input_files("[name=photos]", [photo])  # 5
    page.click("text=Report it")  # 6
    page.wait_for_url("**/failures/*/")
    failure = Failure.objects.get()
    assert (failure.mode, failure.photos.count()) == ("burst", 1)
    assert failure.downtime is not None
    assert failure.downtime.to_at is None
    assert "still down" in page.inner_text("main")

    planner = visit(found.planner, DESK)
    page = planner.open(reverse("scheduling:failure", args=[failure.pk]))
    page.click("text=Complete it")
    page.select_option("[name=cause]", "abrasion")
    page.check("text=the hose was examined")
    page.fill("[name=oil_lost_l]", "38")
    page.fill("[name=cost]", "612,50")
    page.click("text=Keep it")
    page.wait_for_url(f"**/failures/{failure.pk}/")

    manager = visit(make.person("manager", at=found.site), DESK)
    page = manager.open(reverse("scheduling:report"))
    told = page.inner_text("main")
    assert "Failures by cause" in told
    assert "612.50" in told
    page.click("dl >> text=Failures in service")
    page.click("tbody th a")
    page.wait_for_url(f"**/failures/{failure.pk}/")
    assert [m for m in (*seen.console, *planner.console, *manager.console) if m] == []
