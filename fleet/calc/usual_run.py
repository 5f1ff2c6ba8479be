"""What a counter usually runs in some days, and whether a run is out of the usual."""

from dataclasses import dataclass
from typing import Final

DOUBLE: Final = 2
MARGIN_TENTHS: Final = 80  # a shift: less than that is never remarked on
FEWEST_DAYS: Final = 7


@dataclass(frozen=True, slots=True)
class UsualRun:
    """Hours that are usual, in tenths: from, most likely, to."""

    low_tenths: int
    likely_tenths: int
    high_tenths: int


def usual_run(days: float, *, low_milli: int, rate_milli: int, high_milli: int) -> UsualRun:
    """What is usual in some days at a usage rate.

    Parameters: days, 0 or more; thousandths of an hour a day. Limits: none beyond the rate's own.

    >>> usual_run(7, low_milli=5000, rate_milli=8000, high_milli=10000)
    UsualRun(low_tenths=350, likely_tenths=560, high_tenths=700)
    """
    low, likely, high = (round(max(days, 0) * m / 100) for m in (low_milli, rate_milli, high_milli))
    return UsualRun(low, likely, high)


def remark(run_tenths: int, usual: UsualRun, *, days: float) -> str:
    """A sentence where a run is possible and yet out of the usual; else an empty text.

    Remarked on: more than twice the most that is usual and a shift; nothing at all in a week or
    more in which hours are usual. Common practice, no published source; nothing is refused by it.

    >>> remark(0, usual_run(7, low_milli=5000, rate_milli=8000, high_milli=10000), days=7)
    'It did not run at all, where 35 to 70 h are usual: is the figure of today?'
    """
    low, high = usual.low_tenths // 10, -(-usual.high_tenths // 10)
    span = f"{low} to {high}" if low != high else f"{high}"
    if run_tenths > DOUBLE * usual.high_tenths + MARGIN_TENTHS:
        ran = f"{run_tenths / 10:,.1f} h"
        return f"{ran} run since, where {span} h are usual: look at the figure again."
    if run_tenths == 0 and days >= FEWEST_DAYS and low > 0:
        return f"It did not run at all, where {low} to {high} h are usual: is the figure of today?"
    return ""
