"""One cell read as its column's field, or refused in words, or asked about."""

import dataclasses
import datetime as dt
import re
from decimal import ROUND_HALF_EVEN, Decimal

from assemblies.calc.date_patterns import MONTH_BY_NAME
from assemblies.calc.datecodes import AmbiguousDate, DateError, DayRange, parse_day
from assemblies.calc.sizes import AmbiguousSize, Notation, Size, SizeError, parse_size
from fleet.calc.units import (
    BAR_PER_UNIT,
    HOURS_LIMIT,
    LENGTH_LIMIT_MM,
    MM_PER_UNIT,
    PRESSURE_LIMIT_BAR,
    AmbiguousNumber,
    UnitError,
    UnitMissing,
    parse_hours,
    parse_length,
    parse_pressure,
)
from fleet.tabular import Cell

from .entries import Dated, Measured, Sized
from .fields import FACTS, Field
from .folding import words_of
from .hose_words import size_within, type_within
from .questions import Answers, Asked
from .words import CIRCUITS, CONSEQUENCES

_HUNDREDTH, _TENTH = Decimal("0.01"), Decimal("0.1")
_ISO = re.compile(r"(19[5-9]|20[0-9])[0-9]-[0-1][0-9]-[0-3][0-9]", re.ASCII)
_ORDERS = {"day-month-year": "dmy", "month-day-year": "mdy", "year-month-day": "ymd"}
_FIGURE = re.compile(r"[0-9][0-9 ,.']*[0-9]")
_CLOCK = re.compile(r"(\d{1,6}):([0-5]\d)(?::[0-5]\d)?")
_SHORTENED = re.compile(r"\d(?:[.,]\d+)?E\+\d{2,3}", re.IGNORECASE)
_UNSEEN_CONTROLS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
_DAY_AND_MONTH = re.compile(
    r"(\d{1,2})[-. /]([A-Za-zÀ-ÿ]{3,9})\.?|([A-Za-zÀ-ÿ]{3,9})[-. /](\d{1,2})"
)
_TWO_PRESSURES = re.compile(r"(.*?[A-Za-z]+)\s*[/(,;|-]\s*([0-9].*?[A-Za-z]+)\s*\)?")
_FORMAT_WORDS = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]')
_NEVER_A_DAY = frozenset(
    {Field.TAG, Field.MACHINE, Field.PLACE, Field.HOSE_TYPE, Field.END_A, Field.END_B}
    | {Field.MACHINE_SERIAL, Field.MACHINE_MODEL, Field.STORE}
)
_DATED_FIELDS_OF_ONE_DAY = frozenset({Field.HOURS_ON, Field.INSPECTED})


class Problem(Exception):
    """A cell that can't be read. The message is for the person whose cell it is."""


@dataclasses.dataclass(frozen=True, slots=True)
class Reading:
    """How a column is read: its field, the unit its header names, the answers given."""

    field: Field
    unit: str = ""
    answers: Answers = dataclasses.field(default_factory=dict)
    latest_on: dt.date | None = None

    def answer(self, matter: str) -> str:
        return self.answers.get(f"{self.field}.{matter}", "")

    @property
    def said_of_size(self) -> str:
        """The notation of bare sizes: as answered, else as the header names it."""
        return self.answer("notation") or self.unit


def read_cell(cell: Cell, reading: Reading) -> object:
    """Read a filled cell: a text, `Sized`, `Measured`, `Dated` or a choice's word.

    Raises `Problem` for what can't be read and `Asked` for what reads more than one way.
    >>> Reading(Field.SIZE, "dn").said_of_size
    'dn'
    """
    if cell.kind == "formula_without_value":
        raise Problem(
            "The formula's answer is not stored in the file: open it in a spreadsheet program and "
            "save it again."
        )
    if cell.kind == "error":
        raise Problem(f"The cell shows an error ({cell.text}) instead of a value.")
    facts = FACTS[reading.field]
    text = " ".join(cell.text.split()) if facts.longest < 1000 else cell.text.strip()
    if not text.isprintable() and _UNSEEN_CONTROLS.search(text):
        raise Problem("It holds a sign that can't be seen or printed: type the cell again.")
    if len(text) > facts.longest:
        raise Problem(f"It has {len(text)} characters; at most {facts.longest} are kept.")
    return _READERS[facts.kind](cell, text, reading)


def _in_plain_digits(figure: str, factor: Decimal, limit: Decimal) -> Decimal | None:
    """What the long way gives for a figure of digits only, sooner; None for any other."""
    if not (figure.isascii() and figure.isdecimal() and len(figure) < 8):
        return None
    value = Decimal(figure) * factor
    return value.quantize(_HUNDREDTH, rounding=ROUND_HALF_EVEN) if value <= limit else None


def _text(cell: Cell, text: str, reading: Reading) -> str:
    if reading.field in _NEVER_A_DAY:
        if cell.kind in ("day", "moment"):
            raise Problem("A spreadsheet program made a date of it: type it as text.")
        shortened = "+" in text and _SHORTENED.fullmatch(text)
        if shortened or (cell.kind == "number" and len(text) > 15):
            raise Problem("A spreadsheet program has shortened a long number: type it as text.")
    return text


def _size(cell: Cell, text: str, reading: Reading) -> Sized:
    if cell.kind in ("day", "moment") or _DAY_AND_MONTH.fullmatch(text):
        return Sized(_size_made_a_date(cell, text, reading), text)
    said = reading.said_of_size
    try:
        return Sized(parse_size(text, notation=Notation(said) if said else None), text)
    except AmbiguousSize as error:
        options = {notation.value: str(size) for notation, size in error.readings}
        raise Asked("notation", options) from error
    except SizeError as error:
        within = size_within(text) if type_within(text) else None
        if within is None:
            raise Problem(str(error)) from error
        return Sized(within.size, text)


def _size_made_a_date(cell: Cell, text: str, reading: Reading) -> Size:
    sizes = {_inches(over, under) for over, under in _pairs(cell, text)} - {None}
    if len(sizes) != 1:
        raise Problem(
            "A spreadsheet program made a date of the size: type it as text, such as 1/2."
        )
    size = sizes.pop()
    assert size is not None
    answer = reading.answer("dates")
    if not answer:
        raise Asked("dates", {"fractions": str(size), "refuse": ""})
    if answer != "fractions":
        raise Problem(
            "A spreadsheet program made a date of the size: type it as text, such as 1/2."
        )
    return size


def _pairs(cell: Cell, text: str) -> set[tuple[int, int]]:
    """What may have been typed before it became a date: day/month, month/day or month/year."""
    if isinstance(cell.value, dt.date):
        day, month, year = cell.value.day, cell.value.month, cell.value.year % 100
        return {(day, month), (month, day), *({(month, year)} if day == 1 else set())}
    found = _DAY_AND_MONTH.fullmatch(text)
    if found is None:
        return set()
    number = int(found[1] or found[4])
    month = MONTH_BY_NAME.get(words_of(found[2] or found[3]), 0)
    return {(number, month), (month, number)} if month else set()


def _inches(over: int, under: int) -> Size | None:
    try:
        return parse_size(f'{over}/{under}"')
    except SizeError:
        return None


def _pressure(cell: Cell, text: str, reading: Reading) -> Measured:
    unit = reading.unit or reading.answer("unit") or None
    figure = _figure(cell, text)
    if unit is not None and unit in BAR_PER_UNIT:
        bar = _in_plain_digits(figure, BAR_PER_UNIT[unit], PRESSURE_LIMIT_BAR)
        if bar is not None:
            return Measured(bar, text)
    try:
        return Measured(parse_pressure(figure, default_unit=unit).bar, text)
    except UnitMissing as error:
        options = {name: _tried(figure, name, "bar") for name in ("bar", "psi", "MPa", "kPa")}
        raise Asked("unit", options) from error
    except AmbiguousNumber as error:
        plain = _decided(figure, error, reading)
        return Measured(parse_pressure(plain, default_unit=unit).bar, text)
    except UnitError as error:
        twice = _printed_twice(figure)
        if twice is None:
            raise Problem(str(error)) from error
        return Measured(twice, text)


def _printed_twice(text: str) -> Decimal | None:
    """The bar of a pressure printed in two units that agree (`350 bar / 5000 psi`), else None.

    Prints are rounded, each in its own unit: within three in a hundred they say the same.
    """
    found = _TWO_PRESSURES.fullmatch(text)
    if found is None:
        return None
    try:
        one, other = (parse_pressure(part) for part in found.groups())
    except UnitError:
        return None
    if abs(one.bar - other.bar) > max(one.bar, other.bar) * Decimal("0.03"):
        return None
    return other.bar if other.unit == "bar" else one.bar


def _length(cell: Cell, text: str, reading: Reading) -> Measured:
    unit = reading.unit or reading.answer("unit") or None
    figure = _figure(cell, text)
    if unit is not None and unit in MM_PER_UNIT:
        mm = _in_plain_digits(figure, MM_PER_UNIT[unit], LENGTH_LIMIT_MM)
        if mm is not None:
            return _not_nothing(mm, text)
    try:
        return _not_nothing(parse_length(figure, default_unit=unit).mm, text)
    except UnitMissing as error:
        options = {name: _tried(figure, name, "mm") for name in ("mm", "cm", "m", "in")}
        raise Asked("unit", options) from error
    except AmbiguousNumber as error:
        plain = _decided(figure, error, reading)
        return _not_nothing(parse_length(plain, default_unit=unit).mm, text)
    except UnitError as error:
        raise Problem(str(error)) from error


def _not_nothing(mm: Decimal, text: str) -> Measured:
    if not 0 < mm <= 100_000:
        raise Problem("A hose is longer than nothing and shorter than 100 m: check the length.")
    return Measured(mm, text)


def _tried(figure: str, unit: str, shown_in: str) -> str:
    try:
        if shown_in == "bar":
            return f"{parse_pressure(figure, default_unit=unit).bar.normalize():f} bar"
        return f"{parse_length(figure, default_unit=unit).mm.normalize():f} mm"
    except AmbiguousNumber:
        return ""
    except UnitError:
        return "no such pressure" if shown_in == "bar" else "no such length"


def _hours(cell: Cell, text: str, reading: Reading) -> Measured:
    if cell.kind in ("day", "moment"):
        raise Problem("A spreadsheet program made a date of the hours: type them as a number.")
    clock = _CLOCK.fullmatch(text) if ":" in text else None
    if clock is not None:
        minutes = Decimal(int(clock[2])) / 60
        return Measured((int(clock[1]) + minutes).quantize(Decimal("0.1")), text)
    figure = _figure(cell, text)
    whole = _in_plain_digits(figure, Decimal(1), HOURS_LIMIT)
    if whole is not None:
        return Measured(whole.quantize(_TENTH), text)
    try:
        return Measured(Decimal(parse_hours(figure).tenths).scaleb(-1), text)
    except AmbiguousNumber as error:
        plain = _decided(figure, error, reading)
        return Measured(Decimal(parse_hours(plain).tenths).scaleb(-1), text)
    except UnitError as error:
        raise Problem(str(error)) from error


def _figure(cell: Cell, text: str) -> str:
    """A workbook's own number has no thousands sign: three decimals are three decimals."""
    whole, point, part = text.partition(".")
    if (
        cell.kind == "number"
        and point
        and len(part) == 3
        and whole.isdecimal()
        and part.isdecimal()
    ):
        return f"{text}0"
    return text


def _decided(figure: str, error: AmbiguousNumber, reading: Reading) -> str:
    """The text with the number that the column's answer takes it for."""
    large, small = max(error.readings), min(error.readings)
    answer = reading.answer("decimal")
    if answer not in ("thousands", "decimal"):
        raise Asked("decimal", {"thousands": f"{large:f}", "decimal": f"{small.normalize():f}"})
    number = f"{large:f}" if answer == "thousands" else f"{small:f}0"
    return _FIGURE.sub(number, figure, count=1)


def _day(cell: Cell, text: str, reading: Reading) -> Dated | dt.date:
    found = _from_calendar(cell, reading) if _is_day(cell) else _from_words(text, reading)
    if reading.field not in _DATED_FIELDS_OF_ONE_DAY:
        return Dated(found.earliest, found.latest, found.precision, text)
    if reading.field == Field.HOURS_ON and found.precision != "day":
        raise Problem(f"{found} is not one day: a reading of the hours needs its day.")
    return found.earliest


def _is_day(cell: Cell) -> bool:
    return cell.kind in ("day", "moment")


def _from_calendar(cell: Cell, reading: Reading) -> DayRange:
    """A real date of a workbook. One shown without its day is known to the month."""
    on = cell.value.date() if isinstance(cell.value, dt.datetime) else cell.value
    assert isinstance(on, dt.date)
    if reading.answer("swapped") == "swap" and on.day <= 12:
        on = dt.date(on.year, on.day, on.month)
    shown = _FORMAT_WORDS.sub("", cell.format).lower()
    try:
        if "d" in shown or not shown or on.day > 1:
            return parse_day(on.isoformat(), latest_on=reading.latest_on)
        month = on.isoformat()[:7] if "m" in shown else on.isoformat()[:4]
        return parse_day(month, latest_on=reading.latest_on)
    except DateError as error:
        raise Problem(str(error)) from error


def _from_words(text: str, reading: Reading) -> DayRange:
    if _ISO.fullmatch(text):
        return _from_iso(text, reading)
    return _from_any(text, reading)


def _from_iso(text: str, reading: Reading) -> DayRange:
    """The commonest way to write a day, sooner than by trying all patterns."""
    try:
        on = dt.date.fromisoformat(text)
    except ValueError:
        return _from_any(text, reading)
    if reading.latest_on is not None and on > reading.latest_on:
        return _from_any(text, reading)
    return DayRange(on, on, "day", "iso-day")


def _from_any(text: str, reading: Reading) -> DayRange:
    order = reading.answer("order")
    try:
        if order in ("dmy", "mdy", "ymd"):
            return parse_day(text, order=order, latest_on=reading.latest_on)  # type: ignore[arg-type]  # one of the three words
        return parse_day(text, latest_on=reading.latest_on)
    except AmbiguousDate as error:
        return _by_answer(text, error, reading)
    except DateError as error:
        raise Problem(str(error)) from error


def _by_answer(text: str, error: AmbiguousDate, reading: Reading) -> DayRange:
    patterns = {found.pattern: str(found) for found in error.readings}
    if patterns.keys() <= _ORDERS.keys():
        raise Asked("order", {_ORDERS[name]: shown for name, shown in patterns.items()})
    answer = reading.answer("code")
    if not answer:
        offered = {name: shown for name, shown in patterns.items() if name not in _ORDERS}
        raise Asked("code", offered | {"refuse": ""})
    if answer == "refuse":
        raise Problem(str(error))
    try:
        return parse_day(text, pattern=answer, latest_on=reading.latest_on)
    except DateError as failed:
        raise Problem(str(failed)) from failed


def _choice(_cell: Cell, text: str, reading: Reading) -> str:
    words = words_of(text)
    found = _circuit(words) if reading.field == Field.CIRCUIT else _consequence(words)
    if found:
        return found
    if reading.field == Field.CIRCUIT:
        return "other"
    answer = reading.answer(f"word:{words}")
    if answer in CONSEQUENCES:
        return answer
    raise Asked(f"word:{words}", dict.fromkeys(CONSEQUENCES, ""))


def _circuit(words: str) -> str:
    for circuit, hints in CIRCUITS:
        if circuit == words or any(
            word.startswith(hint) for word in words.split() for hint in hints.split()
        ):
            return circuit
    return ""


def _consequence(words: str) -> str:
    for name, phrases in CONSEQUENCES.items():
        if words == name or words in phrases.split("|"):
            return name
    return ""


_READERS = {
    "text": _text,
    "size": _size,
    "length": _length,
    "pressure": _pressure,
    "day": _day,
    "hours": _hours,
    "choice": _choice,
}
