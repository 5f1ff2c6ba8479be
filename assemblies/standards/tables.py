"""The cited tables of the trade, typed."""

from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from assemblies.standards.sources import Row, Source, read_table


@dataclass(frozen=True, slots=True)
class SizeRow:
    """A nominal hose size and its four names; `aliases` are other DN prints of it."""

    dn: int
    dash: int
    inch: str
    bore_mm: Decimal
    aliases: tuple[int, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class TubeSizeRow:
    """A size of hose named by the tube it replaces (100R5, 100R14)."""

    dash: int
    dn: int
    bore_inch: str
    source: Source


@cache
def sizes() -> tuple[SizeRow, ...]:
    """Nominal sizes, smallest first."""
    return tuple(_size(row) for row in read_table("sizes.csv"))


@cache
def tube_sizes() -> tuple[TubeSizeRow, ...]:
    """Sizes of 100R5 and 100R14 hose, smallest first."""
    return tuple(
        TubeSizeRow(row.whole("dash"), row.whole("dn"), row.text("bore_inch"), row.source)
        for row in read_table("tube_sizes.csv")
    )


def _size(row: Row) -> SizeRow:
    aliases = tuple(int(alias) for alias in row.values["aliases"].split())
    return SizeRow(
        row.whole("dn"), row.whole("dash"), row.text("inch"), row.decimal("bore_mm"), aliases,
        row.source,
    )  # fmt: skip
