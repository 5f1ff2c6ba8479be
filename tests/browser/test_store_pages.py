"""The store's pages at a phone and at a desk, and a reel received with a gloved thumb."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

import pytest
from django.urls import reverse

from assemblies.models import BuildRecord, Instrument, Reel, StockItem
from fleet.models import Person, Site
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.browser.test_every_page import SPILLED, TOO_SMALL, grave
from tests.db.assemblies import store
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db(transaction=True)
LONG = "a name that goes on for quite a while, as names of parts do"


@dataclass(frozen=True)
class Store:
    """A site with everything on its shelves, and whoever keeps it."""

    site: Site
    keeper: Person
    reel: Reel
    lot: StockItem
    part: StockItem
    crimper: int
    gauge: int


@pytest.fixture
def where() -> Store:
    site = make.site(name="Blackmere Quarry with a Name That Goes On for Quite a While")
    make.life_rule(reel_age_months=12, source="DIN 20066 / DGUV Regel 113-020")
    make.life_rule(reel_age_months=6, source="our own", consequence="hurts")
    old = {"made_earliest_on": dt.date(2024, 4, 1), "made_latest_on": dt.date(2024, 6, 30)}
    reel = store.reel(
        site,
        code="BQ-R0001-A-CODE-THAT-GOES-ON-FOR-A-WHILE",
        layline="Harrow/EN 857/2SC/DN 10/2Q24 " + "x" * 60,
        reinforcement_diameter_mm=Decimal("21.4"),
        **old,  # type: ignore[arg-type]  # two days among the facts
    )
    StockItem.objects.filter(reel=reel).update(reorder_at=20)
    hose = make.stored(at=site, owner_mark="BLD-1")
    spec = make.spec().revisions.get()
    BuildRecord.objects.create(
        assembly=hose, site=site, spec=spec, reel=reel, built_on=dt.date(2025, 9, 1)
    )
    crimper = bench.crimper(site, calibration_due_on=dt.date(2020, 1, 1), description=LONG)
    bench.closed(site, make.person("fitter", at=site), crimper=crimper)
    gauge = Instrument.objects.create(site=site, code="G-1", description=LONG)
    return Store(
        site,
        make.person("storeman", at=site),
        reel,
        store.fitting_lot(site, reorder_at=30, supplier=LONG),
        store.small_part(site, name=LONG),
        crimper.pk,
        gauge.pk,
    )


def at(name: str, *args: int) -> str:
    return reverse(f"assemblies:{name}", args=args)


def paths(where: Store) -> list[str]:
    reel, lot, crimper, gauge = where.reel.pk, where.lot.pk, where.crimper, where.gauge
    return [
        *(at(name) for name in ("reels", "stock", "stock_short", "tools", "look_up")),
        *(at(name) for name in ("reel_receive", "stock_receive", "crimper_add")),
        at("reels") + "?q=nothing-like-it",
        at("stock") + "?q=nothing-like-it",
        at("look_up") + "?q=12",
        at("look_up") + "?q=nothing-like-it",
        *(at(name, reel) for name in ("reel", "reel_date")),
        *(at(name, lot) for name in ("stock_item", "stock_move")),
        at("stock_item", where.part.pk),
        at("stock_move", store.item_of(where.reel).pk),
        *(at(name, crimper) for name in ("crimper", "crimper_change", "crimper_calibrate")),
        at("instrument", gauge),
    ]


@pytest.mark.parametrize(("size", "scheme"), [(NARROWEST, "light"), (DESK, "dark")])
def test_every_page_of_the_store_is_readable_and_silent(
    visit: Callable[..., Visit], where: Store, size: dict[str, int], scheme: str
) -> None:
    seen = visit(where.keeper, size, scheme=scheme)
    wrong: dict[str, object] = {}
    for path in paths(where):
        page = seen.open(path)
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


def test_a_reel_is_received_on_a_phone_and_its_date_asked_for(
    visit: Callable[..., Visit], where: Store
) -> None:
    seen = visit(where.keeper, PHONE)
    page = seen.open(at("reel_receive"))
    page.fill("[name=hose]", where.reel.hose.code)
    page.fill("[name=delivered_m]", "60,5")
    page.fill("[name=made_typed]", "07/10")
    page.click("text=Put it into the stock")
    assert grave(page) == []
    assert page.evaluate(SPILLED) == 0
    assert page.evaluate(TOO_SMALL) == []
    page.click("label:has-text('Oct 2007')")
    page.click("text=Put it into the stock")
    page.wait_for_selector("text=is in the stock")
    assert "Oct 2007" in page.inner_text("main")
    assert Reel.objects.latest("pk").made_pattern == "year-month"
