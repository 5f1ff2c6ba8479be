"""The printed line along a hose, taken apart: maker, standard, type, size and date."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from assemblies.calc.date_reading import parse_day
from assemblies.calc.day_ranges import AmbiguousDate, DateError, DayRange
from assemblies.calc.sizes import AmbiguousSize, Notation, Size, SizeError, parse_size
from fleet.calc.typed_numbers import plain

_STANDARD = re.compile(
    r"\b(?:(?:DIN |BS )?EN(?: ?ISO)?|ISO|DIN|GB/T|SAE J) ?-?\d{3,5}"
    r"(?:-\d{1,2})?(?::(?:19|20)\d\d)?\b",
    re.IGNORECASE,
)
_SAE_TYPE = re.compile(r"\b(?:SAE ?)?(?:100 ?)?(R\d{1,2}(?:AT|A|S)?)\b", re.IGNORECASE)
_EN_TYPE = re.compile(r"\b([1246](?:SN|ST|SC|SP|SH))(?:-?K)?\b", re.IGNORECASE)
_SIZE = re.compile(
    r"\b(?:DN|NW)[ .-]?\d{1,3}\b"
    r"|(?<![\d/.])(?:[12](?:[ .]|-))?(?:1/2|1/4|3/4|[135]/8|3/16|5/16)(?![\d/])(?: ?\")?"
    r"|(?<![\d/.])[123] ?\""
    r"|(?<![\w-])-(?:\d{1,2})\b(?![-.]|/\d)",
    re.IGNORECASE,
)
_BORE = re.compile(r"\b(?:DN|NW)[ .-]?\d{1,3}(?=/)", re.IGNORECASE)
_DATE = re.compile(
    r"\b[A-Z]?[1-4] ?Q ?[-/']? ?(?:\d{4}|\d{2})\b|\bQ[1-4] ?[-/' ] ?(?:\d{4}|\d{2})\b"
    r"|\b(?:19|20)\d\d-\d\d-\d\d\b|\b\d\d[./]\d\d[./](?:19|20)\d\d\b"
    r"|\b(?:0[1-9]|1[0-2])[-/.](?:19|20)\d\d\b|\b(?:19|20)\d\d-(?:0[1-9]|1[0-2])\b",
    re.IGNORECASE,
)
_DOUBTFUL_DATE = re.compile(
    r"(?<![\w/.-])\d\d[/.-]\d\d(?![\w/.-])|(?<=/)\d\d/\d\d$|\b[0-4]\d[0-5]\d$"
)
_TUBE_NAMED = frozenset({"R5", "R14"})
_SEPARATORS = " /|,;*–-…."


@dataclass(frozen=True, slots=True)
class Layline:
    """What a layline says; `ambiguous` holds a sentence for each thing it leaves open."""

    typed: str
    maker: str | None
    standard: str | None
    type: str | None
    size: Size | None
    hose_made: DayRange | None
    ambiguous: tuple[str, ...]
    size_readings: tuple[tuple[Notation, Size], ...] = ()
    date_readings: tuple[DayRange, ...] = ()


def parse_layline(text: str, *, latest_on: date | None = None) -> Layline:
    """Take a layline apart: `…/EN 853/2SN/DN 10/2Q16`.

    Parameters: text as printed, parted by strokes or spaces; latest_on, the last day the hose
    can have been made.
    Returns what stands in it; a part that is not there is None, and a part that reads two ways
    is None with a sentence in `ambiguous` (and its readings). On 100R5 and 100R14 hose a dash
    names the tube, not the bore, and gives no size.
    Limits: the maker is what stands before the first part known. Never raises.
    Source: marking as in EN 853 (maker / standard / type / DN / quarter and year); the other
    forms are common practice.

    >>> line = parse_layline("Blackmere/EN 853/2SN/DN 10/2Q16")
    >>> line.maker, line.standard, line.type, line.size.dash, line.hose_made.earliest
    ('Blackmere', 'EN 853', '2SN', 6, datetime.date(2016, 4, 1))
    """
    line = plain(text)
    standard = _STANDARD.search(line)
    kind = _EN_TYPE.search(line) or _SAE_TYPE.search(line)
    hose_type = kind[1].upper() if kind else None
    dates, made, doubt = _made(line, latest_on)
    rest = _blank(line, [*dates, *_found(standard), *_found(kind)])
    marks = list(_SIZE.finditer(rest))
    size, size_doubt = _size(marks, hose_type)
    first = min((m.start() for m in (*_found(standard), *_found(kind), *dates, *marks)), default=0)
    return Layline(
        typed=text.strip(),
        maker=line[:first].strip(_SEPARATORS) or None,
        standard=re.sub(r" ?-? ?(?=\d{3})", " ", standard[0].upper(), count=1)
        if standard
        else None,
        type=hose_type,
        size=size,
        hose_made=made,
        ambiguous=tuple(str(error) for error in (*size_doubt, *doubt)),
        size_readings=tuple(
            r for e in size_doubt if isinstance(e, AmbiguousSize) for r in e.readings
        ),
        date_readings=tuple(r for e in doubt if isinstance(e, AmbiguousDate) for r in e.readings),
    )


def _made(
    line: str, latest_on: date | None
) -> tuple[list[re.Match[str]], DayRange | None, list[DateError]]:
    """The marks that are dates, the one date they give, and what is doubtful about them."""
    # “DN 12/2019” names a size and a year: read as December 2019 it would be a guess.
    line = _blank(line, list(_BORE.finditer(line)))
    marks = list(_DATE.finditer(line)) or list(_DOUBTFUL_DATE.finditer(line))
    found: list[DayRange] = []
    doubt: list[DateError] = []
    for mark in marks:
        try:
            found.append(parse_day(mark[0], latest_on=latest_on))
        except DateError as error:
            doubt.append(error)
    different = {(reading.earliest, reading.latest) for reading in found}
    if len(different) > 1:
        doubt.append(
            AmbiguousDate("The layline has more than one date: say which is the hose's.", found)
        )
    made = found[0] if len(different) == 1 and not doubt else None
    return marks, made, doubt


def _size(
    marks: Iterable[re.Match[str]], hose_type: str | None
) -> tuple[Size | None, list[SizeError]]:
    found: list[Size] = []
    doubt: list[SizeError] = []
    for mark in marks:
        if mark[0].startswith("-") and hose_type in _TUBE_NAMED:
            doubt.append(
                SizeError(f"“{mark[0]}” on {hose_type} hose names the tube, not the bore.")
            )
            continue
        try:
            found.append(parse_size(mark[0]))
        except SizeError as error:
            doubt.append(error)
    if len(set(found)) > 1:
        names = " and ".join(str(size) for size in dict.fromkeys(found))
        doubt.append(SizeError(f"The layline names two sizes, {names}: say which is right."))
    return (found[0] if len(set(found)) == 1 else None), doubt


def _found(match: re.Match[str] | None) -> list[re.Match[str]]:
    return [] if match is None else [match]


def _blank(line: str, marks: Sequence[re.Match[str]]) -> str:
    """Blank out the parts already read, keeping every place."""
    for mark in marks:
        line = line[: mark.start()] + "|" * len(mark[0]) + line[mark.end() :]
    return line
