"""How old the hose on a reel is, and whether it may still be built into an assembly."""

from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class ReelLimit:
    """The age up to which hose may be built in, in months from hose made.

    `where` names what only the position tells (a machine class, a circuit); empty is any.
    """

    months: int
    source: str
    rule: str = ""
    where: str = ""

    @property
    def words(self) -> str:
        said = f"{span_words(self.months)} from hose made, {self.source}"
        return f"{said} (rule “{self.rule}”)" if self.rule else said


@dataclass(frozen=True, slots=True)
class ReelAge:
    """A reel's age on a day: in words, and what it is too old for.

    `too_old` speaks of every assembly; `too_old_where` of those for some places only. `until_on`
    is the last day it may be built in by the strictest limit that always holds.
    """

    words: str
    too_old: str = ""
    too_old_where: tuple[str, ...] = ()
    until_on: date | None = None
    limit: ReelLimit | None = None


def months_after(day: date, months: int) -> date:
    """The day so many calendar months later; a month without that day gives its last day.

    >>> months_after(date(2024, 2, 29), 12), months_after(date(2024, 1, 31), 1)
    (datetime.date(2025, 2, 28), datetime.date(2024, 2, 29))
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def whole_months(start: date, end: date) -> int:
    """Calendar months that have passed from a day to a later one; 0 where it is not later.

    >>> whole_months(date(2020, 4, 1), date(2026, 3, 9))
    71
    """
    months = (end.year - start.year) * 12 + end.month - start.month
    return max(0, months - (months_after(start, max(months, 0)) > end))


def span_words(months: int) -> str:
    """Months in words.

    >>> span_words(48), span_words(59), span_words(1), span_words(0)
    ('4 years', '4 years 11 months', '1 month', 'under a month')
    """
    years, rest = divmod(months, 12)
    parts = (_counted(years, "year"), _counted(rest, "month"))
    return " ".join(part for part in parts if part) or "under a month"


def reel_age(
    made_earliest: date | None, made_latest: date | None, *, on: date, limits: Iterable[ReelLimit]
) -> ReelAge:
    """Judge hose by its age on the day that it is, or was, built in.

    Parameters: the first and last day it can have been made (both None: not known); the day;
    the limits that may apply. The age counts from the earliest day, which is the cautious one;
    the limit's own last day is in time. Of several limits for everything the strictest counts.
    Returns words and, where a limit is passed, a sentence with days, figures and source. A day
    that isn't known is said, never passed over.
    Source: the limits' own documents; the earliest day for uncertain ones is the project's.

    >>> limit = ReelLimit(48, "DIN 20066")
    >>> age = reel_age(date(2021, 4, 1), date(2021, 6, 30), on=date(2026, 3, 9), limits=[limit])
    >>> age.words
    '4 years 8 months to 4 years 11 months old'
    >>> age.too_old
    'Too old to build from since 2025-04-01: the limit is 4 years from hose made, DIN 20066.'
    """
    if made_earliest is None:
        return ReelAge("age not known: nobody has read when it was made")
    latest = made_latest or made_earliest
    told = list(limits)
    always = min((one for one in told if not one.where), key=lambda one: one.months, default=None)
    until = months_after(made_earliest, always.months) if always else None
    elsewhere = (one for one in told if one.where and (not always or one.months < always.months))
    return ReelAge(
        _age_words(made_earliest, latest, on),
        _too_old(always, made_earliest, latest, on) if always else "",
        tuple(
            f"For {one.where}: {sentence}"
            for one in elsewhere
            if (sentence := _too_old(one, made_earliest, latest, on))
        ),
        until,
        always,
    )


def _too_old(limit: ReelLimit, earliest: date, latest: date, on: date) -> str:
    last_day = months_after(earliest, limit.months)
    if on <= last_day:
        return ""
    sure = on > months_after(latest, limit.months)
    begins = "Too old" if sure else "May be too old"
    day = f"since {last_day.isoformat()}"
    return f"{begins} to build from {day}: the limit is {limit.words}."


def _age_words(earliest: date, latest: date, on: date) -> str:
    if on < earliest:
        return "made after that day"
    oldest, youngest = (span_words(whole_months(day, on)) for day in (earliest, min(latest, on)))
    return f"{oldest} old" if oldest == youngest else f"{youngest} to {oldest} old"


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'s' * (number != 1)}" if number else ""
