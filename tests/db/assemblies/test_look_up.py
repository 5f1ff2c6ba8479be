"""One box finds what is meant, in any notation, over everything that is built with."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.queries.look_up import Found, look_up
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import store

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def keeper(site: Site) -> Person:
    return make.person("storeman", at=site)


@pytest.fixture(autouse=True)
def _shelf(site: Site) -> None:
    """A small catalogue of what the trade asks for, and a reel and lots of it."""
    two_braid = make.hose(product="Moorline 2", standard_type="2SN", size_dn=12)
    make.hose(product="Compact 2", standard_type="2SC", size_dn=19, maker="Ternmoor")
    make.hose(product="Three", standard_type="", layers=3, size_dn=25, maker="Brackwater")
    ends: dict[str, tuple[str, str, int]] = {
        "orfs": ("flat-face", "13/16-16", 12),
        "jic": ("37° cone", "3/4-16", 12),
        "dkol": ("24° cone L", "L15 M22×1.5", 12),
        "dkos": ("24° cone, heavy", "S16 M24×1.5", 12),
        "f61": ("flange code 61", "3/4", 19),
        "f62": ("flange code 62", "1", 25),
        "bsp": ("BSP 60° cone", "1/2", 12),
    }
    made = {
        name: make.fitting(
            product=name.upper(), connection=end, connection_size=size, tail_dn=dn, maker="Harrow"
        )
        for name, (end, size, dn) in ends.items()
    }
    store.reel(site, code="BQ-R0031", hose=two_braid.header, supplier="Ternmoor")
    store.fitting_lot(site, fitting=made["jic"].header, lot="2609-0267")
    store.shell_lot(site, shop.shell(tail_dn=12).header, lot="S-77")
    store.small_part(site, name="Copper washer M22×1.5")


def found(keeper: Person, text: str) -> Found:
    return look_up(keeper, text, today=make.TODAY)


def products(told: Found, slug: str) -> set[str]:
    return {line.product for one in told.items if one.shelf.slug == slug for line in one.lines}


@pytest.mark.parametrize(
    ("text", "hoses", "fittings"),
    [
        ("2SN DN12", {"Moorline 2"}, set()),
        ('1/2" 2SN', {"Moorline 2"}, set()),
        ("-8 2sn", {"Moorline 2"}, set()),
        ("12.7 mm Moorline", {"Moorline 2"}, set()),
        ("SAE 100 R2AT", {"Moorline 2"}, set()),
        ("EN 853", {"Moorline 2"}, set()),
        ("EN 857 -12", {"Compact 2"}, set()),
        ("ternmoor compact", {"Compact 2"}, set()),
        ("ORFS", set(), {"ORFS"}),
        ("jic 1/2", set(), {"JIC"}),
        ("JIC 37", set(), {"JIC"}),
        ("DKOL", set(), {"DKOL"}),
        ("dkos -8", set(), {"DKOS"}),
        ("24° cone heavy", set(), {"DKOS"}),
        ("24° cone", set(), {"DKOL", "DKOS"}),
        ("M22x1,5", set(), {"DKOL"}),
        ("SAE flange 3000", set(), {"F61"}),
        ("code 62", set(), {"F62"}),
        ("SAE flange", set(), {"F61", "F62"}),
        ("BSPP", set(), {"BSP"}),
        ("nothing like it", set(), set()),
    ],
)
def test_finds_items_by_what_the_trade_calls_them(
    text: str, hoses: set[str], fittings: set[str], keeper: Person
) -> None:
    told = found(keeper, text)
    assert (products(told, "hose"), products(told, "fitting")) == (hoses, fittings)


def test_a_figure_of_two_sizes_finds_both_and_says_so(keeper: Person) -> None:
    told = found(keeper, "12")
    assert {"Moorline 2", "Compact 2"} <= products(told, "hose")
    assert 'could be DN19 (-12, 3/4") as dash or DN12 (-8, 1/2") as DN' in told.asked[0]
    assert found(keeper, "-12").asked == ()


@pytest.mark.parametrize(
    ("text", "reels", "lots"),
    [
        ("r0031", ["BQ-R0031"], []),
        ("2SN DN12 ternmoor", ["BQ-R0031"], []),
        ("2609-0267", [], ["2609-0267"]),
        ("JIC", [], ["2609-0267"]),
        ("s-77", [], ["S-77"]),
        ("copper M22x1.5", [], [""]),
        ("4SP", [], []),
    ],
)
def test_finds_reels_and_lots_by_their_own_names_and_by_what_they_are(
    text: str, reels: list[str], lots: list[str], keeper: Person
) -> None:
    told = found(keeper, text)
    assert [line.code for line in told.reels] == reels
    assert [line.lot for line in told.lots] == lots


def test_finds_a_spec_by_its_hose_and_ends(keeper: Person) -> None:
    spec = make.spec()
    told = found(keeper, f"{spec.code} 2SN")
    assert [line.code for line in told.specs] == [spec.code]


def test_another_sites_reels_are_not_found(keeper: Person) -> None:
    store.reel(make.site(), code="XX-R9999")
    assert not found(keeper, "XX-R9999").anything


def test_whatever_is_typed_is_answered(keeper: Person) -> None:
    who = Client()
    who.force_login(keeper)
    for text in ("", "%", "_", "'", '"', "\x00", "¼", "M30×2", "a " * 60, "½" * 30, "-", "()"):
        assert who.get(reverse("assemblies:look_up"), {"q": text}).status_code == 200


def test_a_search_takes_the_same_queries_over_ten_times_the_rows(
    site: Site, keeper: Person
) -> None:
    def counted() -> int:
        with CaptureQueriesContext(connection) as context:
            found(keeper, "2SN DN12 Harrow")
        return len(context)

    found(keeper, "2SN")  # the person's own rights are read once
    first = counted()
    facts: dict[str, Any] = {"bore_mm": Decimal("12.7")}
    for _ in range(10):
        hose = make.hose(**facts)
        store.reel(site, hose=hose.header)
        store.fitting_lot(site)
    assert counted() == first
