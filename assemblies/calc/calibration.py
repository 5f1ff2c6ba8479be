"""Whether a tool is in calibration, and how long it still is."""

from dataclasses import dataclass
from datetime import date

SOON_DAYS = 30
"""From so many days before it is due a calibration is said to be due soon (our own choice)."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """How a tool stands: *fine*, *soon*, *over* or *undated*, and the sentence for it."""

    state: str
    words: str

    @property
    def in_date(self) -> bool:
        return self.state in ("fine", "soon")


def calibration(due_on: date | None, *, on: date) -> Calibration:
    """Judge a tool on a day by the day its calibration is due; that day itself is in time.

    Parameters: the due day, None where none is written down; the day. Returns the state and words.
    Source: the due day is the workshop's own; ISO 10012 asks for one, and gives no interval.

    >>> calibration(date(2026, 3, 20), on=date(2026, 3, 9)).words
    'due in 11 days'
    >>> calibration(date(2026, 3, 8), on=date(2026, 3, 9)).state
    'over'
    """
    if due_on is None:
        return Calibration("undated", "no calibration written down")
    days = (due_on - on).days
    if days < 0:
        return Calibration("over", f"{_days(-days)} over")
    if days == 0:
        return Calibration("soon", "due today")
    return Calibration("soon" if days <= SOON_DAYS else "fine", f"due in {_days(days)}")


def _days(number: int) -> str:
    return f"{number} day{'s' * (number != 1)}"
