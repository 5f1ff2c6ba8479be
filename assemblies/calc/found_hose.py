"""What a hose found on a machine says of itself: its printed line, and the stamp on its shell.

What reads one way is taken; what reads several ways is asked, and stays as it was read until
someone has said which.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal

from assemblies.calc.date_reading import parse_assembly_mark
from assemblies.calc.day_ranges import AmbiguousDate, DateError, DayRange
from assemblies.calc.laylines import Layline, parse_layline

Asked = Literal["made", "built", "size"]
ASKED: tuple[Asked, ...] = ("made", "built", "size")


@dataclass(frozen=True, slots=True)
class Question:
    """Something that reads several ways: what it is, and each reading with its name."""

    asks: Asked
    sentence: str
    choices: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class FoundRead:
    """What was read: facts by the names of an assembly's columns, and what is still asked.

    `doubts` are sentences about what can't be read at all.
    """

    facts: dict[str, Any]
    questions: tuple[Question, ...]
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Said:
    """What a person said to the questions: the name of a date's pattern, or a size's DN."""

    made: str = ""
    built: str = ""
    size: str = ""


NOTHING_SAID = Said()


@dataclass
class _Reading:
    facts: dict[str, Any] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)

    def ask(self, asks: Asked, sentence: str, choices: Iterable[tuple[str, str]]) -> None:
        self.questions.append(Question(asks, sentence, tuple(dict(choices).items())))


def read_found(
    layline: str, stamp: str, *, latest_on: date, said: Said = NOTHING_SAID
) -> FoundRead:
    """Read a printed line and a stamp.

    Parameters: both as they were read off; latest_on, the last day they can speak of; said, what
    a person answered to questions asked before. Returns facts for an assembly (type, size, made,
    built), questions, doubts. Never raises, never guesses: an ambiguous part is a question.
    Source: laylines as EN 853 marks them; stamps of year and month as DIN 20066 asks.

    >>> read = read_found("HARROW/EN 853/2SN/DN 12/2Q16", "1606", latest_on=date(2026, 3, 9))
    >>> read.facts["hose_type"], read.facts["size_dn"], str(read.facts["built_earliest_on"])
    ('2SN', 12, '2016-06-01')
    >>> asked = read_found("", "1206", latest_on=date(2026, 3, 9)).questions[0]
    >>> asked.choices
    (('year-month', 'Jun 2012'), ('month-year', 'Dec 2006'))
    """
    reading = _Reading()
    if layline.strip():
        _read_line(reading, parse_layline(layline, latest_on=latest_on), latest_on, said)
    if stamp.strip():
        reading.facts["built_typed"] = stamp.strip()[:60]
        _read_stamp(reading, stamp, latest_on, said.built)
    return FoundRead(reading.facts, tuple(reading.questions), tuple(reading.doubts))


def _read_line(reading: _Reading, line: Layline, latest_on: date, said: Said) -> None:
    reading.facts["layline"] = line.typed[:200]
    if line.type:
        reading.facts["hose_type"] = line.type[:40]
    _read_size(reading, line, said.size)
    chosen = next((one for one in line.date_readings if one.pattern == said.made), None)
    made = line.hose_made or (chosen if chosen and chosen.earliest <= latest_on else None)
    if made is not None:
        reading.facts |= {"made_typed": line.typed[:60], **_days("made", made)}
    elif line.date_readings:
        choices = [(one.pattern, str(one)) for one in line.date_readings]
        reading.ask("made", "When was the hose made?", choices)
    asked = bool(line.date_readings) + bool(line.size_readings)
    if len(line.ambiguous) > asked:
        reading.doubts += line.ambiguous


def _read_size(reading: _Reading, line: Layline, said: str) -> None:
    sizes = {str(size.dn): size for _, size in line.size_readings}
    if line.size is not None:
        reading.facts["size_dn"] = line.size.dn
    elif said in sizes:
        reading.facts["size_dn"] = sizes[said].dn
    elif sizes:
        reading.ask("size", "Which size is it?", [(dn, str(size)) for dn, size in sizes.items()])


def _read_stamp(reading: _Reading, stamp: str, latest_on: date, said: str) -> None:
    try:
        built = parse_assembly_mark(stamp, latest_on=latest_on, pattern=said or None)
    except AmbiguousDate as error:
        choices = [(one.pattern, str(one)) for one in error.readings if one.earliest <= latest_on]
        reading.ask("built", "When was the assembly built?", choices)
    except DateError as error:
        reading.doubts.append(str(error))
    else:
        reading.facts |= _days("built", built)


def _days(name: str, found: DayRange) -> dict[str, Any]:
    return {
        f"{name}_earliest_on": found.earliest,
        f"{name}_latest_on": found.latest,
        f"{name}_precision": found.precision,
    }
