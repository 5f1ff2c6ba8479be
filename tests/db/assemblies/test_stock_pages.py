"""The store's pages: who opens which, what each does, and that a list stays cheap."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.actions.stores import withdraw_lot
from assemblies.models import BuildRecord, Crimper, Instrument, Reel, StockItem
from assemblies.queries.dials import learnt_dials
from assemblies.queries.trials import learnt_dial
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import store
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make.site(name="Blackmere Quarry")


@pytest.fixture
def keeper(site: Site) -> Person:
    return make.person("storeman", at=site)


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def at(name: str, *args: Any) -> str:
    return reverse(f"assemblies:{name}", args=args)


def text_of(response: Any) -> str:
    content: str = response.content.decode()
    return content


READ = ("reels", "stock", "stock_short", "tools", "look_up")


def of_one(site: Site) -> dict[str, tuple[str, str]]:
    """Every page of one thing: its address, and who may open it (`read`, `keep`, `bench`)."""
    reel, lot = store.reel(site), store.fitting_lot(site)
    crimper = Crimper.objects.create(site=site, code="C-1")
    gauge = Instrument.objects.create(site=site, code="G-1")
    return {
        "reel": (at("reel", reel.pk), "read"),
        "lot": (at("stock_item", lot.pk), "read"),
        "crimper": (at("crimper", crimper.pk), "read"),
        "instrument": (at("instrument", gauge.pk), "read"),
        "reel date": (at("reel_date", reel.pk), "keep"),
        "reel move": (at("stock_move", store.item_of(reel).pk), "bench"),
        "lot move": (at("stock_move", lot.pk), "bench"),
        "crimper change": (at("crimper_change", crimper.pk), "keep"),
        "instrument change": (at("instrument_change", gauge.pk), "keep"),
        "crimper calibrate": (at("crimper_calibrate", crimper.pk), "keep"),
        "instrument calibrate": (at("instrument_calibrate", gauge.pk), "keep"),
    }


PAGES = (
    *("reel", "lot", "crimper", "instrument", "reel date", "reel move", "lot move"),
    *("crimper change", "instrument change", "crimper calibrate", "instrument calibrate"),
)


@pytest.mark.parametrize("page", PAGES)
def test_a_page_of_one_thing_opens_to_those_it_is_for(page: str, site: Site) -> None:
    url, needs = of_one(site)[page]
    opens = {
        "storeman": 200,
        "inspector": 200 if needs == "read" else 403,
        "fitter": 403 if needs == "keep" else 200,
    }
    for role, status in opens.items():
        assert client(make.person(role, at=site)).get(url).status_code == status, role
    assert client(make.person("storeman", at=make.site())).get(url).status_code == 404
    assert Client().get(url)["Location"].startswith("/login/")


@pytest.mark.parametrize("name", READ)
def test_a_list_opens_to_whoever_has_a_role(name: str, site: Site) -> None:
    for role in ("storeman", "fitter", "manager"):
        assert client(make.person(role, at=site)).get(at(name)).status_code == 200
    assert client(make.person()).get(at(name)).status_code == 403
    assert Client().get(at(name)).status_code == 302


@pytest.mark.parametrize("name", ["reel_receive", "stock_receive", "crimper_add", "instrument_add"])
def test_receiving_and_adding_are_the_stores(name: str, site: Site) -> None:
    for role, status in (("storeman", 200), ("planner", 200), ("fitter", 403), ("manager", 403)):
        assert client(make.person(role, at=site)).get(at(name)).status_code == status
    assert Client().get(at(name)).status_code == 302


@pytest.mark.parametrize("name", ["stock_withdraw", "stock_level", "crimper_withdraw"])
def test_a_deed_is_refused_to_who_may_not_and_hidden_from_strangers(name: str, site: Site) -> None:
    lot = store.fitting_lot(site)
    things: dict[str, Any] = {
        "stock_withdraw": store.small_part(site),
        "crimper_withdraw": Crimper.objects.create(site=site, code="C-2"),
    }
    url = at(name, things.get(name, lot).pk)
    sent = {"reason": "cracked", "level": "4"}
    assert client(make.person("fitter", at=site)).post(url, sent).status_code == 403
    assert client(make.person("storeman", at=make.site())).post(url, sent).status_code == 404
    assert Client().post(url, sent).status_code == 302
    keeper = client(make.person("storeman", at=site))
    assert keeper.get(url).status_code == 405
    assert keeper.post(url, sent).status_code == 302
    changed = StockItem.objects.filter(reorder_at=4) if name == "stock_level" else None
    thing = type(things.get(name, lot)).objects.get(pk=things.get(name, lot).pk)
    assert changed.exists() if changed is not None else thing.withdrawn_at is not None


def test_lists_show_only_the_persons_sites(site: Site, keeper: Person) -> None:
    store.reel(site, code="R-mine")
    store.reel(make.site(), code="R-theirs")
    store.small_part(make.site(), name="Cap of theirs")
    who = client(keeper)
    page = text_of(who.get(at("reels")))
    assert "R-mine" in page
    assert "R-theirs" not in page
    assert "Cap of theirs" not in text_of(who.get(at("stock")))
    assert ">R-theirs<" not in text_of(who.get(at("look_up"), {"q": "R-theirs"}))


def test_a_reels_page_tells_age_limit_wire_and_what_was_built(site: Site, keeper: Person) -> None:
    make.life_rule(reel_age_months=12, source="DIN 20066")
    days: dict[str, Any] = {
        "made_earliest_on": dt.date(2024, 4, 1),
        "made_latest_on": dt.date(2024, 6, 30),
    }
    reel = store.reel(site, reinforcement_diameter_mm=Decimal("21.4"), **days)
    hose = make.stored(at=site, owner_mark="BLD-1")
    spec = make.spec().revisions.get()
    BuildRecord.objects.create(
        assembly=hose, site=site, spec=spec, reel=reel, built_on=dt.date(2025, 7, 1)
    )
    page = text_of(client(keeper).get(at("reel", reel.pk)))
    assert "quarter 2 of 2024" in page
    assert "the limit is 1 year from hose made, DIN 20066" in page
    assert "21.4 mm is outside 19 to 20.6 mm for 2SN DN12" in page
    assert "BLD-1" in page
    assert "1 year to 1 year 3 months old" in page
    assert "Count, use, scrap" in page


def test_a_reels_page_tells_that_no_rule_limits_it_and_what_documents_say(
    site: Site, keeper: Person
) -> None:
    page = text_of(client(keeper).get(at("reel", store.reel(site).pk)))
    assert "No approved rule of this site limits the age" in page
    assert "4 years from hose made, DIN 20066" in page
    assert "10 years from hose made, ISO/TR 17165-2" in page


def test_what_is_a_page_of_a_reel_is_led_to_it(site: Site, keeper: Person) -> None:
    reel = store.reel(site)
    moved = client(keeper).get(at("stock_item", store.item_of(reel).pk))
    assert moved["Location"] == at("reel", reel.pk)


def test_the_bench_may_use_but_not_count(site: Site) -> None:
    url = at("stock_move", store.fitting_lot(site).pk)
    page = text_of(client(make.person("fitter", at=site)).get(url))
    assert 'value="used"' in page
    assert 'value="counted"' not in page
    assert 'value="received"' not in page


def test_a_count_on_the_page_says_both_figures(site: Site, keeper: Person) -> None:
    lot = store.fitting_lot(site)
    sent = {"kind": "counted", "quantity": "18", "seen": "20"}
    page = client(keeper).post(at("stock_move", lot.pk), sent, follow=True)
    assert "The book said 20 pieces, you counted 18 pieces: 2 pieces less is written" in text_of(
        page
    )
    lot.refresh_from_db()
    assert lot.balance == 18


def test_what_runs_out_counts_all_lots_and_no_withdrawn_or_old_hose(
    site: Site, keeper: Person
) -> None:
    make.life_rule(reel_age_months=48, source="DIN 20066")
    fitting, hose = make.fitting().header, make.hose().header
    for pieces in ("3", "4"):
        store.fitting_lot(site, pieces, fitting=fitting, reorder_at=5)
    store.small_part(site, "0", name="Copper washer", reorder_at=10)
    store.small_part(site, "50", name="Plenty", reorder_at=10)
    old: dict[str, Any] = {
        "made_earliest_on": dt.date(2020, 1, 1),
        "made_latest_on": dt.date(2020, 1, 1),
    }
    reel = store.reel(site, hose=hose, **old)
    StockItem.objects.filter(reel=reel).update(reorder_at=10)
    page = text_of(client(keeper).get(at("stock_short")))
    assert fitting.code not in page
    assert "Plenty" not in page
    assert "Copper washer" in page
    assert hose.code in page
    assert "60 m more is too old" in page
    gone = StockItem.objects.filter(fitting=fitting).order_by("pk").first()
    assert gone is not None
    withdraw_lot(item=gone, reason="soft", person=keeper, at=make.NOW)
    assert fitting.code in text_of(client(keeper).get(at("stock_short")))


def test_a_crimpers_page_tells_what_its_dial_is_off(site: Site, keeper: Person) -> None:
    crimper = bench.crimper(site, calibration_due_on=dt.date(2020, 1, 1))
    bench.closed(site, make.person("fitter", at=site), crimper=crimper)
    page = text_of(client(keeper).get(at("crimper", crimper.pk)))
    assert "D 26" in page
    assert "+0.15" in page
    learnt = learnt_dial(crimper, "D 26")
    assert [(line.die_set, line.dial) for line in learnt_dials(crimper)] == [("D 26", learnt)]
    assert "proves nothing until it is calibrated" in page


def _fill(site: Site) -> None:
    hose = make.hose().header
    for _ in range(3):
        store.reel(site, hose=hose)
        store.fitting_lot(site, reorder_at=30)
        store.small_part(site, "1", reorder_at=5)
        Crimper.objects.create(site=site, code=f"C-{Crimper.objects.count()}")


@pytest.mark.parametrize("name", READ)
def test_a_list_takes_no_more_queries_for_more_rows(name: str, site: Site) -> None:
    _fill(site)
    counted = []
    for _ in range(2):
        who = client(make.person("storeman", at=site))
        with CaptureQueriesContext(connection) as context:
            who.get(at(name), {"q": "2SN 12"} if name == "look_up" else {"standing": "all"})
        counted.append(len(context))
        _fill(site)
        _fill(site)
    assert counted[0] == counted[1]


def test_a_long_list_is_read_page_by_page(site: Site, keeper: Person) -> None:
    hose = make.hose().header
    for number in range(53):
        store.reel(site, hose=hose, code=f"R-{number:03}")
    who, seen, url = client(keeper), set(), at("reels")
    while url:
        page = who.get(url).context["page"]
        seen |= {line.code for line in page.rows}
        url = f"{at('reels')}?{page.next_query}" if page.next_query else ""
    assert len(seen) == Reel.objects.count() == 53
