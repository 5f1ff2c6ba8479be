"""Numbers as people type them: separators, fractions and odd spaces, read without guessing."""

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

_VULGAR = re.compile("[¼-¾⅐-⅞]")
_MINUS = re.compile("[\u2010-\u2015\u2212]")
_SPACE = re.compile(r"\s+")
_POWER_AFTER_UNIT = re.compile(r"(cm|mm|in)[²₂]")
_GROUPED = re.compile(r"\d{1,3}([ ,.'])\d{3}(?:\1\d{3})*(?:(?!\1)[,.]\d+)?")
_INCH_DENOMINATORS = (2, 4, 8, 16, 32, 64)
_MIXED = re.compile(r"(?:(\d{1,4})(?: ?- ?| |\.))?(\d{1,2})/(\d{1,2})")
LONGEST_TEXT = 60


class NumberError(ValueError):
    """The text is not one plain number; the message says what is wrong."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a typed number; `grouped` when a sign was taken to part thousands."""

    value: Decimal
    grouped: bool


def plain(text: str) -> str:
    """Bring a typed text to plain signs: NFKC, one kind of space, minus, quote and fraction.

    Parameters: text. Returns the text without outer spaces; `1½` becomes `1 1/2`.
    Limits: a raised digit stays raised except after a unit (`cm²`), so that `5²` never reads
    as 52. Never raises.
    Source: Unicode Standard Annex 15 (NFKC); the choice of signs is the project's own.

    >>> plain("１½″")
    '1 1/2"'
    >>> plain("12\u202f450,5\u00a0h")
    '12 450,5 h'
    """
    text = _POWER_AFTER_UNIT.sub(r"\g<1>2", text)
    text = _VULGAR.sub(lambda sign: f" {unicodedata.normalize('NFKC', sign[0])}", text)
    kept = "".join(s if _is_raised(s) else unicodedata.normalize("NFKC", s) for s in text)
    kept = kept.replace("\u2044", "/").replace("\u2032\u2032", '"').replace("''", '"')
    kept = kept.translate(str.maketrans("\u2032\u2019\u2018\u201d\u201c", "'''\"\""))
    kept = unicodedata.normalize("NFC", kept.replace("''", '"'))
    return _SPACE.sub(" ", _MINUS.sub("-", kept)).strip()


def readings(number: str) -> tuple[Reading, ...]:
    """Every way to read a plain number: `1,234` is 1234 or 1.234.

    Parameters: number, digits with `,` `.` `'` or spaces between (already `plain`).
    Returns one reading, or two where one comma or point stands before exactly three digits.
    Errors: NumberError.
    Source: ISO 80000-1:2009, 7.3.1 and 7.3.2 (comma or point as decimal sign, thin space
    between groups of three); the comma and the point as group signs are common practice.

    >>> [str(r.value) for r in readings("1,234")]
    ['1234', '1.234']
    >>> [str(r.value) for r in readings("1.234,5")]
    ['1234.5']
    """
    if len(number) > LONGEST_TEXT or not re.fullmatch(r"[0-9][0-9 ,.']*", number):
        raise NumberError(f"“{number[:LONGEST_TEXT]}” is not a number")
    found = [*_as_grouped(number), *_as_decimal(number)]
    if not found:
        raise NumberError(f"“{number}” is not a number: its commas, points or spaces do not fit")
    return tuple({reading.value: reading for reading in found}.values())


def parse_fraction(text: str) -> Fraction | None:
    """Read an inch fraction or mixed number: `1/2`, `1 1/2`, `1-1/2`, `1.1/2`.

    Parameters: text (already `plain`). Returns a Fraction of inches, or None when the text is
    no such fraction: it must be proper, in lowest terms, in halves to sixty-fourths.
    Never raises. Source: common practice, no published source.

    >>> parse_fraction("1-1/2"), parse_fraction("6/8")
    (Fraction(3, 2), None)
    """
    match = _MIXED.fullmatch(text)
    if match is None:
        return None
    over, under = int(match[2]), int(match[3])
    if under not in _INCH_DENOMINATORS or not 0 < over < under or over % 2 == 0:
        return None
    return int(match[1] or 0) + Fraction(over, under)


def _is_raised(sign: str) -> bool:
    """A raised, lowered or ringed figure: NFKC would make it an ordinary digit."""
    return unicodedata.category(sign) == "No"


def _as_grouped(number: str) -> list[Reading]:
    match = _GROUPED.fullmatch(number)
    if match is None or number.startswith("0"):
        return []
    whole = number.replace(match[1], "")
    return [Reading(Decimal(whole.replace(",", ".")), grouped=True)]


def _as_decimal(number: str) -> list[Reading]:
    if not re.fullmatch(r"\d+(?:[,.]\d+)?", number):
        return []
    return [Reading(Decimal(number.replace(",", ".")), grouped=False)]
