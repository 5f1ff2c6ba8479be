"""Usage rates against published and exact figures.

Sources: P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau", Journal of
the American Statistical Association 63 (1968) 1379-1389 (slope 4, limits 26/7 and 35/8 at 93 %);
scipy.stats.theilslopes, an independent implementation; cases with an exact slope by construction.
"""

import datetime as dt
from typing import Any

import numpy as np
import pytest
from scipy.stats import theilslopes

from fleet.calc.meters import MeterFacts, machine_tenths, offset_after_change
from fleet.calc.usage import Basis, sen_slope, usage_rate
from tests.unit.scheduling.due_rows import dates_of

SEN_X = np.array([1, 2, 3, 4, 10, 12, 18.0])
SEN_Y = np.array([9, 15, 19, 20, 45, 55, 78.0])
DAY_0 = (dt.date(2026, 1, 1) - dt.date(1970, 1, 1)).days


@pytest.mark.parametrize("confidence", [0.93, 0.95])
def test_sen_1968_example(confidence: Any) -> None:
    found = sen_slope(SEN_X, SEN_Y, confidence=confidence)
    assert found.slope == 4
    assert found.low == pytest.approx(3.714286, abs=5e-7)
    assert found.high == pytest.approx(4.375, abs=5e-7)
    other = theilslopes(SEN_Y, SEN_X, confidence)
    assert (other.slope, other.low_slope, other.high_slope) == (found.slope, found.low, found.high)


def test_a_steady_machine_reaches_4000_hours_255_days_after_its_last_reading() -> None:
    # Days 0 to 120, hours 1000 + 8 a day: 1960 h on day 120, 2040 h left, 255 days of 8 h.
    days = DAY_0 + np.arange(0, 121, 30)
    rate = usage_rate(days, 10_000 + 80 * (days - DAY_0), class_rate_milli=1)
    assert (rate.low_milli, rate.rate_milli, rate.high_milli) == (8000, 8000, 8000)
    hose = {
        "placed_tenths": 0,
        "meter_tenths": rate.machine_tenths,
        "meter_on": rate.as_of_on,
        "rate_low_milli": rate.low_milli,
        "rate_milli": rate.rate_milli,
        "rate_high_milli": rate.high_milli,
    }
    reached = dt.date(2026, 1, 1) + dt.timedelta(days=120 + 255)
    assert dates_of(hose, {"fitting_tenths": 40_000})[0] == reached


def test_one_mistyped_reading_does_not_move_the_slope() -> None:
    # 17200 typed for 1720 on day 90; least squares through the same points would start at 3211 h.
    days = np.arange(0, 181, 30.0)
    hours = 1000 + 8 * days
    hours[3] = 17_200
    assert sen_slope(days, hours).slope == 8
    assert theilslopes(hours, days).slope == 8
    assert np.polyfit(days, hours, 1)[1] == pytest.approx(3211.43, abs=0.005)


def test_hours_go_on_counting_over_a_change_of_meter() -> None:
    # The old meter ends at 5480 h on day 60, the new one starts at 0.
    zone = dt.UTC
    old = MeterFacts(zone)
    new = MeterFacts(zone, offset_tenths=offset_after_change(0, 54_800, 0))
    shown = [(0, 50_000, old), (20, 51_600, old), (45, 53_600, old), (60, 54_800, old)]
    shown += [(80, 1_600, new), (100, 3_200, new)]
    tenths = [machine_tenths(value, meter) for _, value, meter in shown]
    assert tenths == [50_000, 51_600, 53_600, 54_800, 56_400, 58_000]
    rate = usage_rate(np.array([day for day, _, _ in shown]), np.array(tenths), class_rate_milli=1)
    assert (rate.rate_milli, rate.basis) == (8000, Basis.MEASURED)
