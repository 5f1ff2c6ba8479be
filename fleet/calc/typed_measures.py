"""A typed measure parted into figure and unit, and the refusals that say what is wrong with it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from fleet.calc.typed_numbers import NumberError, plain, readings

_FIGURE_THEN_UNIT = re.compile(r"([-+]?) ?([0-9](?:[0-9 ,.'/-]*[0-9])?) ?(.*)")
_SHOWN = 60


class UnitError(ValueError):
    """A typed measure that cannot be read; the message is for the person who typed it."""


class UnitMissing(UnitError):
    """A figure without its unit, where no unit is agreed."""


class UnknownUnit(UnitError):
    """A unit that this measure does not have."""


class NotANumber(UnitError):
    """The figure is not one plain number."""


class AmbiguousNumber(UnitError):
    """A figure that reads two ways; `readings` holds both values, in the typed unit."""

    def __init__(self, message: str, found: tuple[Decimal, ...]) -> None:
        super().__init__(message)
        self.readings = found


class OutOfRange(UnitError):
    """A figure below nothing, or bigger than anything in the trade."""


@dataclass(frozen=True, slots=True)
class Parts:
    """A figure and its unit, parted; `unit` in its one spelling."""

    typed: str
    negative: bool
    figure: str
    unit: str


def split_measure(
    text: str, words: Mapping[str, str], *, default_unit: str | None, what: str
) -> Parts:
    """Part the figure from its unit, and bring the unit to its one spelling.

    Parameters: text as typed; words, spellings (casefolded) to units; default_unit for a bare
    figure, or None; what, the measure with its article, for messages.
    Errors: NotANumber, UnknownUnit, UnitMissing. Source: the project's own.

    >>> split_measure("35 MPA", {"mpa": "MPa"}, default_unit=None, what="a pressure").unit
    'MPa'
    """
    units = ", ".join(dict.fromkeys(words.values()))
    typed = text.strip()
    cleaned = plain(typed.replace("º", "°"))
    if not cleaned:
        raise NotANumber(f"Nothing is written: {what} was expected.")
    match = _FIGURE_THEN_UNIT.fullmatch(cleaned)
    if match is None:
        raise NotANumber(f"{quoted(typed)} is not {what}: write one figure and its unit ({units}).")
    word = match[3].strip(" .").casefold()
    if word and word not in words:
        raise UnknownUnit(f"{quoted(typed)}: after the figure stands none of {units}.")
    unit = words[word] if word else default_unit
    if unit is None:
        raise UnitMissing(f"{quoted(typed)} has no unit: write {units} after the figure.")
    if unit not in words.values():
        raise UnknownUnit(f"The agreed unit {quoted(unit)} is none of {units}.")
    return Parts(typed, match[1] == "-", match[2], unit)


def one_value(parts: Parts, limit: Decimal, *, comma_groups: bool = False) -> Decimal:
    """Take the one reading of a figure that holds; refuse where two do.

    Parameters: parts; limit, the biggest figure met in the trade, in the typed unit;
    comma_groups: a lone comma before three digits parts thousands (agreed for this unit).
    Returns the value in the typed unit, without its sign.
    Errors: NotANumber, AmbiguousNumber, OutOfRange. Source: the project's own.

    >>> one_value(Parts("350,000 bar", False, "350,000", "bar"), Decimal(10_000))
    Decimal('350.000')
    """
    try:
        found = readings(parts.figure)
    except NumberError as error:
        raise NotANumber(f"{quoted(parts.typed)} cannot be read: {error}.") from error
    fitting = tuple(reading for reading in found if reading.value <= limit)
    if not fitting:
        raise OutOfRange(f"{quoted(parts.typed)} is bigger than anything met in the trade.")
    if len(fitting) > 1 and comma_groups and "," in parts.figure:
        fitting = tuple(reading for reading in fitting if reading.grouped)
    if len(fitting) > 1:
        raise _two_ways(parts, tuple(reading.value for reading in fitting))
    return fitting[0].value


def refuse_negative(parts: Parts) -> None:
    """Refuse a figure below nothing. Errors: OutOfRange."""
    if parts.negative:
        raise OutOfRange(f"{quoted(parts.typed)} is below nothing: check the sign.")


def quoted(text: str) -> str:
    """Show a typed text in a message, cut where it is long."""
    return f"“{text}”" if len(text) <= _SHOWN else f"“{text[:_SHOWN]}…”"


def rounded(value: Decimal, places: int) -> Decimal:
    """Round half-even to stated places."""
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)


def _two_ways(parts: Parts, found: tuple[Decimal, ...]) -> AmbiguousNumber:
    one, other = found
    return AmbiguousNumber(
        f"{quoted(parts.typed)} could be {one} {parts.unit} or {other} {parts.unit}: "
        "write it without the separator.",
        found,
    )
