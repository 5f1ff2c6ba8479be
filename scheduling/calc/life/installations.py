"""From installations as the register has them to lives that a study can read.

One installation is one hose on one position for a time. Its life is a row of a study: the age at
which it came under watch, the age at its end, and how it ended.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from scheduling.calc.life.records import Lives, StudyRefused, lives


class Clock(StrEnum):
    """What the age is counted in: machine hours, or days since fitting."""

    HOURS = "hours"
    DAYS = "days"


class Ended(StrEnum):
    """How an installation ended, as far as a study cares."""

    FAILED = "failed"
    CHANGED = "changed in time"
    RUNNING = "still running"


@dataclass(frozen=True, slots=True)
class Installation:
    """One installation. Days count from 1970-01-01, hours are tenths of machine hours of the
    position's counter; None is not known.

    `earlier_h` are the tenths run before, on other positions; `known_h` the counter when the
    register first knew of it, `known_on` that day; `end_on` and `end_h` its removal, or today and
    the last reading where it still runs.
    """

    fitted_earliest_on: int | None
    fitted_latest_on: int | None
    fitted_h: int | None
    earlier_h: int | None
    known_on: int
    known_h: int | None
    end_on: int
    end_h: int | None
    ended: Ended
    cause: str = ""
    group: int = 0


class LeftOut(StrEnum):
    """Why an installation can't be a row of a study."""

    NO_START = "when it was fitted is not known"
    NO_HOURS = "its hours at fitting or at its end are not known"
    NO_ENTRY = "its hours when the register first knew of it are not known"
    NOT_WATCHED = "it ended before the register knew of it"
    NO_AGE = "it has no age yet, or its hours run backwards"


@dataclass(frozen=True, slots=True)
class Life:
    """One usable life in hours or days; `low_age` is below `age` where its start is uncertain."""

    entry: float
    age: float
    low_age: float
    ended: Ended
    cause: str
    group: int


@dataclass(frozen=True, slots=True)
class LifeTable:
    """The usable lives of a scope, and how many were left out, by why."""

    clock: Clock
    rows: tuple[Life, ...]
    left_out: dict[str, int]

    @property
    def total(self) -> int:
        return len(self.rows) + sum(self.left_out.values())


def life_table(found: Iterable[Installation], clock: Clock) -> LifeTable:
    """Every installation as a life on one clock, or counted among those left out.

    An installation that the register came to know after it was fitted enters at its age on that
    day: that it lived so far is why it is in the register at all, so the time before tells
    nothing. Hours on other positions before count as age, not as watch.

    >>> one = Installation(0, 0, 0, 0, 0, 0, 400, 20_000, Ended.FAILED)
    >>> life_table([one], Clock.HOURS).rows[0].age
    2000.0
    """
    rows: list[Life] = []
    left: Counter[str] = Counter()
    life_of = _in_hours if clock is Clock.HOURS else _in_days
    for installation in found:
        life = life_of(installation)
        if isinstance(life, Life):
            rows.append(life)
        else:
            left[life.value] += 1
    return LifeTable(clock, tuple(rows), dict(left))


def _in_hours(one: Installation) -> Life | LeftOut:
    if one.fitted_h is None or one.end_h is None or one.earlier_h is None:
        return LeftOut.NO_HOURS
    late = one.fitted_latest_on is None or one.known_on > one.fitted_latest_on
    if late and one.known_h is None:
        return LeftOut.NO_ENTRY
    if late and one.end_on < one.known_on:
        return LeftOut.NOT_WATCHED
    begun = max(one.fitted_h, one.known_h) if late and one.known_h is not None else one.fitted_h
    before = one.earlier_h - one.fitted_h
    return _life(one, begun + before, one.end_h + before, one.end_h + before, 10)


def _in_days(one: Installation) -> Life | LeftOut:
    if one.fitted_earliest_on is None or one.fitted_latest_on is None:
        return LeftOut.NO_START
    if one.end_on < one.known_on:
        return LeftOut.NOT_WATCHED
    late = one.known_on > one.fitted_latest_on
    entry = one.known_on - one.fitted_earliest_on if late else 0
    age = one.end_on - one.fitted_earliest_on
    return _life(one, entry, age, one.end_on - one.fitted_latest_on, 1)


def _life(one: Installation, entry: int, age: int, low_age: int, scale: int) -> Life | LeftOut:
    if age <= entry or age <= 0:
        # A failure on the very day or hour is a life of half the smallest unit, not none.
        if one.ended is not Ended.FAILED or age != entry:
            return LeftOut.NO_AGE
        age = entry + 1
    low = min(max(low_age, entry), age)
    return Life(entry / scale, age / scale, low / scale, one.ended, one.cause, one.group)


def lives_of(table: LifeTable, *, causes: Sequence[str] | None = None) -> Lives:
    """The table as columns for a study; with `causes`, only those failures count as failures.

    A failure by another cause ends its watch there: abrasion by routing is another population
    than age. Raises StudyRefused: nothing_to_study.

    >>> one = Installation(0, 0, 0, 0, 0, 0, 400, 20_000, Ended.FAILED, cause="abrasion")
    >>> table = life_table([one], Clock.HOURS)
    >>> lives_of(table).failures, lives_of(table, causes=["age"]).failures
    (1, 0)
    """
    if not table.rows:
        raise StudyRefused("nothing_to_study", "There is no life to study here yet.")
    counted = [
        row.ended is Ended.FAILED and (causes is None or row.cause in causes) for row in table.rows
    ]
    return lives(
        np.array([row.age for row in table.rows]),
        np.array(counted),
        entry=np.array([row.entry for row in table.rows]),
    )


CAUSE_GROUPS: dict[str, tuple[str, ...]] = {
    "routing": ("abrasion", "bend", "twist", "tension", "impact"),
    "age and work": ("age", "fatigue", "over_pressure", "heat", "cold", "fluid", "erosion"),
    "surroundings": ("corrosion",),
    "making and fitting": ("crimp", "unmatched", "seat", "wrong_part"),
    "unknown": ("unknown",),
}
"""Causes that make one population each (the project's own grouping)."""


def failures_by_group(table: LifeTable) -> dict[str, int]:
    """How many of the lives failed by each group of causes, those with most first.

    >>> one = Installation(0, 0, 0, 0, 0, 0, 400, 20_000, Ended.FAILED, cause="abrasion")
    >>> failures_by_group(life_table([one], Clock.HOURS))
    {'routing': 1}
    """
    groups = {cause: name for name, causes in CAUSE_GROUPS.items() for cause in causes}
    failed = Counter(groups[row.cause] for row in table.rows if row.ended is Ended.FAILED)
    return dict(failed.most_common())
