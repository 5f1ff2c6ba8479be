"""Dates and date codes as typed, stamped and printed, read to the days they allow."""

from collections.abc import Sequence
from datetime import date

from assemblies.calc.date_patterns import (
    BY_NAME,
    BY_ORDER,
    MONTH_YEAR,
    OFFERED,
    PLAIN,
    YEAR_MONTH,
    Order,
    Pattern,
    fold,
)
from assemblies.calc.day_ranges import AmbiguousDate, DateError, DayRange, FutureDate, NoSuchDay

_SHOWN = 40


def parse_day(
    text: str,
    *,
    order: Order | None = None,
    latest_on: date | None = None,
    pattern: str | None = None,
) -> DayRange:
    """Read a typed date or a hose's date code: `3 Apr 2021`, `May 2022`, `2Q21`, `2019`.

    Parameters: text; order of three numbers such as `03/04/2021`, where a column agrees on one;
    latest_on, the last day the date may begin on; pattern, a name of `pattern_examples`, for a
    code that reads more than one way (`07/10`).
    Returns the earliest and latest day. A quarter counts from its first day.
    Limits: years 1950 to 2099; two figures mean 1960 to 2059, a fixed window, and a date that
    so falls after latest_on is refused. A long year in front (`2021/04/03`) is year, month, day
    whatever the order. Three numbers are read without an order only where all orders that
    fit give one day. Weeks are ISO weeks; week codes without a W only by their pattern.
    Errors: AmbiguousDate (with `readings`), FutureDate, DateError.
    Source: ISO 8601-1 (days, weeks); quarter codes on laylines are common practice.

    >>> parse_day("2Q21").earliest, parse_day("13/04/2021").earliest
    (datetime.date(2021, 4, 1), datetime.date(2021, 4, 13))
    >>> parse_day("03/04/2021")
    Traceback (most recent call last):
    assemblies.calc.day_ranges.AmbiguousDate: “03/04/2021” could be 3 Apr 2021 \
(day-month-year) or 4 Mar 2021 (month-day-year): say which.
    """
    folded, shown = fold(text), _shown(text)
    if pattern is not None:
        return _not_after(_by_pattern(folded, shown, pattern), latest_on, shown)
    if order is not None:
        found, errors = _read_all(folded, (*PLAIN, BY_ORDER[order]))
        offered, _ = _read_all(folded, OFFERED)
    else:
        found, errors = _read_all(folded, (*PLAIN, BY_ORDER["dmy"], BY_ORDER["mdy"]))
        offered, _ = _read_all(folded, (*OFFERED, BY_ORDER["ymd"]))
        found += [reading for reading in offered if found and reading.precision == "day"]
    return _decide(found, offered, errors, shown, latest_on)


def parse_assembly_mark(
    text: str, *, latest_on: date | None = None, pattern: str | None = None
) -> DayRange:
    """Read the date stamped on an assembly: `1606` or `16/06` is June 2016.

    Parameters: as for parse_day. Returns a month, as a rule.
    Limits: `1206` is June 2012 or December 2006 and is refused until a pattern is named;
    `2012` likewise, as December 2020 or the year.
    Errors: AmbiguousDate (with `readings`), FutureDate, DateError.
    Source: year and month as EN 853 marks assemblies; month and year is common practice.

    >>> parse_assembly_mark("1606").earliest
    datetime.date(2016, 6, 1)
    >>> str(parse_assembly_mark("07/10", pattern="year-month"))
    'Oct 2007'
    """
    folded, shown = fold(text), _shown(text)
    if pattern is not None:
        return _not_after(_by_pattern(folded, shown, pattern), latest_on, shown)
    found, errors = _read_all(folded, (YEAR_MONTH, MONTH_YEAR, *PLAIN))
    return _decide(found, [], errors, shown, latest_on)


def pattern_examples() -> dict[str, str]:
    """Every pattern a person may name, with an example of it.

    >>> pattern_examples()["quarter-year"]
    '2Q21'
    """
    return {name: pattern.example for name, pattern in BY_NAME.items()}


def _read_all(folded: str, patterns: Sequence[Pattern]) -> tuple[list[DayRange], list[DateError]]:
    found: list[DayRange] = []
    errors: list[DateError] = []
    for pattern in patterns:
        try:
            reading = pattern.read(folded)
        except DateError as error:
            errors.append(error)
        else:
            found += [] if reading is None else [reading]
    return found, errors


def _decide(
    found: Sequence[DayRange],
    offered: Sequence[DayRange],
    errors: Sequence[DateError],
    shown: str,
    latest_on: date | None,
) -> DayRange:
    """One sure reading is the date; several, or only unsure ones, are asked about."""
    different = {(reading.earliest, reading.latest): reading for reading in reversed(found)}
    if len(different) == 1:
        return _not_after(found[0], latest_on, shown)
    wrong_days = [error for error in errors if isinstance(error, NoSuchDay)]
    readings = found or ([] if wrong_days else offered)
    if readings:
        raise _unsure(readings, shown, latest_on)
    raise _unreadable([*wrong_days, *errors], shown)


def _unsure(readings: Sequence[DayRange], shown: str, latest_on: date | None) -> DateError:
    if latest_on is not None and all(reading.earliest > latest_on for reading in readings):
        return _future(readings[0], latest_on, shown)
    choices = " or ".join(f"{reading} ({reading.pattern})" for reading in readings)
    return AmbiguousDate(f"{shown} could be {choices}: say which.", readings)


def _unreadable(errors: Sequence[DateError], shown: str) -> DateError:
    if errors:
        return type(errors[0])(f"{shown}: {errors[0]}")
    return DateError(f"{shown} cannot be read as a date: write it as 2021-04-03, May 2022 or 2Q21.")


def _by_pattern(folded: str, shown: str, name: str) -> DayRange:
    pattern = BY_NAME.get(name)
    if pattern is None:
        raise DateError(f"There is no date pattern “{name}”: they are {', '.join(BY_NAME)}.")
    try:
        reading = pattern.read(folded)
    except DateError as error:
        raise _unreadable([error], shown) from error
    if reading is None:
        raise DateError(f"{shown} is not written as {name} (such as {pattern.example}).")
    return reading


def _not_after(reading: DayRange, latest_on: date | None, shown: str) -> DayRange:
    if latest_on is not None and reading.earliest > latest_on:
        raise _future(reading, latest_on, shown)
    return reading


def _future(reading: DayRange, latest_on: date, shown: str) -> FutureDate:
    return FutureDate(
        f"{shown} reads as {reading}, which is after {latest_on.isoformat()}: check the date."
    )


def _shown(text: str) -> str:
    return f"“{text.strip()[:_SHOWN]}”"
