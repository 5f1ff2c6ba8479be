"""Two benches reach for the last metre of a reel at the same moment: it goes once."""

from decimal import Decimal

import pytest

from assemblies.models import StockItem, StockMovement
from assemblies.queries.proofs import balances_add_up
from fleet.models import TrailEntry
from tests import factories as make
from tests.db.assemblies import store
from tests.faults.two_benches import race

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(600)]
ROUNDS = 200


def test_the_last_metre_goes_once() -> None:
    site = make.site()
    hose = make.hose().header
    reels = [store.reel(site, metres="1.5", hose=hose) for _ in range(ROUNDS)]
    came_to = race([reel.pk for reel in reels], guarded=True)
    assert [sorted(pair) for pair in came_to] == [["not_enough", "taken"]] * ROUNDS
    balances = StockItem.objects.values_list("balance", flat=True)
    assert set(balances) == {Decimal("0.500")}
    assert StockMovement.objects.filter(kind="used").count() == ROUNDS
    assert TrailEntry.objects.filter(deed="used stock").count() == ROUNDS
    assert list(balances_add_up()) == []


def test_without_its_guard_it_would_go_twice() -> None:
    reels = [store.reel(make.site(), metres="1.5") for _ in range(5)]
    assert ["taken", "taken"] in race([reel.pk for reel in reels], guarded=False)
