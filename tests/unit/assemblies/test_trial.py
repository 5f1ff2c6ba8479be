from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assemblies.calc.trial import Evaluation, Outcome, brackets_agree, evaluate_trial

ODS = ("23.70", "23.72", "23.68")
STEPS: list[Any] = [
    ("27.00", "enters"),
    ("26.75", "enters"),
    ("26.50", "tight", ("23.95", "23.93", "23.97")),
    ("26.25", "refuses", ODS),
]


def test_the_first_refusal_closes_the_trial() -> None:
    found = evaluate_trial(STEPS)
    assert found.outcome is Outcome.COLLAPSE_FOUND
    assert found.closing_setting_mm == Decimal("26.25")
    assert found.bracket_mm == (Decimal("26.25"), Decimal("26.50"))
    assert found.closing_od_mm == Decimal("23.70")
    assert found.supports_recipe
    assert found.warnings == ()


def test_goes_on_by_the_small_step_after_tight() -> None:
    found = evaluate_trial(STEPS[:3], estimate_mm=20)
    assert (found.outcome, found.next_setting_mm) == (Outcome.GOES_ON, Decimal("26.25"))


def test_goes_on_by_the_coarse_step_far_above_the_estimate() -> None:
    assert evaluate_trial(STEPS[:1], estimate_mm=25).next_setting_mm == Decimal("26.5")
    assert evaluate_trial(STEPS[:1], estimate_mm=26).next_setting_mm == Decimal("26.75")


def test_goes_on_as_often_as_it_stays_tight() -> None:
    steps = [*STEPS[:3], ("26.25", "tight"), ("26.00", "tight")]
    assert evaluate_trial(steps).outcome is Outcome.GOES_ON


def test_a_closing_press_without_three_readings_supports_no_recipe() -> None:
    found = evaluate_trial([*STEPS[:3], ("26.25", "refuses", ODS[:2])])
    assert found.outcome is Outcome.COLLAPSE_FOUND
    assert not found.supports_recipe


def test_one_press_past_closing_is_warned_of() -> None:
    found = evaluate_trial([*STEPS, ("26.00", "refuses")])
    assert found.outcome is Outcome.PAST_CLOSING
    assert found.supports_recipe
    assert any("past closing" in warning for warning in found.warnings)


def test_two_presses_past_closing_support_no_recipe() -> None:
    found = evaluate_trial([*STEPS, ("26.00", "refuses"), ("25.75", "refuses")])
    assert (found.outcome, found.supports_recipe) == (Outcome.OVER_COLLAPSED, False)
    assert found.closing_setting_mm == Decimal("26.25")


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ([("27", "enters"), ("26.5", "refuses", ODS)], "wide"),
        ([("27", "enters"), ("26.75", "refuses", ODS)], "No tight press"),
        ([("27", "tight"), ("26.5", "refuses", ODS)], "was allowed there"),
        ([("27", "tight"), ("26.75", "refuses", ("23.5", "23.9", "23.6"))], "Ovality"),
    ],
)
def test_says_what_is_doubtful(steps: list[Any], said: str) -> None:
    assert any(said in warning for warning in evaluate_trial(steps).warnings)


def test_a_trial_that_began_too_small_knows_no_bracket() -> None:
    found = evaluate_trial([("26", "refuses", ODS)])
    assert (found.outcome, found.bracket_mm) == (Outcome.NO_BRACKET, None)
    assert not found.supports_recipe


@pytest.mark.parametrize("second", ["27.00", "27.25"])
def test_settings_only_go_down(second: str) -> None:
    found = evaluate_trial([("27.00", "enters"), (second, "refuses", ODS)])
    assert (found.outcome, found.supports_recipe) == (Outcome.SETTINGS_NOT_FALLING, False)


def test_a_pin_that_goes_in_again_contradicts_itself() -> None:
    found = evaluate_trial([*STEPS, ("26.00", "enters")])
    assert (found.outcome, found.supports_recipe) == (Outcome.PIN_CONTRADICTS, False)


@pytest.mark.parametrize(
    "wrong",
    [("27", "maybe"), ("-1", "enters"), ("nan", "tight"), ("x", "tight"), ("27", "tight", ["0"])],
)
def test_refuses_a_press_that_is_none(wrong: Any) -> None:
    with pytest.raises(ValueError, match=r"mm|pin"):
        evaluate_trial([wrong])


@pytest.mark.parametrize("steps", [(0, 0.5), (0.5, 0.25), (0.25, 0.75), (-1, 0.5)])
def test_refuses_steps_out_of_order(steps: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="steps"):
        evaluate_trial(STEPS, small_step_mm=steps[0], coarse_step_mm=steps[1])


def _agree(first: tuple[str, str], second: tuple[str, str]) -> bool:
    def trial(bracket: tuple[str, str]) -> Evaluation:
        low, high = (Decimal(mm) for mm in bracket)
        return evaluate_trial(
            [("27", "tight", [high] * 3), ("26.75", "refuses", [low] * 3)], small_step_mm="0.25"
        )

    return brackets_agree(trial(first), trial(second))


def test_two_trials_agree_when_their_od_brackets_overlap() -> None:
    assert _agree(("23.70", "23.95"), ("23.90", "24.10"))
    assert _agree(("23.70", "23.95"), ("23.95", "24.10"))
    assert not _agree(("23.70", "23.95"), ("23.96", "24.10"))


_press = st.tuples(
    st.decimals("1", "60", places=2),
    st.sampled_from(["enters", "tight", "refuses"]),
    st.lists(st.decimals("1", "60", places=2), max_size=4),
)


@given(st.lists(_press, max_size=12))
def test_any_sequence_ends_in_one_named_outcome(presses: list[Any]) -> None:
    found = evaluate_trial(presses)
    assert found.outcome in Outcome
    if found.supports_recipe:
        assert found.outcome in (Outcome.COLLAPSE_FOUND, Outcome.PAST_CLOSING)
    else:
        assert found.warnings or found.outcome in (Outcome.NO_PRESS, Outcome.OVER_COLLAPSED)


@given(st.lists(_press, min_size=1, max_size=12))
def test_only_a_first_refusal_after_another_answer_can_support_a_recipe(presses: list[Any]) -> None:
    pins = [pin for _, pin, _ in presses]
    settings = [setting for setting, _, _ in presses]
    sound = settings == sorted(set(settings), reverse=True) and "refuses" in pins[1:]
    assert sound or not evaluate_trial(presses).supports_recipe


@given(st.lists(_press, max_size=12), st.decimals("1", "60", places=2))
def test_a_second_run_says_the_same(presses: list[Any], estimate: Decimal) -> None:
    first = evaluate_trial(presses, estimate_mm=estimate)
    assert first == evaluate_trial(presses, estimate_mm=estimate)
