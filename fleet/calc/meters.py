"""Hour meters: is a reading believable, and how many hours has the machine run in all?

Hours are whole tenths. A reading that can't be right is doubted with its reason, never dropped.
"""

import datetime as dt
from dataclasses import dataclass

DISPLAY_STEP_TENTHS = 1  # two readings of a meter that shows tenths are each up to one step short


@dataclass(frozen=True)
class Shown:
    """What a meter showed on a local day, and the moment if that is known (with its zone)."""

    on: dt.date
    tenths: int
    at: dt.datetime | None = None
    zone_known: bool = True


@dataclass(frozen=True)
class MeterFacts:
    """One meter: the local days it was on the machine, its offset and where it rolls over.

    `offset_tenths` are the hours run on earlier meters less this meter's first reading;
    `rollover_tenths` is the first value it can't show (1,000,000 for one that shows 99,999.9).
    """

    zone: dt.tzinfo
    from_on: dt.date | None = None
    to_on: dt.date | None = None
    offset_tenths: int = 0
    rollover_tenths: int | None = None


@dataclass(frozen=True)
class Accepted:
    """An accepted reading with the machine hours it stands for."""

    shown: Shown
    machine_tenths: int


@dataclass(frozen=True)
class Verdict:
    """Whether a reading counts in forecasts, why not, and the machine hours it would mean."""

    machine_tenths: int
    doubt: str = ""

    @property
    def accepted(self) -> bool:
        return not self.doubt


def machine_tenths(shown_tenths: int, meter: MeterFacts, *, rollovers: int = 0) -> int:
    """Cumulative hours: offset + reading + rollovers passed, in tenths.

    >>> machine_tenths(1600, MeterFacts(dt.timezone.utc, offset_tenths=54_800))
    56400
    """
    return meter.offset_tenths + shown_tenths + rollovers * (meter.rollover_tenths or 0)


def offset_after_change(offset_tenths: int, old_last_tenths: int, new_first_tenths: int) -> int:
    """The offset of a new meter: the old one's, plus its last reading, less the new one's first.

    A rolled-over old meter brings its rollovers in `old_last_tenths`.

    >>> offset_after_change(0, 54_800, 0)
    54800
    """
    return offset_tenths + old_last_tenths - new_first_tenths


def judge_reading(
    new: Shown,
    meter: MeterFacts,
    *,
    before: Accepted | None,
    after: Accepted | None,
    now: dt.datetime,
) -> Verdict:
    """Accept a reading or say why it is doubtful.

    before, after: the accepted readings of this meter next to it in time, if any; now: aware.
    Doubted: a moment without a zone, a future day, a day before the meter was fitted or after it
    came off, hours below the reading before or above the one after, more hours than passed. Time
    passed is counted between moments, or from the start of the first local day to the end of the
    last where only days are known (a day may have 23 or 25 hours), plus one step of the display.
    A drop is a rollover only on a meter that is known to roll over, and only if the hours then fit
    into the time; it is never taken for a change of meter.
    """
    rollovers = _rollovers(new, meter, before)
    value = machine_tenths(new.tenths, meter, rollovers=rollovers)
    doubt = (
        _doubt_of_day(new, meter, now)
        or _doubt_against_before(new, value, meter, before)
        or _doubt_against_after(new, value, meter, after)
    )
    return Verdict(value, doubt)


def tenths_between(first: Shown, last: Shown, zone: dt.tzinfo) -> int:
    """The most tenths of an hour that can have run between two readings, in real time.

    >>> day = dt.date(2025, 10, 26)
    >>> tenths_between(Shown(day, 0), Shown(day, 80), dt.timezone.utc)
    240
    """
    begin = first.at or _midnight(first.on, zone)
    end = last.at or _midnight(last.on + dt.timedelta(days=1), zone)
    seconds = (end - begin.astimezone(dt.UTC)).total_seconds()
    return max(int(seconds // 360), 0)


def _midnight(day: dt.date, zone: dt.tzinfo) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(), tzinfo=zone).astimezone(dt.UTC)


def _rollovers(new: Shown, meter: MeterFacts, before: Accepted | None) -> int:
    """How often the meter had rolled over by the reading before, and once more if it just did."""
    if before is None or not meter.rollover_tenths:
        return 0
    passed = (
        before.machine_tenths - meter.offset_tenths - before.shown.tenths
    ) // meter.rollover_tenths
    dropped = new.tenths < before.shown.tenths
    gained = meter.rollover_tenths - before.shown.tenths + new.tenths
    fits = gained <= tenths_between(before.shown, new, meter.zone) + DISPLAY_STEP_TENTHS
    return passed + 1 if dropped and fits else passed


def _doubt_of_day(new: Shown, meter: MeterFacts, now: dt.datetime) -> str:
    if not new.zone_known:
        return "The time came without a zone, so its day isn't sure: check it and accept it."
    today = now.astimezone(meter.zone).date()
    if new.on > today or (new.at is not None and new.at > now):
        return f"{_day(new.on)} is still to come: check the day."
    if meter.from_on is not None and new.on < meter.from_on:
        return (
            f"This meter was fitted on {_day(meter.from_on)}, after {_day(new.on)}: check the day."
        )
    if meter.to_on is not None and new.on > meter.to_on:
        return f"This meter came off on {_day(meter.to_on)}, before {_day(new.on)}: check the day."
    return ""


def _doubt_against_before(
    new: Shown, value: int, meter: MeterFacts, before: Accepted | None
) -> str:
    if before is None:
        return ""
    gained = value - before.machine_tenths
    if gained < 0:
        return (
            f"{_hours(new.tenths)} is less than the {_hours(before.shown.tenths)} of"
            f" {_day(before.shown.on)}: a meter doesn't run back. If the meter was changed, record"
            " the change; if the figure is wrong, set it aside and enter it again."
        )
    return _doubt_of_rate(gained, before.shown, new, meter)


def _doubt_against_after(new: Shown, value: int, meter: MeterFacts, after: Accepted | None) -> str:
    if after is None:
        return ""
    gained = after.machine_tenths - value
    if gained < 0:
        return (
            f"{_hours(new.tenths)} is more than the {_hours(after.shown.tenths)} already read on"
            f" {_day(after.shown.on)}: check the figure and the day."
        )
    return _doubt_of_rate(gained, new, after.shown, meter)


def _doubt_of_rate(gained: int, first: Shown, last: Shown, meter: MeterFacts) -> str:
    possible = tenths_between(first, last, meter.zone)
    if gained <= possible + DISPLAY_STEP_TENTHS:
        return ""
    days = (last.on - first.on).days
    span = f"in {days} day{'s' * (days != 1)}" if days else "in one day"
    return (
        f"{_hours(gained)} {span}, from {_hours(first.tenths)} on {_day(first.on)} to"
        f" {_hours(last.tenths)} on {_day(last.on)}: more than the {_hours(possible)} that passed."
        " Check the figure."
    )


def _hours(tenths: int) -> str:
    return f"{tenths / 10:,.1f} h"


def _day(day: dt.date) -> str:
    return f"{day.day} {day:%B %Y}"
