"""How a workbook's number looks to the person before it: as a day, `08`, `1/2` or `350 bar`."""

import datetime as dt
import re
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from .cells import Cell

# Formats without a code of their own in the file that stand for days in East Asian programs.
_UNWRITTEN_DAYS = frozenset([*range(27, 37), *range(50, 59)])
_LONGEST = 40
_LAST_SERIAL = 2_958_466
_FRACTION = re.compile(r"\?+\s*/\s*(\?+|[0-9]+)")
_PIECE = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|\[[^\]]*\]|_.|\*.|(?P<digits>[0#?][0#?,]*(?:\.[0#?]+)?'
    r"(?:E[+-]0+)?|General)|(?P<plain>.)",
    re.IGNORECASE,
)


def format_code(number: int, own: dict[int, str]) -> str:
    """The code of a format by its number, the file's own first; empty for the general one."""
    code = own.get(number)
    if code is None:
        code = "yyyy-mm-dd" if number in _UNWRITTEN_DAYS else BUILTIN_FORMATS.get(number, "")
    return "" if code in ("General", "@") else code


def number_cell(raw: str, code: str, *, from_1904: bool = False) -> Cell:
    """A number as the cell shows it, with its exact value.

    >>> number_cell("8", "00").text, number_cell("0.5", "# ?/?").text
    ('08', '1/2')
    >>> number_cell("350", '0 "bar"').text, number_cell("44695", "mmm-yy").text
    ('350 bar', '2022-05-14')
    """
    try:
        value = Decimal(raw.strip()[:_LONGEST])
    except InvalidOperation:
        return Cell(raw[:_LONGEST], "error")
    if len(raw) > _LONGEST or not value.is_finite() or abs(value.adjusted()) > 300:
        return Cell(raw[:_LONGEST], "error")
    if code and is_date_format(code):
        return _day_cell(value, code, from_1904)
    return Cell(_shown(value, code), "number", value, code)


def _day_cell(value: Decimal, code: str, from_1904: bool) -> Cell:
    if not 0 <= value < _LAST_SERIAL and not is_timedelta_format(code):
        return Cell("#####", "error", format=code)
    if is_timedelta_format(code):
        return _hours_cell(value, code)
    epoch = CALENDAR_MAC_1904 if from_1904 else CALENDAR_WINDOWS_1900
    found = from_excel(float(value), epoch)
    if isinstance(found, dt.time):
        return Cell(found.isoformat("minutes"), "text", format=code)
    if found.time() == dt.time():
        return Cell(found.date().isoformat(), "day", found.date(), code)
    return Cell(found.isoformat(" ", "seconds"), "moment", found, code)


def _hours_cell(value: Decimal, code: str) -> Cell:
    """A duration, which a workbook keeps in days: shown and kept as hours."""
    hours = (value * 24).quantize(Decimal("0.01"))
    return Cell(f"{hours.normalize():f}", "number", hours, code)


def _shown(value: Decimal, code: str) -> str:
    section = code.split(";", maxsplit=1)[0]
    if _FRACTION.search(section):
        return _as_fraction(value)
    before, digits, after = _parts(section)
    # A percentage and a scale in thousands change the number itself: shown as it is kept.
    text = plain_number(value)
    zeros = len(digits.split(".")[0].replace(",", "").replace("#", "").replace("?", ""))
    if zeros > 1 and text.isdecimal() and "E" not in digits:
        text = text.zfill(zeros)
    return f"{before}{text}{after}" if digits else text


def _parts(section: str) -> tuple[str, str, str]:
    """The words before the digits of a format, the digits, and the words after them."""
    before = after = digits = ""
    for piece in _PIECE.finditer(section):
        words = piece["quoted"] or piece["escaped"] or ""
        if piece["digits"] and not digits:
            digits = piece["digits"]
        elif piece["plain"] is not None and piece["plain"] in " -/()+:$":
            words = piece["plain"]
        if digits:
            after += words
        else:
            before += words
    return before.lstrip(), "" if digits == "General" and not (before + after) else digits, after


def _as_fraction(value: Decimal) -> str:
    fraction = Fraction(value).limit_denominator(64)
    if fraction != Fraction(value):
        return plain_number(value)
    whole, rest = divmod(abs(fraction.numerator), fraction.denominator)
    sign = "-" if value < 0 else ""
    if not rest:
        return f"{sign}{whole}"
    part = f"{rest}/{fraction.denominator}"
    return f"{sign}{whole} {part}" if whole else f"{sign}{part}"


def plain_number(value: Decimal) -> str:
    """The number in plain digits, to the fifteen that a workbook keeps.

    >>> plain_number(Decimal("0.30000000000000004")), plain_number(Decimal("12450.0"))
    ('0.3', '12450')
    """
    rounded = Decimal(format(value, ".15g"))
    if rounded.adjusted() > 20 or rounded.adjusted() < -20:
        return str(rounded.normalize())
    text = f"{rounded:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
