"""What a rule would change: dates with it against dates without it, hose by hose, then counted."""

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Final, Self

import numpy as np
import numpy.typing as npt

from scheduling.calc.calendar import Ints
from scheduling.calc.columns import Rows
from scheduling.calc.due import DueResult
from scheduling.calc.inputs import NONE, DueInputs, Exemptions, Place, RuleTable

Floats = npt.NDArray[np.float64]

YEAR_DAYS: Final = 365
YEARS_AHEAD: Final = 5
DAYS_A_MONTH: Final = 365.2425 / 12  # of the Gregorian calendar
_MONTHS: Final = ("made_months", "built_months", "fitted_months")
_HOURS: Final = ("fitting_tenths", "total_tenths")


@dataclass(frozen=True, slots=True)
class Side:
    """How hoses stand under one set of rules. `a_year` is how many are changed a year for good.

    `money_a_year` are minor units, of the `costed` hoses whose change has a known cost.
    """

    overdue: int = 0
    within_year: int = 0
    undated: int = 0
    a_year: float = 0.0
    money_a_year: float = 0.0
    by_year: tuple[int, ...] = (0,) * YEARS_AHEAD

    @property
    def whole_money_a_year(self) -> int:
        """In whole units of the money."""
        return round(self.money_a_year / 100)

    def __add__(self, other: Self) -> "Side":
        return Side(
            self.overdue + other.overdue,
            self.within_year + other.within_year,
            self.undated + other.undated,
            self.a_year + other.a_year,
            self.money_a_year + other.money_a_year,
            tuple(a + b for a, b in zip(self.by_year, other.by_year, strict=True)),
        )


@dataclass(frozen=True, slots=True)
class Effect:
    """What changes for some hoses: both sides, and how many move which way."""

    hoses: int = 0
    costed: int = 0
    now: Side = Side()
    tried: Side = Side()
    newly_overdue: int = 0
    newly_within_year: int = 0
    earlier: int = 0
    later: int = 0

    def __add__(self, other: Self) -> "Effect":
        names = [field.name for field in fields(self)]
        return Effect(**{name: getattr(self, name) + getattr(other, name) for name in names})

    @property
    def more_a_year(self) -> float:
        return self.tried.a_year - self.now.a_year

    @property
    def fewer_a_year(self) -> float:
        return -self.more_a_year

    @property
    def years(self) -> tuple[tuple[int, int], ...]:
        """Replacements year by year, without and with the rule."""
        return tuple(zip(self.now.by_year, self.tried.by_year, strict=True))


@dataclass(frozen=True, slots=True)
class Moved:
    """One hose whose day comes sooner: its day now (None: it has none) and its day then."""

    hose_id: int
    now_on: int | None
    then_on: int


NO_EFFECT: Final = Effect()


def hoses_a_year(inputs: DueInputs, rules: RuleTable, exemptions: Exemptions) -> Floats:
    """How often a year each hose's place takes a new one for good, shape (n,).

    A place on a machine takes one each time the shortest of its limits is used up: months of age
    or on the place, hours at the rate its machine runs. Storage and a reel's age don't count: a
    hose is taken to be built from fresh hose and fitted at once. 0 where no limit ends its life.

    >>> none = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> hose = DueInputs.of(place=1, known_from_on=9, rate_milli=8000)
    >>> round(float(hoses_a_year(hose, RuleTable.of(rule=1, built_months=24), none)[0]), 3)
    0.5
    >>> round(float(hoses_a_year(hose, RuleTable.of(rule=1, fitting_tenths=29_220), none)[0]), 3)
    1.0
    """
    rows = Rows(inputs, rules, exemptions)
    days = np.full(inputs.size, np.inf)
    for name in _MONTHS:
        found = rows.limits.of(name)
        if found is not None:
            days = np.minimum(days, np.where(found[0] == NONE, np.inf, found[0] * DAYS_A_MONTH))
    for name in _HOURS:
        found = rows.limits.of(name)
        if found is not None:
            days = np.minimum(days, _days_of_hours(found[0], inputs.rate_milli))
    return np.where((inputs.place == Place.FITTED) & np.isfinite(days), 365.2425 / days, 0.0)


def effect_of(
    now: DueResult,
    tried: DueResult,
    *,
    a_year: tuple[Floats, Floats],
    cost_minor: Floats,
    among: npt.NDArray[np.bool_],
    today: int,
) -> Effect:
    """Count what changes among some rows.

    Parameters: results of the same n rows without and with the rule; hoses a year of both; cost of
    one change in minor units, NaN where unknown; which rows count; today in days since 1970-01-01.
    A day before today is overdue; the year ahead is 365 days, today included.

    >>> from scheduling.calc.due import due_dates
    >>> none = Exemptions.from_rows(np.array([], dtype=np.int64))
    >>> hose = DueInputs.of(place=1, built_early_on=19_000, known_from_on=19_000)
    >>> six, two = RuleTable.of(rule=1, built_months=72), RuleTable.of(rule=1, built_months=24)
    >>> one, other = (due_dates(hose, rules, none) for rules in (six, two))
    >>> facts = {"a_year": (np.array([1 / 6]), np.array([1 / 2])), "among": np.array([True])}
    >>> found = effect_of(one, other, **facts, cost_minor=np.array([np.nan]), today=20_000)
    >>> found.newly_overdue, found.earlier, round(found.more_a_year, 3)
    (1, 1, 0.333)
    """
    before, after = now.due_on[among], tried.due_on[among]
    soon_before, soon_after = (_within_year(day, today) for day in (before, after))
    known = ~np.isnan(cost_minor[among])
    cost = np.where(known, cost_minor[among], 0.0)
    return Effect(
        hoses=int(among.sum()),
        costed=int(known.sum()),
        now=_side(now, before, a_year[0][among], cost, among, today),
        tried=_side(tried, after, a_year[1][among], cost, among, today),
        newly_overdue=int(((after < today) & (before >= today)).sum()),
        newly_within_year=int((soon_after & ~soon_before & (before >= today)).sum()),
        earlier=int((after < before).sum()),
        later=int((after > before).sum()),
    )


def soonest(
    ids: Ints, now: DueResult, tried: DueResult, among: npt.NDArray[np.bool_], most: int
) -> list[Moved]:
    """The hoses whose day comes sooner, the soonest first, at most so many."""
    at = np.flatnonzero(among & (tried.due_on < now.due_on))
    order = at[np.lexsort((ids[at], tried.due_on[at]))][:most]
    return [
        Moved(int(ids[i]), _known(int(now.due_on[i])), int(tried.due_on[i])) for i in order.tolist()
    ]


def first_of(moved: Iterable[Moved], most: int) -> tuple[Moved, ...]:
    """The soonest of several lists."""
    return tuple(sorted(moved, key=lambda one: (one.then_on, one.hose_id))[:most])


def _side(  # noqa: PLR0917  # one count a column
    result: DueResult,
    due_on: Ints,
    a_year: Floats,
    cost_minor: Floats,
    among: npt.NDArray[np.bool_],
    today: int,
) -> Side:
    replace_on = result.replace_on[among]
    years = [
        int(((replace_on < today + YEAR_DAYS * (n + 1)) & (replace_on >= _from(today, n))).sum())
        for n in range(YEARS_AHEAD)
    ]
    return Side(
        overdue=int((due_on < today).sum()),
        within_year=int(_within_year(due_on, today).sum()),
        undated=int((due_on == NONE).sum()),
        a_year=float(a_year.sum()),
        money_a_year=float((a_year * cost_minor).sum()),
        by_year=tuple(years),
    )


def _from(today: int, year: int) -> int:
    """The first year takes what is overdue with it."""
    return today + YEAR_DAYS * year if year else -NONE


def _within_year(day: Ints, today: int) -> npt.NDArray[np.bool_]:
    return (day >= today) & (day < today + YEAR_DAYS)


def _days_of_hours(limit_tenths: Ints, rate_milli: Ints) -> Floats:
    runs = (limit_tenths != NONE) & (rate_milli > 0) & (rate_milli != NONE)
    rate = np.where(runs, rate_milli, 1)
    return np.where(runs, limit_tenths * 100.0 / rate, np.inf)


def _known(day: int) -> int | None:
    return None if day == NONE else day
