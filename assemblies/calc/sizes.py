"""Hose sizes by any of their names: dash, inch, DN or millimetres of bore."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import cache

from assemblies.standards import tables
from fleet.calc.typed_numbers import parse_fraction, plain

MM_TOLERANCE = Decimal("0.3")
"""How far a typed bore may stand from the ISO bore or from the inch bore (our own choice)."""

_FRACTION = r"(?:\d{1,2}(?:[ ]?-[ ]?|[ ]|\.))?\d{1,2}/\d{1,2}"
_MARKED = re.compile(
    rf"""
    (?:dn|nw)[ .-]?(?P<dn>\d{{1,3}})
    | (?:-|\#|dash[ ]?-?)(?P<dash>\d{{1,2}})
    | (?P<inch>{_FRACTION}|\d{{1,2}}(?:[.,]\d{{1,4}})?)[ ]?(?:"|''|inch(?:es)?\b|in\b\.?|zoll\b)
    | (?P<mm>\d{{1,3}}(?:[.,]\d{{1,2}})?)[ ]?mm\b
    | (?P<fraction>{_FRACTION})
    | (?P<bare>\d{{1,3}}(?:[.,]\d{{1,4}})?)
    """,
    re.IGNORECASE | re.VERBOSE,
)
_BETWEEN = re.compile(r"[ ,;=()]*")
_SHOWN = 40


class Notation(StrEnum):
    """The four ways a hose size is written."""

    DASH = "dash"
    INCH = "inch"
    DN = "dn"
    MM = "mm"

    @property
    def label(self) -> str:
        """The notation's name in sentences."""
        return _LABELS[self]


@dataclass(frozen=True, slots=True)
class Size:
    """One nominal size; `bore_mm` is the ISO bore, `inch` as the trade writes it."""

    dn: int
    dash: int
    inch: str
    bore_mm: Decimal

    @property
    def inch_bore_mm(self) -> Decimal:
        """The inch bore in mm: DN12 is 12.7 mm."""
        return self.dash * Decimal("25.4") / 16

    def __str__(self) -> str:
        return f'DN{self.dn} (-{self.dash}, {self.inch}")'


_LABELS = {
    Notation.DASH: "dash",
    Notation.INCH: "inch",
    Notation.DN: "DN",
    Notation.MM: "bore",
}
_FORMS: dict[Notation, Callable[[Size], str]] = {
    Notation.DASH: lambda size: f"-{size.dash}",
    Notation.INCH: lambda size: size.inch,
    Notation.DN: lambda size: f"DN{size.dn}",
    Notation.MM: lambda size: f"{size.inch_bore_mm.normalize():f}",
}


class SizeError(ValueError):
    """A size that cannot be read; the message is for the person who typed it."""


class UnknownSize(SizeError):
    """No hose size has this name."""


class AmbiguousSize(SizeError):
    """A text that could be more than one size; `readings` holds each with its notation."""

    def __init__(self, message: str, readings: tuple[tuple[Notation, Size], ...]) -> None:
        super().__init__(message)
        self.readings = readings


@cache
def all_sizes() -> tuple[Size, ...]:
    """Every nominal size, smallest first."""
    return tuple(Size(row.dn, row.dash, row.inch, row.bore_mm) for row in tables.sizes())


def size_by_dn(dn: int) -> Size:
    """Find a size by its DN or by another print of it: 13 is DN12, 32 is DN31.

    Errors: UnknownSize. Source: ISO 4397; the other prints from trade charts.

    >>> size_by_dn(13).inch
    '1/2'
    """
    size = _by_dn().get(dn)
    if size is None:
        raise UnknownSize(f"There is no hose size DN{dn}: the sizes are {_names(Notation.DN)}.")
    return size


def tube_size_dn(dash: int) -> int:
    """Give the DN of a hose named by the tube it replaces (100R5, 100R14).

    Parameters: dash of the tube. Returns DN, which for -16 and above is no DN of other hose.
    Errors: UnknownSize. Source: SAE J517 (100R5), by a trade chart.

    >>> tube_size_dn(8), tube_size_dn(16)
    (10, 22)
    """
    for row in tables.tube_sizes():
        if row.dash == dash:
            return row.dn
    known = ", ".join(f"-{row.dash}" for row in tables.tube_sizes())
    raise UnknownSize(f"There is no tube-named hose size -{dash}: the sizes are {known}.")


def parse_size(text: str, *, notation: Notation | None = None) -> Size:
    """Read a typed hose size: `1/2`, `1.1/2"`, `-8`, `DN12`, `12.7 mm`, `½`.

    Parameters: text; notation, how a bare number such as `12` or `08` is meant. A text with a
    mark of its own keeps it, whatever the notation; several marks (`1/2" DN12`) must agree.
    Limits: a bore in mm is taken within 0.3 mm of the ISO or the inch bore, so `12 mm` is
    refused (DN12 is a name: its bore is 12.7). A bare number is taken only where all its
    readings are one size.
    Errors: AmbiguousSize (with `readings`), UnknownSize.
    Source: ISO 4397 (sizes); dash = sixteenths of an inch, SAE J517.

    >>> parse_size("1.1/2").dn, parse_size("-8").dn, parse_size("DN13").inch
    (38, 12, '1/2')
    >>> parse_size("12", notation=Notation.DASH).inch
    '3/4'
    """
    shown = f"“{text.strip()[:_SHOWN]}”"
    found = [_one_mark(match, shown, notation) for match in _marks(plain(text), shown)]
    if len(set(found)) > 1:
        raise UnknownSize(f"{shown} names two sizes, {found[0]} and {found[-1]}: write one.")
    return found[0]


def readings_of(number: Decimal) -> tuple[tuple[Notation, Size], ...]:
    """Every size a bare number could be, each with its notation.

    >>> [str(notation) for notation, _ in readings_of(Decimal(12))]
    ['dash', 'dn']
    """
    pairs = ((notation, _read(number, notation)) for notation in Notation)
    return tuple((notation, size) for notation, size in pairs if size is not None)


def _marks(text: str, shown: str) -> Iterator[re.Match[str]]:
    """Walk the text mark by mark; nothing may be left over."""
    at = _skip(text, 0)
    if not text or at == len(text):
        raise UnknownSize(f"{shown} is no hose size: write it as 1/2, -8 or DN12.")
    while at < len(text):
        match = _MARKED.match(text, at)
        end = match.end() if match else at
        if match is None or (end < len(text) and _skip(text, end) == end):
            raise UnknownSize(f"{shown} is no hose size: write it as 1/2, -8 or DN12.")
        yield match
        at = _skip(text, end)


def _skip(text: str, at: int) -> int:
    match = _BETWEEN.match(text, at)
    return match.end() if match else at


def _one_mark(match: re.Match[str], shown: str, notation: Notation | None) -> Size:
    kind = str(match.lastgroup)
    figure = match[kind].replace(",", ".")
    if kind == "bare":
        return _bare(Decimal(figure), shown, notation)
    if "/" in figure:
        return _fraction(figure, shown)
    size = _read(Decimal(figure), Notation(kind))
    if size is None:
        raise UnknownSize(_no_such(Decimal(figure), Notation(kind), shown))
    return size


def _bare(number: Decimal, shown: str, notation: Notation | None) -> Size:
    if notation is not None:
        size = _read(number, notation)
        if size is None:
            raise UnknownSize(_no_such(number, notation, shown))
        return size
    found = readings_of(number)
    if not found:
        raise UnknownSize(f"{shown} is no hose size, be it read as dash, inch, DN or mm.")
    if len({size for _, size in found}) > 1:
        choices = " or ".join(f"{size} by {_LABELS[kind]}" for kind, size in found)
        raise AmbiguousSize(f"{shown} could be {choices}: write which is meant.", found)
    return found[0][1]


def _fraction(figure: str, shown: str) -> Size:
    inches = parse_fraction(figure)
    size = None if inches is None else _by_sixteenths(inches)
    if size is None:
        raise UnknownSize(f"{shown} is no hose size: in inches they are {_names(Notation.INCH)}.")
    return size


def _read(number: Decimal, notation: Notation) -> Size | None:
    if notation is Notation.MM:
        return next((size for size in all_sizes() if _near(number, size)), None)
    if notation is Notation.INCH:
        return _by_sixteenths(Fraction(number))
    if number != number.to_integral_value():
        return None
    if notation is Notation.DN:
        return _by_dn().get(int(number))
    return next((size for size in all_sizes() if size.dash == number), None)


def _near(bore_mm: Decimal, size: Size) -> bool:
    gap = min(abs(bore_mm - size.bore_mm), abs(bore_mm - size.inch_bore_mm))
    return gap <= MM_TOLERANCE


def _by_sixteenths(inches: Fraction) -> Size | None:
    return next((size for size in all_sizes() if size.dash == inches * 16), None)


@cache
def _by_dn() -> dict[int, Size]:
    pairs = zip(tables.sizes(), all_sizes(), strict=True)
    return {dn: size for row, size in pairs for dn in (row.dn, *row.aliases)}


def _no_such(number: Decimal, notation: Notation, shown: str) -> str:
    name = _by_dn().get(int(number)) if notation is Notation.MM else None
    if name is not None:
        return (
            f"{shown}: no hose has a bore of {number} mm; if the name DN{name.dn} is meant, "
            f"write DN{name.dn} (its bore is {name.inch_bore_mm.normalize()} mm)."
        )
    return f"{shown} is no hose size: by {_LABELS[notation]} they are {_names(notation)}."


def _names(notation: Notation) -> str:
    return ", ".join(_FORMS[notation](size) for size in all_sizes())
