"""How far a crimper's dial is from the crimp that it makes."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

LATEST = 25
# Makes the median distance from the median a standard deviation, where presses are normal.
TO_SIGMA = Decimal("1.4826")
HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class DialDifference:
    """Measured OD less dial setting of one crimper and die, in mm, learnt from `presses`."""

    difference_mm: Decimal
    spread_mm: Decimal
    presses: int

    def setting_for(self, od_mm: Decimal) -> Decimal:
        """The setting in mm to dial for an OD in mm.

        >>> DialDifference(Decimal("0.15"), Decimal(0), 4).setting_for(Decimal("24.50"))
        Decimal('24.35')
        """
        return (od_mm - self.difference_mm).quantize(HUNDREDTH)


def dial_difference(
    presses: Iterable[tuple[Decimal, Decimal]], *, latest: int = LATEST
) -> DialDifference | None:
    """Learn a dial's difference as the running median of its latest presses.

    Parameters: (setting mm, measured OD mm) of presses of one crimper and die, oldest first;
    how many of the latest count. Formula: the median of OD − setting, spread 1.4826 × the median
    distance from it; one wild press moves neither. Returns None without a measured press.
    Source: common practice, no published source; the factor is that of the normal distribution.

    >>> told = [("27.00", "27.14"), ("26.75", "26.90"), ("26.50", "29.90")]
    >>> learnt = dial_difference([(Decimal(a), Decimal(b)) for a, b in told])
    >>> str(learnt.difference_mm), str(learnt.spread_mm), learnt.presses
    ('0.15', '0.01', 3)
    """
    if latest < 1:
        raise ValueError("At least one press must count.")
    differences = [od - setting for setting, od in presses][-latest:]
    if not differences:
        return None
    middle = median(differences)
    spread = TO_SIGMA * median(_distances(differences, middle))
    return DialDifference(middle.quantize(HUNDREDTH), spread.quantize(HUNDREDTH), len(differences))


def _distances(values: Sequence[Decimal], middle: Decimal) -> list[Decimal]:
    return [abs(value - middle) for value in values]
