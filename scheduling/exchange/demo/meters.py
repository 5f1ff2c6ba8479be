"""The demo's hour meters, and what was read off them: each reading judged as any other is."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from fleet.actions.meter_book import MeterBook, tenths
from fleet.calc.meters import Shown
from fleet.models import HourMeter, HourReading, Machine, Person, Site
from scheduling.exchange.demo.days import LONDON, Days, is_shut, moment
from scheduling.exchange.demo.hours import Curve, hours
from scheduling.exchange.demo.tables import DoubtRow, tables

CHANGED_DAYS = 1130
ROLLS_OVER_AT_H = Decimal(10_000)


@dataclass(frozen=True)
class MeterLine:
    """One machine's counter with the meters that showed it, oldest first."""

    machine: Machine
    curve: Curve
    meters: tuple[HourMeter, ...]

    def meter_on(self, day: dt.date) -> HourMeter:
        return next(m for m in self.meters if m.to_on is None or day < m.to_on)


def lay_meters(machine: Machine, counts: str, curve: Curve, story: str, days: Days) -> MeterLine:
    """The meters of a counter: usually one; one was changed, one rolls over at 10,000 h."""
    if story == "meter_change" and counts == "engine":
        changed_on = days.ago(CHANGED_DAYS)
        run = hours(curve.morning(changed_on))
        first = HourMeter(machine=machine, counts=counts, to_on=changed_on)
        second = HourMeter(machine=machine, counts=counts, from_on=changed_on, offset_h=run)
        return MeterLine(machine, curve, (first, second))
    rollover = ROLLS_OVER_AT_H if story == "rollover" else None
    meter = HourMeter(machine=machine, counts=counts, rollover_h=rollover)
    return MeterLine(machine, curve, (meter,))


@dataclass(frozen=True)
class Glance:
    """One look at a meter: when, by whom, and how far what was written is off."""

    on: dt.date
    hour: float
    site: Site
    person: Person | None
    added_h: Decimal = Decimal(0)
    zone_known: bool = True
    outcome: str = ""
    reason: str = ""
    decided_by: Person | None = None

    @property
    def at(self) -> dt.datetime:
        return moment(self.on, self.hour)


def read_line(line: MeterLine, glances: list[Glance], *, now: dt.datetime) -> Iterator[HourReading]:
    """The readings of a counter in order of time, each judged against those that count."""
    books = {id(meter): MeterBook(meter, LONDON) for meter in line.meters}
    for glance in sorted(glances, key=lambda glance: glance.at):
        meter = line.meter_on(glance.on)
        reading = _reading(line, meter, glance)
        shown = Shown(glance.on, tenths(reading.reading_h), glance.at, glance.zone_known)
        verdict = books[id(meter)].judge(shown, now=now)
        reading.doubt = verdict.doubt
        reading.machine_h = max(hours(verdict.machine_tenths), Decimal(0))
        if verdict.accepted:
            books[id(meter)].keep(shown, verdict)
        elif glance.outcome:
            _decide(reading, glance)
        yield reading


def _reading(line: MeterLine, meter: HourMeter, glance: Glance) -> HourReading:
    shown = hours(line.curve.morning(glance.on)) - meter.offset_h
    if meter.rollover_h:
        shown %= meter.rollover_h
    shown += glance.added_h
    return HourReading(
        meter=meter,
        site=glance.site,
        read_at=glance.at,
        read_on=glance.on,
        reading_h=shown,
        typed="" if glance.person is None else f"{shown:,.1f}".removesuffix(".0"),
        source="telematics" if glance.person is None else "typed",
        source_ref="daily report" if glance.person is None else "",
        recorded_by=glance.person,
        recorded_at=glance.at + dt.timedelta(minutes=4),
    )


def _decide(reading: HourReading, glance: Glance) -> None:
    """What the planner decided of a doubtful reading some days later."""
    decided_at = moment(glance.on + dt.timedelta(days=3), 9.2)
    if glance.outcome == "accepted":
        reading.accepted_at, reading.accepted_by = decided_at, glance.decided_by
    if glance.outcome == "set_aside":
        reading.set_aside_at, reading.set_aside_by = decided_at, glance.decided_by
        reading.set_aside_reason = glance.reason


def reading_days(dice: Random, first_on: dt.date, days: Days) -> list[dt.date]:
    """Mondays or so up to yesterday; none in the shut-down, now and then one is forgotten."""
    found, day = [first_on], first_on + dt.timedelta(days=7 - first_on.weekday())
    while day < days.today:
        on = day + dt.timedelta(days=dice.choice((0, 0, 0, 0, 1, 1, 2)))
        recent = days.today - day < dt.timedelta(days=12)
        if on < days.today and not is_shut(on) and (recent or dice.random() > 0.07):
            found.append(on)
        day += dt.timedelta(days=7)
    return found


def doubts() -> list[DoubtRow]:
    """Readings in doubt: those decided, and the planted ones that wait for a decision."""
    waiting = [
        DoubtRow(row.machine, row.days_ago or 0, row.figure or Decimal(0), True, "", "")
        for row in tables().faults
        if row.kind == "doubtful_reading"
    ]
    return [*tables().doubtful, *waiting]
