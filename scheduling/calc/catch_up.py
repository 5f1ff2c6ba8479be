"""A levelled plan to change what is overdue or of unknown age: so many hoses a week.

The order is by consequence, then condition, then how long overdue (an unknown age before all
known ones), then machine and hose. Each week takes the next hoses of that order, up to what a week
can bear, and at most one more: the most urgent hose of the week after whose machine is opened up
in this week anyway.

So no hose comes later than its place in the order gives it, none overtakes a graver one by more
than a week, and only to be changed together with a neighbour.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

UNKNOWN_AGE: Final = 10**9
# Not yet judged comes straight after what hurts someone: cautious.
CONSEQUENCES: Final = ("hurts", "unknown", "stops", "pollutes", "nuisance")
CONDITIONS: Final = ("out_now", "replace", "unseen", "recheck", "seen")


@dataclass(frozen=True, slots=True)
class CatchUpHose:
    """One hose to be changed. `overdue_days` counts from its true day; None: its age is unknown."""

    hose_id: int
    machine_id: int
    consequence: str
    condition: str
    overdue_days: int | None


@dataclass(frozen=True, slots=True)
class Placed:
    """The week (0 is the first) in which a hose is to be changed, and its rank in the order."""

    hose_id: int
    week: int
    rank: int
    pulled: bool


class DoesNotFit(ValueError):
    """More hoses than the weeks bear; says how many weeks, or how many a week, it takes."""

    def __init__(self, hoses: int, weeks: int, a_week: int) -> None:
        self.weeks_needed = -(-hoses // a_week)
        self.a_week_needed = -(-hoses // weeks)
        super().__init__(
            f"{hoses} hoses don't go into {weeks} weeks of {a_week}: it takes "
            f"{self.weeks_needed} weeks, or {self.a_week_needed} a week."
        )


def in_order(hoses: Iterable[CatchUpHose]) -> list[CatchUpHose]:
    """The hoses, the gravest first. An unknown word of consequence or condition is the gravest.

    >>> a = CatchUpHose(1, 7, "stops", "seen", 900)
    >>> b = CatchUpHose(2, 7, "hurts", "seen", 3)
    >>> [hose.hose_id for hose in in_order([a, b])]
    [2, 1]
    """
    return sorted(hoses, key=_key)


def catch_up(hoses: Iterable[CatchUpHose], *, weeks: int, a_week: int) -> tuple[Placed, ...]:
    """Put every hose into a week.

    Parameters: the hoses, each once; weeks and hoses a week, both above 0. Returns one place for
    each, in order of rank. Guarantees: no week holds more than a_week + 1; a hose's week is never
    later than rank // a_week; of two hoses the graver is at most one week later, and then only
    because the other shares its week with a hose of its machine. The same hoses give the same
    plan, whatever order they come in.
    Errors: `DoesNotFit`; ValueError for weeks or a_week below 1.
    Source: our own rule.

    >>> hoses = [CatchUpHose(n, n % 2, "hurts", "seen", 100 - n) for n in range(4)]
    >>> [(place.hose_id, place.week, place.pulled) for place in catch_up(hoses, weeks=4, a_week=1)]
    [(0, 0, False), (1, 1, False), (2, 2, False), (3, 3, False)]
    >>> [(p.hose_id, p.week, p.pulled) for p in catch_up(hoses, weeks=2, a_week=2)]
    [(0, 0, False), (1, 0, False), (2, 0, True), (3, 1, False)]
    """
    if weeks < 1 or a_week < 1:
        raise ValueError("A plan needs at least one week, and one hose a week.")
    waiting = list(enumerate(in_order(hoses)))
    if len(waiting) > weeks * a_week:
        raise DoesNotFit(len(waiting), weeks, a_week)
    placed: list[Placed] = []
    week = 0
    while waiting:
        taken, waiting = waiting[:a_week], waiting[a_week:]
        placed += [Placed(hose.hose_id, week, rank, False) for rank, hose in taken]
        opened = {hose.machine_id for _, hose in taken}
        beside = next((one for one in waiting[:a_week] if one[1].machine_id in opened), None)
        if beside is not None:
            waiting.remove(beside)
            placed.append(Placed(beside[1].hose_id, week, beside[0], True))
        week += 1
    return tuple(sorted(placed, key=lambda place: place.rank))


def _key(hose: CatchUpHose) -> tuple[int, int, int, int, int]:
    days = UNKNOWN_AGE if hose.overdue_days is None else hose.overdue_days
    consequence = _rank(CONSEQUENCES, hose.consequence)
    return (consequence, _rank(CONDITIONS, hose.condition), -days, hose.machine_id, hose.hose_id)


def _rank(words: tuple[str, ...], word: str) -> int:
    return words.index(word) if word in words else -1
