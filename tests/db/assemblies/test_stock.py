"""The ledger: a balance that is always the sum of what moved, and never below nought."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from assemblies.actions.stock import (
    count_stock,
    move_stock,
    scrap_from_reel,
    scrap_pieces,
    use_from_reel,
    use_pieces,
)
from assemblies.models import StockItem, StockMovement
from assemblies.queries.proofs import balances_add_up
from fleet.actions.refusals import Refused
from fleet.models import Person, Site, TrailEntry
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import store

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def keeper(site: Site) -> Person:
    return make.person("storeman", at=site)


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


def left(item: StockItem) -> Decimal:
    found: Decimal = StockItem.objects.get(pk=item.pk).balance
    return found


def move(item: StockItem, kind: str, quantity: str, person: Person | None) -> StockMovement:
    return move_stock(item=item, kind=kind, quantity=Decimal(quantity), person=person, at=make.NOW)


def test_hose_is_taken_off_a_reel_and_the_book_agrees(site: Site, fitter: Person) -> None:
    reel = store.reel(site)
    taken = use_from_reel(
        reel=reel, metres=Decimal("1.093"), reference="BWQ 12", person=fitter, at=make.NOW
    )
    item = store.item_of(reel)
    assert (taken.quantity, item.balance) == (Decimal("-1.093"), Decimal("58.907"))
    assert sum(row.quantity for row in item.movements.all()) == item.balance
    assert list(balances_add_up()) == []


def test_each_movement_is_in_the_trail_with_both_balances(site: Site, keeper: Person) -> None:
    item = store.fitting_lot(site)
    use_pieces(item=item, pieces=3, reference="BWQ 12", person=keeper, at=make.NOW)
    entry = TrailEntry.objects.filter(deed="used stock").get()
    assert (entry.before["balance"], entry.after["balance"]) == ("20.000", "17.000")
    assert (entry.after["reference"], entry.actor) == ("BWQ 12", keeper)


def test_spoiled_hose_and_pieces_are_written_off(site: Site, fitter: Person) -> None:
    reel, lot = store.reel(site), store.fitting_lot(site)
    scrap_from_reel(reel=reel, metres=Decimal(2), reference="", person=fitter, at=make.NOW)
    scrap_pieces(item=lot, pieces=1, reference="", person=fitter, at=make.NOW)
    assert (left(store.item_of(reel)), left(lot)) == (Decimal(58), Decimal(19))


def test_what_was_not_used_comes_back(site: Site, fitter: Person) -> None:
    item = store.item_of(store.reel(site))
    move(item, "used", "-5", fitter)
    move(item, "returned", "2", fitter)
    assert left(item) == Decimal(57)


def test_a_count_writes_the_difference_and_says_both_figures(site: Site, keeper: Person) -> None:
    item = store.fitting_lot(site)
    found = count_stock(
        item=item, counted=Decimal(18), seen=Decimal(20), person=keeper, at=make.NOW
    )
    assert [found.before, found.counted, found.difference] == [20, 18, -2]
    assert found.movement is not None
    assert found.movement.kind == "counted"
    assert [found.movement.quantity, left(item)] == [-2, 18]


def test_a_count_that_agrees_moves_nothing_but_is_in_the_trail(site: Site, keeper: Person) -> None:
    item = store.fitting_lot(site)
    found = count_stock(
        item=item, counted=Decimal(20), seen=Decimal(20), person=keeper, at=make.NOW
    )
    assert (found.movement, item.movements.count()) == (None, 1)
    assert TrailEntry.objects.filter(deed="counted stock").count() == 1


REFUSED: list[tuple[str, str, str, str, str]] = [
    # of what, kind, quantity, code, sentence
    ("reel", "used", "-60.001", "not_enough", "has 60 m left, 60.001 m is wanted"),
    ("lot", "used", "-21", "not_enough", "has 20 pieces left, 21 pieces is wanted"),
    ("lot", "used", "0", "quantity_wrong", "Nothing would move"),
    ("lot", "used", "5", "quantity_wrong", "above nought"),
    ("lot", "scrapped", "5", "quantity_wrong", "above nought"),
    ("lot", "received", "-5", "quantity_wrong", "above nought"),
    ("reel", "returned", "-5", "quantity_wrong", "above nought"),
    ("lot", "used", "-1.5", "quantity_wrong", "whole pieces, not 1.5"),
    ("reel", "used", "-1.0005", "quantity_wrong", "three decimals at most"),
    ("lot", "received", "100001", "quantity_wrong", "more than 100,000 at once"),
    ("reel", "returned", "1", "reel_overfull", "delivered with 60 m: it can’t hold 61 m"),
    ("reel", "counted", "6.001", "reel_overfull", "delivered with 60 m"),
    ("withdrawn", "used", "-1", "item_withdrawn", "cracked cover"),
    ("withdrawn", "received", "1", "item_withdrawn", "nothing is built from it"),
]


@pytest.mark.parametrize(("what", "kind", "quantity", "code", "words"), REFUSED)
def test_refuses_a_movement_with_its_figures(
    what: str, kind: str, quantity: str, code: str, words: str, site: Site, keeper: Person
) -> None:
    items: dict[str, Any] = {
        "reel": lambda: store.item_of(store.reel(site)),
        "lot": lambda: store.fitting_lot(site),
        "withdrawn": lambda: _withdrawn(store.item_of(store.reel(site))),
    }
    item = items[what]()
    with pytest.raises(Refused, match=words) as refused:
        move(item, kind, quantity, keeper)
    assert refused.value.code == code
    assert item.movements.count() == 1
    assert list(balances_add_up()) == []


def _withdrawn(item: StockItem) -> StockItem:
    item.withdrawn_at, item.withdrawal_reason = make.NOW, "cracked cover"
    item.save()
    return item


def test_a_withdrawn_reel_can_be_counted_and_scrapped_to_its_end(
    site: Site, keeper: Person
) -> None:
    item = _withdrawn(store.item_of(store.reel(site)))
    move(item, "scrapped", "-60", keeper)
    assert left(item) == 0


@pytest.mark.parametrize(
    ("counted", "seen", "code", "words"),
    [
        ("18", "19", "moved_meanwhile", "said 19 pieces when you began; it says 20 pieces now"),
        ("-1", "20", "quantity_wrong", "nought or more, not -1"),
        ("18.5", "20", "quantity_wrong", "whole pieces"),
    ],
)
def test_refuses_a_count_that_can_not_be(
    counted: str, seen: str, code: str, words: str, site: Site, keeper: Person
) -> None:
    item = store.fitting_lot(site)
    with pytest.raises(Refused, match=words) as refused:
        count_stock(
            item=item, counted=Decimal(counted), seen=Decimal(seen), person=keeper, at=make.NOW
        )
    assert refused.value.code == code


def test_refuses_hose_of_a_reel_that_is_not_kept(site: Site, fitter: Person) -> None:
    reel = store.reel(site)
    orphan = type(reel).objects.create(
        site=site, code="R-lost", hose=reel.hose, received_on=make.TODAY, delivered_m=10
    )
    with pytest.raises(Refused, match="has no line in the stock"):
        use_from_reel(reel=orphan, metres=Decimal(1), reference="", person=fitter, at=make.NOW)


@pytest.mark.parametrize(
    ("role", "kind", "may"),
    [
        ("storeman", "received", True),
        ("planner", "received", True),
        ("fitter", "used", True),
        ("fitter", "scrapped", True),
        ("fitter", "returned", True),
        ("fitter", "received", False),
        ("fitter", "counted", False),
        ("inspector", "used", False),
        ("manager", "received", False),
    ],
)
def test_each_moves_what_is_theirs_to_move(role: str, kind: str, may: bool, site: Site) -> None:
    item = store.fitting_lot(site)
    who = make.person(role, at=site)
    quantity = "-1" if kind in ("used", "scrapped", "counted") else "1"
    if may:
        move(item, kind, quantity, who)
    else:
        with pytest.raises(NotAllowed):
            move(item, kind, quantity, who)
    assert item.movements.count() == (2 if may else 1)


def test_another_sites_keeper_moves_nothing(site: Site) -> None:
    item = store.fitting_lot(site)
    with pytest.raises(NotAllowed):
        move(item, "used", "-1", make.person("storeman", at=make.site()))


def test_the_database_itself_keeps_a_balance_above_nought(site: Site) -> None:
    item = store.fitting_lot(site)
    with pytest.raises(IntegrityError), transaction.atomic():
        StockItem.objects.filter(pk=item.pk).update(balance=-1)


def test_a_balance_that_was_changed_by_hand_is_found_out(site: Site) -> None:
    item = store.fitting_lot(site)
    StockItem.objects.filter(pk=item.pk).update(balance=21)
    assert "balance 21.000, movements come to 20.000" in next(iter(balances_add_up()))
