"""Kaplan–Meier, Nelson–Aalen and the mean cumulative function, against tables and libraries."""

import warnings

import lifelines
import numpy as np
import pytest
from reliability.Datasets import MCF_1

from scheduling.calc.life.mean_cumulative import mean_cumulative
from scheduling.calc.life.records import StudyRefused, lives
from scheduling.calc.life.survival import plain_limits, survival
from tests.published import life_data as data

# The fans of Nelson (1982): R's survfit, lifelines and statsmodels agree on each figure. Age, at
# risk, failed, S, its error (Greenwood), log-log limits, plain limits, H, its error.
FANS = """
450 70 1 0.985714 0.0141833 0.902896 0.997975 0.957916 1 0.014285714 0.014285714
1150 68 2 0.956723 0.0244418 0.871794 0.985835 0.908818 1 0.043697479 0.025231084
1600 65 1 0.942004 0.0281509 0.852787 0.977834 0.886829 0.997179 0.059082094 0.029551548
2070 55 2 0.907749 0.0360728 0.805395 0.957639 0.837048 0.978451 0.095445731 0.039172069
2080 53 1 0.890622 0.0392481 0.783364 0.946527 0.813697 0.967547 0.114313655 0.043479301
3100 47 1 0.871672 0.0427434 0.758425 0.934058 0.787897 0.955448 0.135590251 0.048406023
3450 45 1 0.852302 0.0459737 0.733681 0.920835 0.762195 0.942409 0.157812473 0.053263217
4600 34 1 0.827234 0.0509999 0.698617 0.904564 0.727276 0.927192 0.187224238 0.060844245
6100 26 1 0.795418 0.0581217 0.651864 0.884769 0.681501 0.909334 0.225685776 0.071981332
8750 9 1 0.707038 0.098042 0.468012 0.853605 0.514879 0.899197 0.336796888 0.132389543
"""


def test_the_fans_curve_figure_by_figure() -> None:
    found = survival(data.FANS)
    low, high = plain_limits(found)
    columns = [found.ages, found.at_risk, found.failed, found.survival, found.survival_se]
    columns += [found.low, found.high, low, high, found.hazard, found.hazard_se]
    rows = [[float(figure) for figure in line.split()] for line in FANS.split("\n")[1:-1]]
    printed = [6, 6, 6, 6, 7, 6, 6, 6, 6, 9, 9]
    for column, places, wanted in zip(columns, printed, zip(*rows, strict=True), strict=True):
        assert column == pytest.approx(wanted, abs=0.51 * 10**-places)
    assert found.median is None


def test_late_entries_count_at_risk_only_after_they_entered() -> None:
    """By hand; lifelines and R agree. A life that enters at an age is not at risk at it."""
    found = survival(data.LATE)
    assert found.ages.tolist() == [1200, 3100, 3600, 4000, 4400, 5000, 5200, 6100]
    assert found.at_risk.tolist() == [8, 7, 7, 6, 6, 4, 4, 2]
    wanted = [0.875, 0.75, 0.642857, 0.535714, 0.446429, 0.334821, 0.251116, 0.125558]
    assert found.survival == pytest.approx(wanted, abs=5e-7)


@pytest.mark.parametrize("seed", range(6))
def test_agrees_with_lifelines(seed: int) -> None:
    rng = np.random.default_rng(seed)
    life, stop = rng.integers(1, 40, 80), rng.integers(1, 40, 80)
    ends, failed = np.minimum(life, stop), life <= stop
    found = survival(lives(ends, failed))
    theirs = lifelines.KaplanMeierFitter().fit(ends, failed)
    sums = lifelines.NelsonAalenFitter(nelson_aalen_smoothing=False).fit(ends, failed)
    wanted = [theirs.predict(age) for age in found.ages]
    assert found.survival == pytest.approx(wanted, abs=1e-12)
    assert found.hazard == pytest.approx([sums.predict(age) for age in found.ages], abs=1e-9)


def test_a_thin_early_risk_set_does_not_send_the_curve_to_zero() -> None:
    """One life alone at risk fails early: from new the curve is 0 for ever; lifelines raises."""
    ends, failed = [10.0, 50, 60, 70, 80, 90, 100], [1, 1, 0, 1, 0, 0, 1]
    entry = [0.0, 20, 20, 20, 20, 20, 20]
    group = lives(ends, failed, entry=entry)
    assert survival(group).survival[-1] == 0
    later = survival(group, enough=5)
    assert later.from_age == 50
    assert later.survival == pytest.approx([5 / 6, 5 / 6 * 3 / 4, 0], abs=1e-12)


def test_refuses_a_curve_without_a_failure() -> None:
    with pytest.raises(StudyRefused, match="every life still runs"):
        survival(lives([5.0], [0]))


# The worked example of five systems in the documentation of the package reliability (its last
# number a system is the end of its watch, not an event). Age, at risk, M; the robust standard
# error is that of R's survfit with an id for each system.
FIVE = [
    (5, 5, 0.2, 0.178885),
    (6, 5, 0.4, 0.219089),
    (10, 5, 0.6, 0.357771),
    (12, 5, 0.8, 0.334664),
    (13, 5, 1.2, 0.334664),
    (15, 5, 1.6, 0.456070),
    (16, 5, 1.8, 0.334664),
    (17, 5, 2.0, 0.400000),
    (20, 3, 2.333333, 0.435465),
    (22, 3, 2.666667, 0.381032),
    (25, 2, 3.666667, 0.381032),
]


def test_the_mean_number_of_recurrences_figure_by_figure() -> None:
    histories = MCF_1().times
    found = mean_cumulative([one[:-1] for one in histories], [one[-1] for one in histories])
    columns = [found.ages, found.at_risk, found.mean, found.mean_se]
    for column, wanted in zip(columns, zip(*FIVE, strict=True), strict=True):
        assert column == pytest.approx(wanted, abs=5.1e-7)


def test_the_mean_number_agrees_with_the_package_reliability() -> None:
    """It takes two events of one age one by one, and differs in its variance."""
    import matplotlib as mpl

    mpl.use("Agg")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from reliability.Repairable_systems import MCF_nonparametric

        theirs = MCF_nonparametric(MCF_1().times, print_results=False, show_plot=False)
    histories = MCF_1().times
    found = mean_cumulative([one[:-1] for one in histories], [one[-1] for one in histories])
    assert set(np.round(found.mean, 6)) < set(np.round([m for m in theirs.MCF if m], 6))
