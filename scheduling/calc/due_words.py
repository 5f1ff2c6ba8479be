"""The words for triggers, flags, limits and figures of a due date."""

import datetime as dt
from typing import Final

from scheduling.calc.inputs import NONE, Flag, Trigger

TITLES: Final = {
    Trigger.MADE: "Age of the hose",
    Trigger.BUILT: "Age of the assembly",
    Trigger.FITTED: "Time fitted",
    Trigger.STORAGE: "Time in storage",
    Trigger.HOURS_FITTING: "Hours of this fitting",
    Trigger.HOURS_TOTAL: "Hours in all",
    Trigger.REEL_AGE: "Age of the hose when built",
    Trigger.TAKE_OUT: "Finding: take out now",
    Trigger.REPLACE_BY: "Finding: replace by",
    Trigger.RELEASE: "Conditional release",
    Trigger.INSPECT_MONTHS: "Inspection interval",
    Trigger.INSPECT_HOURS: "Inspection interval in hours",
    Trigger.RECHECK: "Finding: recheck by",
    Trigger.UNKNOWN_AGE: "Age not known",
}
FLAG_WORDS: Final = {
    Flag.NO_RULE: "No life rule applies to this hose: give its site a rule.",
    Flag.UNKNOWN_AGE: "Neither hose made nor assembly built is known: treat as due for inspection.",
    Flag.BUILT_FROM_MADE: "The built day is not known: the day the hose was made stands in for it.",
    Flag.UNCERTAIN_DATE: "A day is known only between two days: limits count from the earlier one.",
    Flag.MADE_UNKNOWN: "A limit counts from hose made, and that day is not known.",
    Flag.BUILT_UNKNOWN: "A limit counts from assembly built, and that day is not known.",
    Flag.FITTED_UNKNOWN: "A limit counts from the fitted day, and that day is not known.",
    Flag.HOURS_UNKNOWN: "A limit counts hours, and they can't be worked out.",
    Flag.EARLIER_HOURS_UNKNOWN: "Hours of earlier fittings are missing: the true date is sooner.",
    Flag.ESTIMATED_FROM_DAYS: "Hours are estimated from days: no reading covers the time counted.",
    Flag.METER_BEHIND: "The last reading is below the hours noted at the start: check both.",
    Flag.STANDING: "The machine stands: an hours limit gives no date while it does.",
    Flag.NEVER_INSPECTED: "No inspection is on record: the interval counts from fitting.",
    Flag.EXEMPTED: "An exemption puts a date off.",
    Flag.TAKE_OUT_NOW: "A finding says: take out now.",
    Flag.RELEASED: "This hose is released on conditions.",
}
_SAID: Final = tuple((int(flag), words) for flag, words in FLAG_WORDS.items())
HOUR_TRIGGERS: Final = (Trigger.HOURS_FITTING, Trigger.HOURS_TOTAL, Trigger.INSPECT_HOURS)


def flag_sentences(flags: int) -> tuple[str, ...]:
    """What must be said beside the dates.

    >>> flag_sentences(1)
    ('No life rule applies to this hose: give its site a rule.',)
    """
    return tuple([words for flag, words in _SAID if flags & flag])


def as_date(day: int) -> dt.date | None:
    """A day since 1970-01-01 as a date; None for `NONE`."""
    return None if day == NONE else dt.date(1970, 1, 1) + dt.timedelta(days=day)


def limit_words(trigger: Trigger, limit: int) -> str:
    """A limit with its unit.

    >>> limit_words(Trigger.BUILT, 72), limit_words(Trigger.MADE, 18)
    ('6 years', '18 months')
    """
    if limit == NONE:
        return ""
    if trigger in HOUR_TRIGGERS:
        return hours_words(limit)
    if limit % 12:
        return _count(limit, "month")
    return _count(limit // 12, "year")


def hours_words(tenths: int) -> str:
    """Tenths of an hour as hours.

    >>> hours_words(124_500)
    '12,450.0 h'
    """
    return f"{tenths / 10:,.1f} h"


def rate_words(milli: int) -> str:
    """Thousandths of an hour a day as a rate.

    >>> rate_words(8000)
    '8.000 h a day'
    """
    return f"{milli / 1000:.3f} h a day"


def _count(number: int, unit: str) -> str:
    return f"{number} {unit}{'s' * (number != 1)}"
