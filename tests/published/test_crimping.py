"""The trade's own facts of the crimp, and the geometry's derived relations."""

import random
from decimal import Decimal
from itertools import pairwise

import pytest

from assemblies.calc.crimping import (
    INDICATIVE_COMPRESSION,
    Joint,
    contact_od_mm,
    crimp_od_for_bore_mm,
    crimp_od_for_compression_mm,
    crimped_bore_mm,
    external_skive_mm,
    insertion_mark_mm,
    stretched_reinforcement_mm,
    trade_estimate_mm,
    wall_compression,
)
from assemblies.calc.trial import evaluate_trial


# Common practice, no published source: insertion mark 34 mm, skive 29 mm.
def test_skive_stops_five_millimetres_short_of_the_mark() -> None:
    assert external_skive_mm(insertion_mark_mm(34)) == 29


# Common practice, no published source: the worked trial at small steps.
def test_the_worked_trial() -> None:
    found = evaluate_trial(
        [(27.00, "enters"), (26.75, "enters"), (26.50, "tight"), (26.25, "refuses")]
    )
    assert found.closing_setting_mm == Decimal("26.25")
    assert found.bracket_mm == (Decimal("26.25"), Decimal("26.50"))


# Derived: D₀ 27, d₀ 21, D 23.645 → d 16.46 (constant area). Tolerance half the last digit.
def test_kept_area_worked_by_hand() -> None:
    assert crimped_bore_mm(27, 21, 23.645) == pytest.approx(16.46, abs=0.005)


# Seen on one trade page, indicative: the bands by number of wire layers.
def test_indicative_bands_meet_without_a_gap() -> None:
    bands = [INDICATIVE_COMPRESSION[layers] for layers in (1, 2, 3, 4)]
    assert all(low < high for low, high in bands)
    assert all(upper[0] == lower[1] for lower, upper in pairwise(bands))


def _random_joint(rng: random.Random) -> Joint:
    bore = rng.uniform(5, 50)
    reinforcement = bore + rng.uniform(3, 14)
    shell_id = reinforcement + rng.uniform(2, 4)
    return Joint(shell_id + rng.uniform(3, 9), shell_id, bore, reinforcement, bore * 1.03)


def test_estimates_invert_their_own_formulas() -> None:
    rng = random.Random(23)
    for _ in range(500):
        joint = _random_joint(rng)
        wanted = rng.uniform(0.3, 0.6)
        od = crimp_od_for_compression_mm(joint, wanted)
        assert wall_compression(joint, od) == pytest.approx(wanted, abs=1e-9)
        bore = crimped_bore_mm(joint.shell_od_mm, joint.shell_id_mm, od)
        assert crimp_od_for_bore_mm(joint, bore) == pytest.approx(od, abs=1e-9)


def test_the_shell_keeps_its_metal() -> None:
    rng = random.Random(29)
    for _ in range(500):
        joint = _random_joint(rng)
        od = joint.shell_od_mm * rng.uniform(0.9, 1)
        bore = crimped_bore_mm(joint.shell_od_mm, joint.shell_id_mm, od)
        assert od**2 - bore**2 == pytest.approx(joint.shell_area)


def test_contact_is_where_the_shell_meets_the_stretched_hose() -> None:
    rng = random.Random(31)
    for _ in range(500):
        joint = _random_joint(rng)
        contact = contact_od_mm(joint)
        touching = crimped_bore_mm(joint.shell_od_mm, joint.shell_id_mm, contact)
        assert touching == pytest.approx(stretched_reinforcement_mm(joint))
        low, high = trade_estimate_mm(joint, 2)
        assert low < high < contact


@pytest.mark.parametrize("layers", [0, 5, -1])
def test_refuses_layers_that_the_rule_does_not_know(layers: int) -> None:
    with pytest.raises(ValueError, match="one to four"):
        trade_estimate_mm(Joint(27, 21, 12.7, 19.8, 12.9), layers)


@pytest.mark.parametrize("sizes", [(21, 27, 12.7, 19.8, 12.9), (27, 21, 19.8, 12.7, 12.9)])
def test_refuses_a_joint_inside_out(sizes: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="must be above"):
        Joint(*sizes)


def test_refuses_a_crimp_that_would_close_the_shell() -> None:
    with pytest.raises(ValueError, match="no bore left"):
        crimped_bore_mm(27, 21, 16.9)
