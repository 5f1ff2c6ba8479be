"""Reels and stock over the API."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import factories as make
from tests.api_client import Caller
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import store

pytestmark = pytest.mark.django_db


def test_tells_a_reel_with_what_is_left_and_when_it_was_made() -> None:
    site = make.site()
    reel = store.reel(site, layline="Harrow/EN 853/2SN/DN 12/2Q25")
    said = Caller(make.person("fitter", at=site)).get(f"reels/{reel.pk}/").said
    assert (said["code"], said["hose"], said["left_m"]) == (reel.code, reel.hose.code, "60.000")
    assert (said["made_earliest_on"], said["made_precision"]) == ("2025-04-01", "quarter")
    assert said["reinforcement_diameter_mm"] is None


def test_tells_each_kind_of_stock() -> None:
    site = make.site()
    store.reel(site)
    store.fitting_lot(site)
    store.shell_lot(site, shop.shell().header)
    store.small_part(site, name="Cap")
    caller = Caller(make.person("storeman", at=site))
    items = caller.get("stock/").said["items"]
    assert [item["kind"] for item in items] == ["reel", "fitting", "shell", "small"]
    assert (items[3]["code"], items[3]["balance"], items[0]["unit"]) == ("Cap", "50.000", "metre")
    for item in items:
        found = caller.get("stock/", kind=item["kind"]).said["items"]
        assert [one["id"] for one in found] == [item["id"]]


@pytest.mark.parametrize("path", ["reels/", "stock/"])
def test_tells_the_persons_sites_only(path: str) -> None:
    mine, other = make.site(), make.site()
    store.reel(mine)
    theirs = store.reel(other)
    caller = Caller(make.person("storeman", at=mine))
    assert [item["site"] for item in caller.get(path).said["items"]] == [mine.code]
    assert caller.get(path, site=other.code).code == "unknown_site"
    foreign = caller.get(f"reels/{theirs.pk}/")
    assert foreign.status == 404
    assert foreign == caller.get("reels/999999/")


def test_nobody_and_no_post_get_anything() -> None:
    store.reel(make.site())
    for path in ("reels/", "stock/"):
        assert Caller().get(path).status == 401
        assert Caller(make.person("storeman")).post(path, {}).status == 405


def test_filters_by_hose_and_by_what_is_left() -> None:
    site = make.site()
    full, empty = store.reel(site), store.reel(site)
    type(store.item_of(empty)).objects.filter(reel=empty).update(balance=0)
    caller = Caller(make.person("storeman", at=site))
    by_hose = caller.get("reels/", hose=full.hose.code.upper()).said["items"]
    assert [item["id"] for item in by_hose] == [full.pk]
    rest = caller.get("reels/", with_rest="true").said["items"]
    assert [item["id"] for item in rest] == [full.pk]


@pytest.mark.parametrize(
    ("path", "parameters", "code"),
    [
        ("stock/", {"kind": "barrel"}, "unknown_word"),
        ("stock/", {"hose": "x"}, "unknown_parameter"),
        ("reels/", {"cursor": "broken"}, "cursor_unreadable"),
        ("reels/", {"page_size": "0"}, "min_value"),
        ("reels/", {"with_rest": "perhaps"}, "invalid"),
        ("reels/", {"site": "NOPE"}, "unknown_site"),
        ("reels/", {"hose": "h" * 41}, "max_length"),
    ],
)
def test_refuses_a_query_it_does_not_know(path: str, parameters: dict[str, str], code: str) -> None:
    answer = Caller(make.person("storeman")).get(path, **parameters)
    assert (answer.status, answer.code) == (400, code)


@pytest.mark.parametrize("path", ["reels/", "stock/"])
def test_goes_page_by_page_with_the_same_queries(path: str) -> None:
    site = make.site()
    reels = [store.reel(site) for _ in range(5)]
    caller, seen, cursor, counted = Caller(make.person("storeman", at=site)), [], "", []
    while cursor is not None:
        with CaptureQueriesContext(connection) as context:
            told = caller.get(path, page_size=2, **({"cursor": cursor} if cursor else {})).said
        counted.append(len(context))
        seen += [item["code"] for item in told["items"]]
        cursor = told["next"]
    assert seen == [reel.code for reel in reels]
    assert len(set(counted[1:])) == 1
