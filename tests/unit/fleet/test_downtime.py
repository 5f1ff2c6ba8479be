"""Time down is counted once however its spells overlap."""

import random

import pytest

from fleet.calc.downtime import down_seconds

Spell = tuple[int, int, int, bool]


def found(spells: list[Spell], period: tuple[int, int] = (0, 1000)) -> dict[int, tuple[int, int]]:
    columns = list(zip(*spells, strict=True)) or [(), (), (), ()]
    down = down_seconds(*columns, period=period)
    rows = zip(down.machines, down.unplanned_s, down.planned_s, strict=True)
    return {int(machine): (int(lost), int(planned)) for machine, lost, planned in rows}


@pytest.mark.parametrize(
    ("spells", "lost", "planned"),
    [
        ([(1, 10, 20, False)], 10, 0),
        ([(1, 10, 20, False), (1, 10, 20, False)], 10, 0),
        ([(1, 10, 40, False), (1, 20, 30, False)], 30, 0),
        ([(1, 10, 20, False), (1, 20, 30, False)], 20, 0),
        ([(1, 10, 20, False), (1, 50, 60, False)], 20, 0),
        ([(1, 10, 30, True), (1, 20, 40, False)], 20, 10),
        ([(1, 0, 100, True), (1, 40, 50, False)], 10, 90),
        ([(1, -500, 10, False)], 10, 0),
        ([(1, 990, 5000, False)], 10, 0),
    ],
)
def test_overlapping_spells(spells: list[Spell], lost: int, planned: int) -> None:
    assert found(spells) == {1: (lost, planned)}


def test_what_lies_outside_the_period_does_not_count() -> None:
    assert found([(1, 2000, 3000, False), (2, -9, 0, False)]) == {}


def test_one_machine_s_time_is_not_another_s() -> None:
    assert found([(1, 0, 900, False), (2, 100, 200, False)]) == {1: (900, 0), 2: (100, 0)}


def test_refuses_a_spell_that_ends_before_it_begins() -> None:
    with pytest.raises(ValueError, match="before it begins"):
        found([(1, 20, 10, False)])


def _second_by_second(spells: list[Spell], period: tuple[int, int]) -> dict[int, tuple[int, int]]:
    """The same, slowly: every second of every machine is looked at."""
    counted = {}
    for machine in {spell[0] for spell in spells}:
        own = [spell for spell in spells if spell[0] == machine]
        kinds = [
            [planned for _, start, end, planned in own if start <= second < end]
            for second in range(*period)
        ]
        lost = sum(1 for kind in kinds if kind and not all(kind))
        planned = sum(1 for kind in kinds if kind and all(kind))
        if lost or planned:
            counted[machine] = (lost, planned)
    return counted


@pytest.mark.parametrize("seed", range(20))
def test_agrees_with_counting_second_by_second(seed: int) -> None:
    dice = random.Random(seed)
    spells = []
    for _ in range(dice.randint(1, 30)):
        start = dice.randint(-30, 120)
        spells.append((dice.randint(1, 3), start, start + dice.randint(0, 40), dice.random() < 0.4))
    assert found(spells, (0, 100)) == _second_by_second(spells, (0, 100))
