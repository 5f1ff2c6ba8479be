"""Flow in hoses against the `fluids` library and published examples; ISO 4406 codes."""

import random

import fluids
import pytest

from assemblies.calc.flow import (
    bore_for_velocity_mm,
    iso_4406_class,
    iso_4406_code,
    pressure_loss,
    velocity_m_per_s,
)


# Trade formula v = 21.22 Q/d² (seen): 40 L/min through 19 mm.
def test_the_trade_formula_of_velocity() -> None:
    assert velocity_m_per_s(40, 19) == pytest.approx(21.22 * 40 / 19**2, rel=5e-5)


# Worked by hand and recomputed: 40 L/min, 19 mm, 46 cSt, 870 kg/m³.
def test_the_laminar_example() -> None:
    found = pressure_loss(40, 19, 46, 870)
    assert found.velocity_m_per_s == pytest.approx(2.351, abs=5e-4)
    assert found.reynolds == pytest.approx(971.2, abs=0.05)
    assert found.loss_bar_per_m == pytest.approx(0.0834, abs=5e-5)
    assert not found.uncertain


# Computed with `fluids` 1.3: 250 L/min, 25.4 mm, 32 cSt, 865 kg/m³ over 4 m → 1.597011 bar.
def test_the_turbulent_example() -> None:
    found = pressure_loss(250, 25.4, 32, 865)
    assert found.friction_factor == pytest.approx(0.034676, abs=5e-6)
    assert found.loss_bar_per_m * 4 == pytest.approx(1.597011, abs=5e-5)


def test_losses_agree_with_the_reference_library() -> None:
    rng = random.Random(37)
    for _ in range(300):
        flow, bore = rng.uniform(1, 400), rng.uniform(5, 60)
        found = pressure_loss(flow, bore, rng.uniform(8, 120), rng.uniform(820, 950))
        if 2000 < found.reynolds < 2100:
            continue
        theirs = fluids.friction_factor(Re=found.reynolds, eD=0)
        assert found.friction_factor == pytest.approx(theirs, rel=2e-6)


def test_flow_between_laminar_and_turbulent_is_said_to_be_uncertain() -> None:
    assert pressure_loss(40, 9.525, 25, 870).uncertain


# Computed: the bore for 60 L/min at 4 m/s and at 1.2 m/s.
def test_bores_for_a_velocity() -> None:
    assert bore_for_velocity_mm(60, 4) == pytest.approx(17.841241, abs=5e-7)
    assert bore_for_velocity_mm(60, 1.2) == pytest.approx(32.573501, abs=5e-7)


# ISO 4406 as public pages quote it; the upper limit of a class is inclusive.
@pytest.mark.parametrize(
    ("count", "number"),
    [(5000, "19"), (5001, "20"), (640, "16"), (640.01, "17"), (1300, "17"), (3e6, ">28")],
)
def test_cleanliness_classes(count: float, number: str) -> None:
    assert iso_4406_class(count) == number


@pytest.mark.parametrize(
    ("counts", "code"),
    [
        ((4500, 900, 250), "19/17/15"),
        ((2400, 610, 78), "18/16/13"),
        ((18500, 4300, 187), "21/19/15"),
        ((3000, 500, 7), "19/16/10"),
    ],
)
def test_cleanliness_codes(counts: tuple[float, float, float], code: str) -> None:
    assert iso_4406_code(*counts) == code


@pytest.mark.parametrize(("flow", "bore"), [(-1, 10), (10, 0), (float("nan"), 10), (1, -5)])
def test_refuses_flows_and_bores_that_are_none(flow: float, bore: float) -> None:
    with pytest.raises(ValueError, match="Flow must be"):
        velocity_m_per_s(flow, bore)
