"""An independent catch-up plan, one hose at a time: written from the promise, not from the code."""

from scheduling.calc.catch_up import CatchUpHose

GRAVEST_FIRST = ["hurts", "unknown", "stops", "pollutes", "nuisance"]
WORST_FIRST = ["out_now", "replace", "unseen", "recheck", "seen"]


def comes_before(one: CatchUpHose, other: CatchUpHose) -> bool:
    """Whether one hose is more urgent than another."""
    if one.consequence != other.consequence:
        return GRAVEST_FIRST.index(one.consequence) < GRAVEST_FIRST.index(other.consequence)
    if one.condition != other.condition:
        return WORST_FIRST.index(one.condition) < WORST_FIRST.index(other.condition)
    if one.overdue_days != other.overdue_days:
        if one.overdue_days is None or other.overdue_days is None:
            return one.overdue_days is None
        return one.overdue_days > other.overdue_days
    return (one.machine_id, one.hose_id) < (other.machine_id, other.hose_id)


def most_urgent(hoses: list[CatchUpHose]) -> CatchUpHose:
    best = hoses[0]
    for hose in hoses[1:]:
        if comes_before(hose, best):
            best = hose
    return best


def slow_weeks(hoses: list[CatchUpHose], a_week: int) -> dict[int, int]:
    """The week of each hose, by its id."""
    left, weeks, week = list(hoses), {}, 0
    while left:
        machines = []
        for _ in range(min(a_week, len(left))):
            hose = most_urgent(left)
            left.remove(hose)
            weeks[hose.hose_id] = week
            machines.append(hose.machine_id)
        next_week: list[CatchUpHose] = []
        rest = list(left)
        while rest and len(next_week) < a_week:
            next_week.append(most_urgent(rest))
            rest.remove(next_week[-1])
        for hose in next_week:
            if hose.machine_id in machines:
                weeks[hose.hose_id] = week
                left.remove(hose)
                break
        week += 1
    return weeks
