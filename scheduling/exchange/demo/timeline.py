"""What becomes of the hoses of one position: fitted, looked at, changed in time, failed."""

import datetime as dt
import math
from dataclasses import dataclass
from enum import StrEnum
from random import Random
from typing import Final, TypeVar

from scheduling.exchange.demo.days import (
    REGISTER_MONTHS,
    Days,
    last_up_to,
    months_after,
    workday_after,
    workday_before,
)
from scheduling.exchange.demo.places import Place
from scheduling.exchange.demo.tables import FailureRow, FaultRow, FindingRow, tables

MONTH_DAYS: Final = 30.44
SHAPE: Final = 2.4
# Characteristic life in years by exposure: the age by which 63 in 100 would have failed.
Weighed = TypeVar("Weighed", FailureRow, FindingRow)
LIFE_YEARS: Final = {"normal": 19, "weather": 15, "heat": 11, "rubbing": 9, "rocks": 7}
BOUGHT_SHARE: Final = 0.15
SEEN_FIRST_SHARE: Final = 0.45
BUILT_LIMIT_MONTHS: Final = 72
NIGHT_HOUR: Final = 4.5
NEXT_SERVICE_DAYS: Final = 20


class Came(StrEnum):
    """How a hose came to its position."""

    FOUND = "found"
    NEW = "new"
    BUILT = "built"
    BOUGHT = "bought"


@dataclass
class Fit:
    """One hose's time on a position."""

    place: Place
    came: Came
    fitted_on: dt.date
    built_on: dt.date
    removed_on: dt.date | None = None
    why: str = ""
    failure: FailureRow | None = None
    seen: "Seen | None" = None
    fault: FaultRow | None = None
    dated: bool = True
    fitted_hour: float = 11.0
    removed_hour: float = 10.0
    failed_hour: int = 0
    down_h: int = 0
    still_down: bool = False


@dataclass(frozen=True)
class Seen:
    """What a look found before the hose could fail."""

    on: dt.date
    row: FindingRow | None
    what: str
    by_on: dt.date | None


@dataclass(frozen=True)
class Ending:
    """How a hose's time on a position ends."""

    on: dt.date
    why: str
    failure: FailureRow | None = None
    seen: Seen | None = None


def tell_place(place: Place, days: Days) -> list[Fit]:
    """All hoses that a position held, oldest first; the last is there now unless it was removed."""
    return _Teller(place, days).tell()


class _Teller:
    def __init__(self, place: Place, days: Days) -> None:
        self.place, self.days, self.plan = place, days, place.plan
        self.dice: Random = days.stream("place", *place.key)

    def tell(self) -> list[Fit]:
        forced_on = forced_day(self.place, self.days)
        horizon = self._horizon(forced_on)
        fits = [self._first()]
        while (ending := self._ending(fits[-1])) is not None and ending.on < horizon:
            self._close(fits[-1], ending)
            fits.append(self._next(fits[-1]))
        if forced_on is not None:
            self._close(fits[-1], Ending(forced_on, "due"))
            fits.append(self._forced(forced_on))
            fits[-2].removed_hour = fits[-1].fitted_hour - 1.0
        if self.place.happening is not None and self.place.happening.kind == "down_now":
            on = workday_before(self.days.ago(self.place.happening.days_ago))
            self._close(fits[-1], Ending(on, "failed", self._failure("burst")))
            fits[-1].still_down = True
        return fits

    def _horizon(self, forced_on: dt.date | None) -> dt.date:
        """Until when the dice decide: not near a day that is written in the tables."""
        if forced_on is not None:
            return forced_on - dt.timedelta(days=45)
        if _stays_for_ever(self.place):
            return self.plan.joined_on
        if self.place.happening is not None and self.place.happening.kind == "down_now":
            return self.days.ago(self.place.happening.days_ago + 45)
        return self.plan.stood_from or self.days.today

    def _first(self) -> Fit:
        """What hung there when the machine came to the register."""
        plan, fault = self.plan, self.place.fault
        came = Came.NEW if plan.came_new else Came.FOUND
        if came is Came.NEW:
            built_on = months_after(plan.joined_on, -1) - dt.timedelta(
                days=self.dice.randint(5, 60)
            )
            return Fit(self.place, came, plan.joined_on, built_on)
        dated = fault is None or fault.kind != "age_unknown" or fault.days_ago is not None
        fit = Fit(self.place, came, plan.walked_on, self._built_before(), dated=dated)
        fit.fault = fault if _stays_for_ever(self.place) else None
        return fit

    def _built_before(self) -> dt.date:
        """When a hose that the walk-down found was built: no older than the machine."""
        fault, happening = self.place.fault, self.place.happening
        if fault is not None and fault.kind == "past_age_from_built":
            return self.days.months_ago(BUILT_LIMIT_MONTHS) - dt.timedelta(
                days=int(fault.figure or 0)
            )
        if happening is not None and happening.kind == "exemption_hose":
            return self.days.months_ago(BUILT_LIMIT_MONTHS) - dt.timedelta(days=happening.days_ago)
        since = (
            self.days.months_ago(self.plan.row.built_months_ago) if self.plan.came_used else None
        )
        oldest = min((self.plan.walked_on - since).days, 1950) if since else self._oldest_days()
        return self.plan.walked_on - dt.timedelta(days=self.dice.randint(min(60, oldest), oldest))

    def _oldest_days(self) -> int:
        machine_months = self.plan.row.built_months_ago - REGISTER_MONTHS
        return int(min(max(machine_months, 3), 64) * MONTH_DAYS)

    def _ending(self, fit: Fit) -> Ending | None:
        """The first of: its limits are near, it fails, a look finds it bad. None: not yet."""
        planned_on = self._planned_on(fit)
        ending = Ending(planned_on, "due")
        fails_on = self._fails_on(fit)
        if fails_on is not None and fails_on < planned_on:
            ending = self._bad(fit, fails_on)
        if ending.on < self.days.today:
            return ending
        if ending.seen is not None and ending.seen.on < self.days.today:
            fit.seen = ending.seen  # what a look found of it stays open
        return None

    def _planned_on(self, fit: Fit) -> dt.date:
        """The last service day before the first of the limits, each taken with its own margin."""
        limits = [fit.built_on + _months(self.dice.uniform(67.5, 71.6))]
        if self.place.fitted_months is not None:
            share = self.dice.uniform(0.82, 1.14)
            limits.append(fit.fitted_on + _months(self.place.fitted_months * share))
        if self.place.fitting_h is not None and self.plan.counts_hours:
            limits.append(self._hours_day(fit, self.dice.uniform(0.82, 0.94)))
        limit = min(limits)
        if limit > self.days.today + dt.timedelta(days=NEXT_SERVICE_DAYS):
            return limit
        service = last_up_to(self.plan.services, limit)
        earliest = fit.fitted_on + dt.timedelta(days=30)
        return service if service and service > earliest else max(workday_before(limit), earliest)

    def _hours_day(self, fit: Fit, share: float) -> dt.date:
        """When the hours limit is near; a hose that was found has run some of them before."""
        limit = float(self.place.fitting_h or 0) * share * 10
        if fit.came is Came.FOUND:
            limit *= self.dice.uniform(0.2, 0.9)
        reached = self.plan.clock.day_of(int(self.plan.clock.morning(fit.fitted_on) + limit))
        return reached or self.days.today + dt.timedelta(days=400)

    def _fails_on(self, fit: Fit) -> dt.date | None:
        """A draw from a wear-out life; a hose that was found has lived some of it before."""
        scale = LIFE_YEARS[self.place.spec.row.exposure] * 365.25
        if self.place.fitted_months is not None:
            scale *= 0.45
        age = (fit.fitted_on - fit.built_on).days if fit.came is Came.FOUND else 0
        survived = (age / scale) ** SHAPE
        life = scale * (survived - math.log(1 - self.dice.random())) ** (1 / SHAPE) - age
        on = fit.fitted_on + dt.timedelta(days=max(int(life), 25))
        for _ in range(60):
            if on >= self.days.today or self.plan.works_on(on) or not self.plan.counts_hours:
                break
            on += dt.timedelta(days=1)
        return on

    def _bad(self, fit: Fit, fails_on: dt.date) -> Ending:
        """It fails, or the look before that day sees it coming."""
        failure = self._failure("")
        looks = [look.on for look in self.plan.looks if fit.fitted_on < look.on < fails_on]
        near = looks and (fails_on - looks[-1]).days < 200
        if not near or self.dice.random() > SEEN_FIRST_SHARE:
            return Ending(fails_on, "failed", failure)
        on = looks[-1]
        rows = [row for row in tables().findings if row.verdict == "replace"]
        row = _pick(self.dice, [r for r in rows if self.place.spec.row.exposure in r.exposures])
        if row is None or self.dice.random() < 0.4:
            return Ending(on, "found_bad", seen=Seen(on, None, failure.seen_as, None))
        by_on = on + dt.timedelta(days=row.days or 60)
        removed_on = last_up_to(self.plan.services, by_on) or on
        removed_on = removed_on if removed_on > on else workday_before(by_on)
        return Ending(removed_on, "found_bad", seen=Seen(on, row, row.what, by_on))

    def _failure(self, mode: str) -> FailureRow:
        circuit, exposure = self.place.duty.circuit, self.place.spec.row.exposure
        fits = [r for r in tables().failures if circuit in r.circuits and exposure in r.exposures]
        fits = fits or [r for r in tables().failures if circuit in r.circuits]
        wanted = [row for row in fits if not mode or row.mode == mode]
        found = _pick(self.dice, wanted or fits)
        if found is None:
            raise ValueError(f"failures.csv has nothing for {circuit} and {exposure}.")
        return found

    def _close(self, fit: Fit, ending: Ending) -> None:
        fit.removed_on, fit.why = ending.on, ending.why
        fit.failure, fit.seen = ending.failure, ending.seen
        if ending.failure is not None:
            fit.down_h = self.dice.randint(ending.failure.down_low_h, ending.failure.down_high_h)
            fit.failed_hour = self.dice.randint(6, max(6, min(15, 21 - fit.down_h)))
            fit.removed_hour = fit.failed_hour + 0.5

    def _next(self, fit: Fit) -> Fit:
        """The hose that takes the place: built ahead, built at once, or bought from a van."""
        on = fit.removed_on or self.days.today
        bought = fit.why == "failed" and self.dice.random() < BOUGHT_SHARE
        hour = fit.failed_hour + fit.down_h - 0.5 if fit.why == "failed" else 11.0
        if bought or not self.place.spec.buildable:
            built_on = on - dt.timedelta(days=self.dice.randint(0, 9))
            return Fit(self.place, Came.BOUGHT, on, built_on, fitted_hour=hour)
        at_once = fit.why == "failed" or (fit.seen is not None and fit.seen.by_on is None)
        ahead = 0 if at_once else self.dice.randint(1, 24)
        earliest = workday_after(self.days.start + dt.timedelta(days=9))
        built_on = max(workday_before(on - dt.timedelta(days=ahead)), min(earliest, on))
        return Fit(self.place, Came.BUILT, on, built_on, fitted_hour=hour)

    def _forced(self, on: dt.date) -> Fit:
        """The hose that the tables put there: faulty, or in a story of its own."""
        fault = self.place.fault
        came = Came.BUILT
        if fault is not None and fault.kind == "age_unknown":
            came = Came.FOUND
        elif fault is not None and fault.kind == "below_duty":
            came = Came.BOUGHT
        hour = 11.0 if fault is not None else NIGHT_HOUR
        return Fit(
            self.place, came, on, on, fault=fault, dated=came is not Came.FOUND, fitted_hour=hour
        )


def forced_day(place: Place, days: Days) -> dt.date | None:
    """The day on which the tables say that the present hose was fitted, where they do."""
    fault, happening = place.fault, place.happening
    if happening is not None and happening.kind == "conditional_release":
        return days.ago(happening.days_ago)
    if fault is None or _stays_for_ever(place) or fault.how == "duty raised":
        return None
    if fault.kind == "over_hours":
        return _day_of_hours(place, days, float(place.fitting_h or 0) + float(fault.figure or 0))
    if fault.kind == "take_out_now":
        return workday_before(days.months_ago(int(fault.figure or 0)))
    return workday_before(days.ago(fault.days_ago or 0))


def _day_of_hours(place: Place, days: Days, run_h: float) -> dt.date:
    """The working day since which the counter has run so many hours."""
    clock = place.plan.clock
    on = clock.day_of(clock.morning(days.today) - int(run_h * 10))
    if on is None or on <= place.plan.walked_on:
        raise ValueError(f"{place.key}: the machine has not run {run_h} h since it came.")
    return workday_before(on)


def _stays_for_ever(place: Place) -> bool:
    """The hose of the walk-down hangs there still."""
    fault, happening = place.fault, place.happening
    if happening is not None and happening.kind == "exemption_hose":
        return True
    if fault is None:
        return False
    return fault.kind == "past_age_from_built" or (
        fault.kind == "age_unknown" and fault.days_ago is None
    )


def _months(count: float) -> dt.timedelta:
    return dt.timedelta(days=int(count * MONTH_DAYS))


def _pick(dice: Random, rows: list[Weighed]) -> Weighed | None:
    """One of the rows, by their weights."""
    return dice.choices(rows, [row.weight for row in rows])[0] if rows else None
