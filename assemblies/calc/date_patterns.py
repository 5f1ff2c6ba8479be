"""The patterns dates and date codes are written in, each named, with an example."""

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from assemblies.calc.day_ranges import (
    DateError,
    DayRange,
    day_of,
    full_year,
    month_of,
    quarter_of,
    week_of,
    year_of,
)

Order = Literal["dmy", "mdy", "ymd"]
Build = Callable[[re.Match[str], str], DayRange]

_MONTH_NAMES: Mapping[int, str] = {
    1: "jan january januar janner jaenner janv janvier ene enero",
    2: "feb february februar fev fevr fevrier febrero",
    3: "mar march marz maerz mrz mars marzo",
    4: "apr april avr avril abr abril",
    5: "may mai mayo",
    6: "jun june juni juin junio",
    7: "jul july juli juil juillet julio",
    8: "aug august aout ago agosto",
    9: "sep sept september septembre septiembre setiembre",
    10: "oct october okt oktober octobre octubre",
    11: "nov november novembre noviembre",
    12: "dec december dez dezember decembre dic diciembre",
}
MONTH_BY_NAME: Mapping[str, int] = {
    name: month for month, names in _MONTH_NAMES.items() for name in names.split()
}
"""English, German, French and Spanish, long and short, without accents."""

_NAME = r"(?P<name>[a-z]{3,10})\.?"
_DAY, _MONTH = r"(?P<d>\d{1,2})", r"(?P<m>\d{1,2})"
_YEAR, _SHORT, _LONG = r"'?(?P<y>\d{4}|\d{2})", r"(?P<y>\d{2})", r"(?P<y>\d{4})"
_GAP = r"(?: ?[-/.,] ?| )"
_OF = r"(?: ?[-/.,] ?| (?:of |de |del )?)"
_ORDINAL = r"(?:st|nd|rd|th|er)?"
_DAY_ZERO = date(1899, 12, 30)


@dataclass(frozen=True, slots=True)
class Pattern:
    """One way of writing a date; `is_sure` when nothing else is written like it."""

    name: str
    example: str
    expression: re.Pattern[str]
    build: Build
    is_sure: bool = True

    def read(self, text: str) -> DayRange | None:
        """Read a folded text, or give None where it is not written this way.

        Errors: DateError where it is, but names no day there is.
        """
        match = self.expression.fullmatch(text)
        return None if match is None else self.build(match, self.name)


def fold(text: str) -> str:
    """Bring a typed date to small plain letters without accents, and drop a time of day.

    >>> fold("3. März 2021 00:00:00")
    '3. marz 2021'
    """
    parted = unicodedata.normalize("NFKD", text).casefold()
    plain = "".join(sign for sign in parted if not unicodedata.combining(sign))
    plain = re.sub("[\u2010-\u2015\u2212]", "-", plain.replace("\u2019", "'"))
    plain = re.sub(r"\s+", " ", plain).strip()
    return re.sub(
        r"(?<=\d)[t ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)? ?([ap]m|z|[+-]\d\d:?\d\d)?$", "", plain
    )


def _whole(match: re.Match[str], group: str) -> int:
    return int(match[group])


def _day(match: re.Match[str], name: str) -> DayRange:
    return day_of(full_year(match["y"]), _whole(match, "m"), _whole(match, "d"), name)


def _named_day(match: re.Match[str], name: str) -> DayRange:
    return day_of(full_year(match["y"]), _month(match), _whole(match, "d"), name)


def _named_month(match: re.Match[str], name: str) -> DayRange:
    return month_of(full_year(match["y"]), _month(match), name)


def _numbered_month(match: re.Match[str], name: str) -> DayRange:
    return month_of(full_year(match["y"]), _whole(match, "m"), name)


def _quarter(match: re.Match[str], name: str) -> DayRange:
    return quarter_of(full_year(match["y"]), _whole(match, "q"), name)


def _week(match: re.Match[str], name: str) -> DayRange:
    return week_of(full_year(match["y"]), _whole(match, "w"), name)


def _year(match: re.Match[str], name: str) -> DayRange:
    return year_of(_whole(match, "y"), name)


def _day_number(match: re.Match[str], name: str) -> DayRange:
    on = _DAY_ZERO + timedelta(days=int(match["n"]))
    return day_of(on.year, on.month, on.day, name)


def _month(match: re.Match[str]) -> int:
    month = MONTH_BY_NAME.get(match["name"])
    if month is None:
        raise DateError(f"“{match['name']}” is no month.")
    return month


def _pattern(name: str, example: str, expression: str, build: Build, sure: bool = True) -> Pattern:
    return Pattern(name, example, re.compile(expression), build, sure)


_SAME = r"(?P<gap> ?[-/. ] ?)"
BY_ORDER: Mapping[Order, Pattern] = {
    "dmy": _pattern(
        "day-month-year", "03/04/2021 = 3 April", f"{_DAY}{_SAME}{_MONTH}(?P=gap){_YEAR}", _day
    ),
    "mdy": _pattern(
        "month-day-year", "03/04/2021 = 4 March", f"{_MONTH}{_SAME}{_DAY}(?P=gap){_YEAR}", _day
    ),
    "ymd": _pattern(
        "year-month-day", "21/04/03 = 3 April 2021", f"{_SHORT}{_SAME}{_MONTH}(?P=gap){_DAY}", _day
    ),
}
"""Three numbers without a long year in front: the order must be said, or show itself."""

PLAIN: tuple[Pattern, ...] = (
    _pattern("iso-day", "2021-04-03", rf"{_LONG}{_SAME}{_MONTH}(?P=gap){_DAY}", _day),
    _pattern("iso-basic-day", "20210403", r"(?P<y>\d{4})(?P<m>\d\d)(?P<d>\d\d)", _day),
    _pattern(
        "day-name-year", "3 Apr 2021", f"{_DAY}{_ORDINAL}{_OF}{_NAME}{_OF}{_YEAR}", _named_day
    ),
    _pattern(
        "name-day-year", "Apr 3, 2021", f"{_NAME}{_GAP}{_DAY}{_ORDINAL}{_GAP}{_YEAR}", _named_day
    ),
    _pattern("year-name-day", "2021-Apr-03", f"{_LONG}{_GAP}{_NAME}{_GAP}{_DAY}", _named_day),
    _pattern("name-year", "May 2022", f"{_NAME}{_OF}{_LONG}", _named_month),
    _pattern("name-short-year", "May-22", rf"{_NAME}(?: ?[-/.] ?| ?'){_SHORT}", _named_month),
    _pattern("month-long-year", "05/2022", f"{_MONTH}{_GAP}{_LONG}", _numbered_month),
    _pattern("long-year-month", "2022-05", f"{_LONG}{_GAP}{_MONTH}", _numbered_month),
    _pattern("quarter-year", "2Q21", rf"(?P<q>\d) ?q ?[-/.']? ?{_YEAR}", _quarter),
    _pattern(
        "q-quarter-year",
        "Q2 2021",
        rf"(?:q|quarter|quartal) ?(?P<q>\d)(?: ?[-/.,'] ?| ){_YEAR}",
        _quarter,
    ),
    _pattern(
        "quarter-word-year",
        "2. Quartal 2021",
        rf"(?P<q>\d)\.? (?:quarter|quartal) {_LONG}",
        _quarter,
    ),
    _pattern("year-quarter", "2021-Q2", rf"{_LONG} ?[-/.]? ?q(?P<q>\d)", _quarter),
    _pattern("letter-quarter-year", "A2Q80", rf"[a-z] ?(?P<q>\d)q{_SHORT}", _quarter),
    _pattern("iso-week", "2016-W23", rf"{_LONG}-?w(?P<w>\d\d)", _week),
    _pattern(
        "marked-week", "KW 23/2016", rf"(?:kw|wk|w|week) ?(?P<w>\d{{1,2}}){_GAP}{_YEAR}", _week
    ),
    _pattern("year", "2019", _LONG, _year),
)
"""Patterns that say themselves what they are."""

_PAIR = r"[-/. ]?"
YEAR_MONTH = _pattern(
    "year-month", "07/10 = October 2007", rf"(?P<y>\d\d){_PAIR}(?P<m>\d\d)", _numbered_month, False
)
MONTH_YEAR = _pattern(
    "month-year", "07/10 = July 2010", rf"(?P<m>\d\d){_PAIR}(?P<y>\d\d)", _numbered_month, False
)
_SPACED_SHORT = _pattern(
    "name-spaced-short-year", "May 22 = May 2022", f"{_NAME} {_SHORT}", _named_month, False
)
_DAY_NUMBER = _pattern(
    "day-number", "44289 = 3 April 2021 in a spreadsheet", r"(?P<n>[2-6]\d{4})", _day_number, False
)
OFFERED: tuple[Pattern, ...] = (YEAR_MONTH, MONTH_YEAR, _SPACED_SHORT, _DAY_NUMBER)
"""Codes a person is asked about."""

DECLARED: tuple[Pattern, ...] = (
    _pattern(
        "year-week", "16/23 = week 23 of 2016", rf"(?P<y>\d\d){_PAIR}(?P<w>\d\d)", _week, False
    ),
    _pattern(
        "week-year", "23/16 = week 23 of 2016", rf"(?P<w>\d\d){_PAIR}(?P<y>\d\d)", _week, False
    ),
)
"""Codes read only where their pattern is named."""

BY_NAME: Mapping[str, Pattern] = {
    pattern.name: pattern for pattern in (*PLAIN, *BY_ORDER.values(), *OFFERED, *DECLARED)
}
