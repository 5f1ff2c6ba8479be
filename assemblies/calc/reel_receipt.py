"""What is looked at when a reel comes in: its date code, its layline, its wire."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from assemblies.calc.date_reading import parse_day
from assemblies.calc.day_ranges import AmbiguousDate, DayRange, FutureDate
from assemblies.calc.laylines import Layline, parse_layline
from assemblies.standards import tables

MAKER_TOLERANCE_MM = Decimal("0.8")
"""Half the usual span of the tables' ranges; where only the maker's one figure is known."""


@dataclass(frozen=True, slots=True)
class MadeReading:
    """When a hose was made, as far as its marks say; `asked` is what a person must settle."""

    made: DayRange | None
    readings: tuple[DayRange, ...] = ()
    asked: str = ""

    def chosen(self, key: str) -> DayRange | None:
        """The reading that a person chose by its key."""
        return next((one for one in self.readings if reading_key(one) == key), None)


@dataclass(frozen=True, slots=True)
class WireCheck:
    """The measured diameter over the reinforcement against what it should be."""

    state: str
    sentence: str


def reading_key(reading: DayRange) -> str:
    """A short text that tells a reading from the others: its first and last day.

    >>> from assemblies.calc.day_ranges import quarter_of
    >>> reading_key(quarter_of(2016, 2, "quarter-year"))
    '2016-04-01..2016-06-30'
    """
    return f"{reading.earliest.isoformat()}..{reading.latest.isoformat()}"


def read_made(typed: str, layline: str, *, latest_on: date) -> MadeReading:
    """Read when a hose was made, from its date code and its layline together.

    Parameters: the code as typed, perhaps empty; the layline as printed, perhaps empty; the day
    it came in, after which it can't have been made. A code that reads more than one way, and a
    layline that says another day than the code, are asked about, never guessed.
    Returns the one reading, or the readings and what is asked; neither where nothing is said.
    Raises `DateError` where the code can't be read, or the layline's day is after `latest_on`.
    Source: see `parse_day`.

    >>> str(read_made("", "Blackmere/EN 853/2SN/DN 10/2Q16", latest_on=date(2016, 9, 1)).made)
    'quarter 2 of 2016'
    >>> asked = read_made("07/10", "", latest_on=date(2016, 9, 1))
    >>> asked.made, [str(one) for one in asked.readings]
    (None, ['Oct 2007', 'Jul 2010'])
    """
    by_code, code_asked = _by_code(typed, latest_on)
    by_line = _by_line(layline, latest_on)
    if not by_code:
        return _settled(by_line, _line_asked(by_line))
    if not by_line:
        return _settled(by_code, code_asked)
    keys = {reading_key(one) for one in by_line}
    agreed = tuple(one for one in by_code if reading_key(one) in keys)
    if agreed:
        return _settled(agreed, code_asked)
    both = (*by_code, *by_line)
    names = " or ".join(str(one) for one in both)
    return MadeReading(None, both, f"The code and the layline differ: {names}. Say which is right.")


def layline_differs(layline: str, hose_type: str, size_dn: int) -> tuple[str, ...]:
    """What a layline says otherwise than the catalogue of the hose that was chosen.

    Parameters: layline as printed; type and DN of the chosen item (type empty: no standard's).
    Returns a sentence for each; what the layline leaves out is no difference. Never raises.
    Source: the project's own.

    >>> layline_differs("Blackmere/EN 857/2SC/DN 10/2Q16", "2SN", 10)
    ('The layline says 2SC, the catalogue 2SN.',)
    """
    line = parse_layline(layline)
    return tuple(_differences(line, hose_type, size_dn))


def check_wire(
    measured_mm: Decimal, *, hose_type: str, size_dn: int, maker_mm: Decimal | None
) -> WireCheck:
    """Hold the measured diameter over the reinforcement against the standard's row.

    Parameters: measured, mm; type and DN; the maker's one figure in mm where no table has a row.
    Returns *fine*, *over* (outside: the hose, the skive or the measure is wrong) or *unsure*
    (nothing to hold it against), with figures and source.
    Source: the row's own document; for a maker's figure ±0.8 mm, common practice, no published
    source.

    >>> check_wire(Decimal("21.4"), hose_type="2SN", size_dn=12, maker_mm=None).state
    'over'
    """
    row = tables.diameters(hose_type, size_dn) if hose_type else None
    if row is not None:
        low, high, source = row.reinforcement_min_mm, row.reinforcement_max_mm, str(row.source)
        said = f"{_mm(low)} to {_mm(high)} mm for {hose_type} DN{size_dn}, {source}"
        if row.source.is_unverified:
            said += ", unverified: check your copy"
    elif maker_mm is not None:
        low, high = maker_mm - MAKER_TOLERANCE_MM, maker_mm + MAKER_TOLERANCE_MM
        said = f"{_mm(maker_mm)} ± {_mm(MAKER_TOLERANCE_MM)} mm by the catalogue"
    else:
        return WireCheck("unsure", f"{_mm(measured_mm)} mm; no table has a row to hold it against.")
    if low <= measured_mm <= high:
        return WireCheck("fine", f"{_mm(measured_mm)} mm, within {said}.")
    return WireCheck(
        "over",
        f"{_mm(measured_mm)} mm is outside {said}. Measure again; if it stands, the hose is not "
        "what it is said to be, and no recipe for it holds.",
    )


def _by_code(typed: str, latest_on: date) -> tuple[tuple[DayRange, ...], str]:
    if not typed.strip():
        return (), ""
    try:
        return (parse_day(typed, latest_on=latest_on),), ""
    except AmbiguousDate as error:
        return error.readings, str(error)


def _settled(readings: tuple[DayRange, ...], asked: str) -> MadeReading:
    different = {reading_key(one): one for one in readings}
    if not different:
        return MadeReading(None)
    if len(different) == 1:
        return MadeReading(next(iter(different.values())))
    return MadeReading(None, tuple(different.values()), asked)


def _by_line(layline: str, latest_on: date) -> tuple[DayRange, ...]:
    """The layline's readings up to a day; what it leaves open of the size is no matter here."""
    line = parse_layline(layline)
    readings = (line.hose_made,) if line.hose_made else line.date_readings
    in_time = tuple(one for one in readings if one.earliest <= latest_on)
    if readings and not in_time:
        raise FutureDate(
            f"The layline’s date reads as {readings[0]}, which is after {latest_on.isoformat()}: "
            "check the day the reel came in."
        )
    return in_time


def _line_asked(readings: tuple[DayRange, ...]) -> str:
    names = " or ".join(f"{one} ({one.pattern})" for one in readings)
    return f"The layline’s date could be {names}: say which."


def _differences(line: Layline, hose_type: str, size_dn: int) -> Iterator[str]:
    names = {name for row in tables.hose_types() if row.type == hose_type for name in row.names}
    if line.type and names and line.type not in (*names, hose_type):
        yield f"The layline says {line.type}, the catalogue {hose_type}."
    if line.size is not None and line.size.dn != size_dn:
        yield f"The layline says {line.size}, the catalogue DN{size_dn}."


def _mm(number: Decimal) -> str:
    return f"{number.normalize():f}"
