"""A store for tests: a reel, lots of fittings and shells, small parts, each received."""

import datetime as dt
from decimal import Decimal
from itertools import count
from typing import Any

from assemblies.actions.stock import move_stock
from assemblies.models import FittingItem, Reel, ShellItem, StockItem
from fleet.models import Site
from tests import factories as make

_ids = count(1)
MADE = dt.date(2025, 4, 1), dt.date(2025, 6, 30)


def reel(at: Site, *, metres: str = "60", **facts: Any) -> Reel:
    """A reel of two-braid DN12 with its line in the stock, received whole."""
    hose = facts.pop("hose", None) or make.hose().header
    usual = {
        **{"code": f"R-n{next(_ids)}", "received_on": make.TODAY, "delivered_m": Decimal(metres)},
        **{"supplier": "Harrow Hose", "made_earliest_on": MADE[0], "made_latest_on": MADE[1]},
        **{"made_precision": "quarter", "made_typed": "2Q25"},
    }
    made = Reel.objects.create(site=at, hose=hose, **{**usual, **facts})
    item = StockItem.objects.create(site=at, reel=made, unit="metre")
    received(item, metres)
    return made


def item_of(reel: Reel) -> StockItem:
    return StockItem.objects.get(reel=reel)


def fitting_lot(at: Site, pieces: str = "20", **facts: Any) -> StockItem:
    fitting = facts.pop("fitting", None) or make.fitting().header
    return _lot(at, pieces, fitting=fitting, **facts)


def shell_lot(at: Site, shell: ShellItem, pieces: str = "20", **facts: Any) -> StockItem:
    return _lot(at, pieces, shell=shell, **facts)


def small_part(at: Site, pieces: str = "50", **facts: Any) -> StockItem:
    item = StockItem.objects.create(**{"site": at, "name": f"Cap {next(_ids)}", **facts})
    received(item, pieces)
    return item


def received(item: StockItem, quantity: str) -> None:
    if Decimal(quantity):
        move_stock(item=item, kind="received", quantity=Decimal(quantity), person=None, at=make.NOW)


def _lot(
    at: Site,
    pieces: str,
    *,
    fitting: FittingItem | None = None,
    shell: ShellItem | None = None,
    **facts: Any,
) -> StockItem:
    lot = {"lot": f"L-n{next(_ids)}", **facts}
    item = StockItem.objects.create(site=at, fitting=fitting, shell=shell, **lot)
    received(item, pieces)
    return item
