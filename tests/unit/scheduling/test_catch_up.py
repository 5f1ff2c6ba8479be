import random
from collections import Counter
from itertools import pairwise

import pytest

from scheduling.calc.catch_up import (
    CONDITIONS,
    CONSEQUENCES,
    CatchUpHose,
    DoesNotFit,
    catch_up,
    in_order,
)
from tests.unit.scheduling.slow_catch_up import comes_before, slow_weeks

CASES = range(300)


def fleet(seed: int) -> tuple[list[CatchUpHose], int, int]:
    """Some hoses with many ties, and weeks that bear them."""
    dice = random.Random(seed)  # cases, not secrets
    hoses = [
        CatchUpHose(
            hose_id=number,
            machine_id=dice.randrange(1 + dice.randrange(9)),
            consequence=dice.choice(CONSEQUENCES),
            condition=dice.choice(CONDITIONS),
            overdue_days=dice.choice([None, 0, 3, dice.randrange(4000)]),
        )
        for number in range(dice.randrange(1, 60))
    ]
    a_week = dice.randrange(1, 9)
    weeks = -(-len(hoses) // a_week) + dice.randrange(3)
    dice.shuffle(hoses)
    return hoses, weeks, a_week


@pytest.mark.parametrize("seed", CASES)
def test_agrees_with_the_slow_plan(seed: int) -> None:
    hoses, weeks, a_week = fleet(seed)
    placed = catch_up(hoses, weeks=weeks, a_week=a_week)
    assert {place.hose_id: place.week for place in placed} == slow_weeks(hoses, a_week)


@pytest.mark.parametrize("seed", CASES)
def test_keeps_its_promises(seed: int) -> None:
    hoses, weeks, a_week = fleet(seed)
    placed = catch_up(hoses, weeks=weeks, a_week=a_week)
    by_id = {hose.hose_id: hose for hose in hoses}
    assert sorted(place.hose_id for place in placed) == sorted(by_id)
    loads = Counter(place.week for place in placed)
    assert max(loads.values()) <= a_week + 1
    assert max(loads) < weeks
    assert all(place.week <= place.rank // a_week for place in placed)
    for graver, other in pairwise(placed):
        assert comes_before(by_id[graver.hose_id], by_id[other.hose_id])
    for graver in placed:
        for other in placed[graver.rank + 1 :]:
            assert graver.week <= other.week + 1
            if graver.week > other.week:
                assert other.pulled
    for place in placed:
        beside = [p for p in placed if p.week == place.week and p.hose_id != place.hose_id]
        machine = by_id[place.hose_id].machine_id
        assert not place.pulled or machine in {by_id[p.hose_id].machine_id for p in beside}


@pytest.mark.parametrize("seed", range(40))
def test_gives_the_same_plan_in_whatever_order_the_hoses_come(seed: int) -> None:
    hoses, weeks, a_week = fleet(seed)
    once = catch_up(hoses, weeks=weeks, a_week=a_week)
    assert catch_up(list(reversed(hoses)), weeks=weeks, a_week=a_week) == once


def test_an_unknown_age_comes_before_every_known_one() -> None:
    old = CatchUpHose(1, 1, "hurts", "seen", 4000)
    unknown = CatchUpHose(2, 1, "hurts", "seen", None)
    assert in_order([old, unknown]) == [unknown, old]


def test_what_is_not_judged_comes_straight_after_what_hurts_someone() -> None:
    words = [CatchUpHose(n, 1, word, "seen", 9) for n, word in enumerate(reversed(CONSEQUENCES))]
    assert [hose.consequence for hose in in_order(words)][:2] == ["hurts", "unknown"]


def test_says_how_many_weeks_it_takes_where_they_do_not_fit() -> None:
    hoses = [CatchUpHose(n, n, "hurts", "seen", 1) for n in range(11)]
    with pytest.raises(DoesNotFit, match="it takes 6 weeks, or 4 a week") as refused:
        catch_up(hoses, weeks=3, a_week=2)
    assert (refused.value.weeks_needed, refused.value.a_week_needed) == (6, 4)


@pytest.mark.parametrize(("weeks", "a_week"), [(0, 1), (1, 0)])
def test_refuses_no_weeks_and_no_hoses_a_week(weeks: int, a_week: int) -> None:
    with pytest.raises(ValueError, match="at least one week"):
        catch_up([], weeks=weeks, a_week=a_week)
