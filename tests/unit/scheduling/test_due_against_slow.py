from typing import Any

import numpy as np
import pytest

from scheduling.calc.due import Trigger, due_table
from tests.unit.scheduling import random_dues
from tests.unit.scheduling.slow_due import NONE, WORDS, SlowHose, number

BATCHES, SIZE = 50, 200  # 10,000 assemblies


def _batch(seed: Any) -> Any:
    rng = np.random.default_rng([20_260, seed])
    inputs = random_dues.inputs(rng, SIZE)
    rules = random_dues.rules(rng, int(rng.integers(0, 9)))
    exemptions = random_dues.exemptions(rng, int(rng.integers(0, 12)), SIZE)
    return inputs, rules, exemptions


def _slow(inputs: Any, rules: Any, exemptions: Any) -> Any:
    rule_rows = [rules.row(i) for i in range(rules.size)]
    exempt = [exemptions.row(i) for i in range(exemptions.size)]
    return [SlowHose(inputs.row(i), rule_rows, exempt) for i in range(inputs.size)]


@pytest.mark.parametrize("seed", range(BATCHES))
def test_agrees_with_one_at_a_time_on_every_field_and_trigger(seed: Any) -> None:
    batch = _batch(seed)
    table = due_table(*batch)
    for index, hose in enumerate(_slow(*batch)):
        fast = table.result.row(index)
        fast.pop("fingerprint")
        assert fast == hose.result(), (index, batch[0].row(index))
        for word, answer in hose.answers().items():
            column = table.columns[WORDS.index(word)]
            assert column.trigger == Trigger[word.upper()]
            dates = [int(d[index]) for d in (column.early, column.likely, column.late)]
            assert dates == [number(d) for d in answer.dates], (word, batch[0].row(index))
            if hose.place != "scrapped":
                assert (int(column.limit[index]), int(column.rule[index])) == (
                    answer.limit,
                    answer.rule,
                )


def test_random_assemblies_meet_every_trigger_and_flag() -> None:
    replace, inspect, flags = set(), set(), 0
    for seed in range(BATCHES):
        result = due_table(*_batch(seed)).result
        replace |= set(result.replace_trigger.tolist())
        inspect |= set(result.inspect_trigger.tolist())
        flags |= int(np.bitwise_or.reduce(result.flags))
    assert replace == set(range(11))
    assert inspect == {0, 11, 12, 13, 14}
    assert flags == (1 << 16) - 1


def test_bounds_stand_in_order() -> None:
    for seed in range(BATCHES):
        result = due_table(*_batch(seed)).result
        assert (result.replace_early <= result.replace_on).all()
        assert (result.replace_on <= result.replace_late).all()
        assert ((result.replace_trigger == 0) == (result.replace_on == NONE)).all()
