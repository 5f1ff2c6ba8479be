"""What a row says of hose, stay, position and machine, in the whole numbers of the tables.

Each fact is a few values that change together: what was read, and as it was typed. A row that is
silent gives None. Only the first values are compared: another spelling of a size is no change.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from fleet.calc.keys import text_key

from .entries import Dated, Measured, RegisterEntry

EPOCH = dt.date(1970, 1, 1)
Values = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact: its label, its columns, how many of them are compared, how a row gives it."""

    label: str
    columns: tuple[str, ...]
    compared: int
    of: Callable[[RegisterEntry], Values | None]
    nothing: Values
    show: Callable[[Values], str]


@dataclass(frozen=True, slots=True)
class Change:
    """One fact that a row changes."""

    fact: Fact
    before: Values
    after: Values

    def in_words(self) -> tuple[str, str, str]:
        return self.fact.label, self.fact.show(self.before), self.fact.show(self.after)


def changes(facts: Sequence[Fact], entry: RegisterEntry, known: Sequence[Values]) -> list[Change]:
    """The facts that a row states otherwise than they are known. A silent row changes nothing.

    Parameters: facts; entry; known, the values of each fact, in the same order. Never raises.
    """
    found: list[Change] = []
    for fact, before in zip(facts, known, strict=True):
        after = fact.of(entry)
        if after is not None and after[: fact.compared] != before[: fact.compared]:
            found.append(Change(fact, before, after))
    return found


def day_number(on: dt.date) -> int:
    """Whole days since 1970-01-01.

    >>> day_number(dt.date(1970, 3, 1))
    59
    """
    return on.toordinal() - _EPOCH_ORDINAL


def scaled(value: Decimal, places: int) -> int:
    """The value in whole units of its last place, rounded half-even.

    >>> scaled(Decimal("12.25"), 1)
    122
    """
    return int(value.scaleb(places).quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


_EPOCH_ORDINAL = EPOCH.toordinal()


def _text(name: str) -> Callable[[RegisterEntry], Values | None]:
    def of(entry: RegisterEntry) -> Values | None:
        text = getattr(entry, name)
        return (text,) if text else None

    return of


def _dated(name: str) -> Callable[[RegisterEntry], Values | None]:
    def of(entry: RegisterEntry) -> Values | None:
        found: Dated | None = getattr(entry, name)
        if found is None:
            return None
        return day_number(found.earliest), day_number(found.latest), found.precision, found.typed

    return of


def _measured(name: str, places: int) -> Callable[[RegisterEntry], Values | None]:
    def of(entry: RegisterEntry) -> Values | None:
        found: Measured | None = getattr(entry, name)
        return None if found is None else (scaled(found.value, places), found.typed)

    return of


def _size(entry: RegisterEntry) -> Values | None:
    return None if entry.size is None else (entry.size.size.dn, entry.size.typed)


def _hours(entry: RegisterEntry) -> Values | None:
    found = entry.fitted_hours
    return None if found is None else (scaled(found.value, 1),)


def _known_circuit(entry: RegisterEntry) -> Values | None:
    """A circuit in people's own words never takes the place of one that is known."""
    return (entry.circuit,) if entry.circuit and not entry.circuit_typed else None


def _shown_text(values: Values) -> str:
    return str(values[0]).replace("_", " ") if values[0] else "–"


def _shown_dated(values: Values) -> str:
    if values[0] is None:
        return "–"
    first, last = (EPOCH + dt.timedelta(days=days) for days in values[:2])
    if first == last:
        return first.isoformat()
    return f"{first.isoformat()} to {last.isoformat()}"


def _shown_scaled(places: int, unit: str) -> Callable[[Values], str]:
    def show(values: Values) -> str:
        if values[0] is None:
            return "–"
        number = Decimal(values[0]).scaleb(-places)
        return f"{number.normalize():f} {unit}"

    return show


def _shown_size(values: Values) -> str:
    return "–" if values[0] is None else f"DN{values[0]}"


def _dates(name: str, label: str, stem: str) -> Fact:
    columns = (f"{stem}_earliest_on", f"{stem}_latest_on", f"{stem}_precision", f"{stem}_typed")
    return Fact(label, columns, 3, _dated(name), (None, None, "", ""), _shown_dated)


def _plain(name: str, label: str, column: str = "") -> Fact:
    return Fact(label, (column or name,), 1, _text(name), ("",), _shown_text)


_CONSEQUENCE_WORDS = {
    "hurts": "hurts someone",
    "stops": "stops the machine",
    "unknown": "not yet judged",
}
HOSE_FACTS: tuple[Fact, ...] = (
    _plain("hose_type", "type of hose"),
    Fact("size", ("size_dn", "size_typed"), 1, _size, (None, ""), _shown_size),
    Fact(
        "length",
        ("length_mm", "length_typed"),
        1,
        _measured("length", 1),
        (None, ""),
        _shown_scaled(1, "mm"),
    ),
    Fact(
        "working pressure",
        ("working_pressure_bar", "pressure_typed"),
        1,
        _measured("pressure", 2),
        (None, ""),
        _shown_scaled(2, "bar"),
    ),
    _plain("end_a", "end A"),
    _plain("end_b", "end B"),
    _plain("note", "note"),
    _dates("made", "hose made", "made"),
    _dates("built", "assembly built", "built"),
)
STAY_FACTS: tuple[Fact, ...] = (
    _dates("fitted", "fitted on", "from"),
    Fact("hours at fitting", ("from_machine_h",), 1, _hours, (None,), _shown_scaled(1, "h")),
    _plain("store", "place in the store", "store_place"),
)
POSITION_FACTS: tuple[Fact, ...] = (
    Fact("circuit", ("circuit",), 1, _known_circuit, ("other",), _shown_text),
    Fact(
        "consequence of a failure",
        ("consequence",),
        1,
        _text("consequence"),
        ("unknown",),
        lambda values: _CONSEQUENCE_WORDS.get(values[0]) or str(values[0]),
    ),
)


def _machine_class(entry: RegisterEntry) -> Values | None:
    return (text_key(entry.machine_class), entry.machine_class) if entry.machine_class else None


MACHINE_FACTS: tuple[Fact, ...] = (
    Fact(
        "class of the machine",
        ("class_key", "class_name"),
        1,
        _machine_class,
        ("", ""),
        lambda values: str(values[1]) or "–",
    ),
    _plain("machine_maker", "maker of the machine", "maker"),
    _plain("machine_model", "model of the machine", "model"),
    _plain("machine_serial", "serial number of the machine", "serial_number"),
)
