"""The manager's report as plain content: figures, tables, pictures, from which page, paper and
workbook are made alike."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleet.calc.scene import Scene

SMALL_NUMBER = 5


@dataclass(frozen=True)
class Figure:
    """One figure of the report. `value` is None where it can't be said; `why` then says why.

    `low` and `high` are its limits at 95 %, where it has any; `formula` says how it came about in
    words; `link` is the address of the list behind it (pages only).
    """

    key: str
    words: str
    value: Decimal | None
    unit: str = ""
    places: int = 0
    low: Decimal | None = None
    high: Decimal | None = None
    formula: str = ""
    note: str = ""
    why: str = ""
    link: str = ""

    @property
    def limits_words(self) -> str:
        """The limits in words; empty where there are none.

        >>> Figure("rate", "Rate", Decimal("0.5"), places=2, low=Decimal("0.1")).limits_words
        'at least 0.10 (95 %)'
        """
        if self.low is None and self.high is None:
            return ""
        low, high = (None if v is None else f"{v:,.{self.places}f}" for v in (self.low, self.high))
        if low is None:
            return f"at most {high} (95 %)"
        return f"at least {low} (95 %)" if high is None else f"{low} to {high} (95 %)"


@dataclass(frozen=True)
class Column:
    """A column of a table: its head, and for figures the unit and decimals."""

    words: str
    unit: str = ""
    places: int | None = None


Cell = str | Decimal | None


@dataclass(frozen=True)
class Row:
    """A row's cells, one a column, and where the first of them leads (pages only)."""

    cells: tuple[Cell, ...]
    link: str = ""


@dataclass(frozen=True)
class Table:
    """A table of the report."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    empty: str = "Nothing in this period."


@dataclass(frozen=True)
class Picture:
    """A picture of the report with its caption."""

    key: str
    caption: str
    scene: Scene


@dataclass(frozen=True)
class Study:
    """A life study as the report tells it: its title, what it says, its pictures."""

    title: str
    made_on: dt.date
    says: tuple[str, ...]
    pictures: tuple[Picture, ...]
    link: str = ""


@dataclass(frozen=True)
class ReportContent:
    """Everything that the report of a period and scope says."""

    title: str
    scope: str
    from_on: dt.date
    to_on: dt.date
    made_on: dt.date
    currency: str
    figures: tuple[Figure, ...]
    tables: tuple[Table, ...]
    pictures: tuple[Picture, ...]
    studies: tuple[Study, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def period(self) -> str:
        """The period in words, both days in it.

        >>> days = dt.date(2025, 1, 1), dt.date(2025, 12, 31)
        >>> ReportContent("R", "all", *days, days[1], "EUR", (), (), ()).period
        '1 Jan 2025 to 31 Dec 2025'
        """
        first, last = (f"{d.day} {d:%b %Y}" for d in (self.from_on, self.to_on))
        return f"{first} to {last}"


def small_number_warning(failures: int) -> str:
    """What must stand beside figures that rest on few failures; empty where there are enough.

    >>> small_number_warning(2)
    'Only 2 failures in this period: the limits are wide, and one more or less changes much.'
    """
    if failures >= SMALL_NUMBER:
        return ""
    count = {0: "No failure", 1: "Only 1 failure"}.get(failures, f"Only {failures} failures")
    return f"{count} in this period: the limits are wide, and one more or less changes much."


def shown(value: Cell, column: Column) -> str:
    """A cell as page and paper print it; a missing figure is a dash.

    >>> shown(Decimal("1234.5"), Column("Down", "h", 1)), shown(None, Column("x"))
    ('1,234.5', '–')
    """
    if value is None:
        return "–"
    return value if isinstance(value, str) else f"{value:,.{column.places or 0}f}"
