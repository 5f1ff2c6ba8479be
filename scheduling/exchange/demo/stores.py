"""The demo's stock: reels and lots received as they are needed, and a ledger that balances."""

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from random import Random
from typing import Any

from assemblies.models import FittingItem, HoseItem, Reel, ShellItem, StockItem, StockMovement
from fleet.models import Person, Site
from scheduling.exchange.demo.days import Days, moment, months_after, quarter_of
from scheduling.exchange.demo.fleet import FleetPlan
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.tables import HoseRow

OLDEST_REEL_MONTHS = 40
_DOCUMENTS = {"1SN": "EN 853", "2SN": "EN 853", "2SC": "EN 857", "4S": "EN 856", "R13": "EN 856"}


@dataclass(frozen=True)
class Bulk:
    """A hose item with its written row."""

    row: HoseRow
    item: HoseItem


@dataclass
class Stores:
    """The stock of each site as it stands while the builds go by in order of their days."""

    register: Register
    days: Days
    fleet: FleetPlan
    dice: Random
    _reels: dict[tuple[str, str], StockItem] = field(default_factory=dict)
    _lots: dict[tuple[str, str], StockItem] = field(default_factory=dict)
    _numbers: dict[str, int] = field(default_factory=dict)

    def cut(self, bulk: Bulk, site: Site, on: dt.date, metres: Decimal, ref: str) -> Reel:
        """Cut from the reel in use; a new one where that is short or has grown old."""
        key = site.code, bulk.row.code
        item = self._reels.get(key)
        if item is not None and (item.balance < metres or _too_old(item, on)):
            if item.balance:
                self._move(item, "scrapped", -item.balance, on, "rest of the reel")
            item = None
        if item is None:
            made_on = on - dt.timedelta(days=self.dice.randint(70, 250))
            item = self._receive_reel(bulk, site, made_on, on - dt.timedelta(days=3))
            self._reels[key] = item
        return self._cut(item, on, metres, ref)

    def cut_old(self, bulk: Bulk, site: Site, on: dt.date, metres: Decimal, months: int) -> Reel:
        """Cut from the reel that was forgotten behind the rack."""
        key = site.code, f"old {bulk.row.code}"
        if key not in self._reels:
            made_on = months_after(on, -months)
            received_on = made_on + dt.timedelta(days=120)
            self._reels[key] = self._receive_reel(bulk, site, made_on, received_on)
        return self._cut(self._reels[key], on, metres, "")

    def _cut(self, item: StockItem, on: dt.date, metres: Decimal, ref: str) -> Reel:
        self._move(item, "used", -metres, on, ref)
        if item.reel is None:
            raise ValueError("Hose is cut from a reel.")
        return item.reel

    def _receive_reel(
        self, bulk: Bulk, site: Site, made_on: dt.date, received_on: dt.date
    ) -> StockItem:
        """A reel of its maker's usual length, dated to the quarter by its layline."""
        row = bulk.row
        number = self._numbers[site.code] = self._numbers.get(site.code, 0) + 1
        length = Decimal(60 if row.dn <= 12 else 40 if row.dn <= 25 else 20)
        first, last, printed = quarter_of(made_on)
        spread = Decimal(self.dice.randint(-15, 15)) / 100
        reel = Reel(
            site=site,
            code=f"{site.code}-R{number:04}",
            hose=bulk.item,
            supplier=row.maker,
            received_on=received_on,
            delivered_m=length,
            layline=layline(row, printed),
            made_earliest_on=first,
            made_latest_on=last,
            made_precision="quarter",
            made_typed=printed,
            made_confirmed_by=self._storeman(site),
            reinforcement_diameter_mm=row.reinforcement_mm + spread,
        )
        self.register.add(reel)
        item = StockItem(
            site=site, reel=reel, supplier=row.maker, unit="metre", reorder_at=length / 5
        )
        self.register.add(item)
        self._move(item, "received", length, received_on, "")
        return item

    def take(self, part: FittingItem | ShellItem, site: Site, on: dt.date, ref: str) -> StockItem:
        """One piece from the lot in use; a new lot where that is used up."""
        key = site.code, part.code
        item = self._lots.get(key)
        if item is None or item.balance < 1:
            item = self._lots[key] = self._receive_lot(part, site, on)
        self._move(item, "used", Decimal(-1), on, ref)
        return item

    def _receive_lot(self, part: FittingItem | ShellItem, site: Site, on: dt.date) -> StockItem:
        received_on = on - dt.timedelta(days=self.dice.randint(2, 30))
        number = self._numbers["lot"] = self._numbers.get("lot", 0) + 1
        what: dict[str, Any] = {"fitting" if isinstance(part, FittingItem) else "shell": part}
        maker = "Dunmarrow Couplings" if part.code.startswith("DC") else "Harrow Fluid Ends"
        item = StockItem(
            site=site, lot=f"{received_on:%y%m}-{number:04}", supplier=maker, reorder_at=5, **what
        )
        self.register.add(item)
        pieces = Decimal(self.dice.choice((20, 25, 40, 50)))
        self._move(item, "received", pieces, received_on, "")
        return item

    def lay_small_parts(self) -> None:
        """What is counted by name alone."""
        for site in self.fleet.sites.values():
            for name, pieces in _SMALL_PARTS.items():
                item = self.register.add(StockItem(site=site, name=name, reorder_at=pieces // 4))
                self._move(item, "counted", Decimal(pieces), self.days.ago(40), "stock-taking")

    def _move(self, item: StockItem, kind: str, quantity: Decimal, on: dt.date, ref: str) -> None:
        item.balance += quantity
        movement = StockMovement(
            item=item,
            kind=kind,
            quantity=quantity,
            moved_at=moment(on, 8.0),
            moved_by=self._storeman(item.site),
            reference=ref,
        )
        self.register.add(movement)

    def _storeman(self, site: Site) -> Person:
        return self.fleet.people[f"storeman.{site.code.lower()}"]


_SMALL_PARTS = {
    "O-ring kit, flanges code 61 and 62": 60,
    "O-ring kit, 24° cones": 120,
    "Copper washers M14": 200,
    "Plastic caps, mixed": 500,
    "Textile sleeve 38 mm, metres": 80,
    "Spiral guard 32 mm, metres": 60,
}


def layline(row: HoseRow, printed: str) -> str:
    """What a hose's layline says: maker, document, type, size, quarter made."""
    document = next((d for start, d in _DOCUMENTS.items() if row.type.startswith(start)), "")
    parts = (row.maker, document, row.type, f"DN {row.dn}", printed)
    return "/".join(part for part in parts if part)


def _too_old(item: StockItem, on: dt.date) -> bool:
    made_on = item.reel.made_earliest_on if item.reel else None
    return made_on is not None and months_after(made_on, OLDEST_REEL_MONTHS) <= on
