"""Age presets against dates worked by hand.

Sources: DIN 20066:2002-10 with DGUV Regel 113-020 (10-2017): hose at most 4 years old when built,
assembly stored at most 2 years, used at most 6 years from the day it was built, storage included;
under increased duty about 2 years of use; inspected every 12 or 6 months. ISO/TR 17165-2: hose kept
at most 40 quarters from its manufacture. Read in secondary pages: check against your own copy.
"""

import datetime as dt
from typing import Any

import pytest

from scheduling.calc.due import Flag, Place, Trigger
from scheduling.calc.presets import preset, presets
from tests.unit.scheduling.due_rows import as_date, dates_of, table_of

NORMAL = preset("din-20066-normal").limits
INCREASED = preset("din-20066-increased").limits
SHELF = preset("iso-17165-2-shelf").limits
D = dt.date


def test_presets_carry_the_published_limits() -> None:
    # Third column: DIN 20066 in years, turned into months by hand.
    assert NORMAL == {
        "reel_age_months": 48,
        "storage_months": 24,
        "built_months": 72,
        "inspect_months": 12,
    }
    assert INCREASED == {**NORMAL, "fitted_months": 24, "inspect_months": 6}
    assert SHELF == {"reel_age_months": 120}
    assert all(p.source for p in presets())


@pytest.mark.parametrize(
    ("built", "replace"),
    [
        (D(2016, 6, 15), D(2022, 6, 15)),
        (D(2018, 2, 28), D(2024, 2, 28)),  # into a leap year: the 28th stays the 28th
        (D(2020, 2, 29), D(2026, 2, 28)),  # no 29 February in 2026
        (D(2018, 12, 31), D(2024, 12, 31)),
        (D(1994, 2, 28), D(2000, 2, 28)),  # 2000 was a leap year
        (D(2094, 2, 28), D(2100, 2, 28)),  # 2100 won't be one
        (D(2096, 2, 29), D(2102, 2, 28)),
    ],
)
def test_din_20066_normal_duty_ends_six_years_after_building(built: Any, replace: Any) -> None:
    assert dates_of({"built_early_on": built}, NORMAL)[0] == replace


def test_din_20066_counts_storage_inside_the_six_years() -> None:
    # Built 1 March 2019, stored until fitted on 1 March 2021: still 1 March 2025.
    row = {"built_early_on": D(2019, 3, 1), "placed_early_on": D(2021, 3, 1)}
    assert dates_of(row, NORMAL)[0] == D(2025, 3, 1)


def test_din_20066_storage_ends_two_years_after_building() -> None:
    row = {"built_early_on": D(2024, 2, 29), "place": Place.STORE}
    table = table_of(row, NORMAL)
    assert as_date(table.result.replace_on[0]) == D(2026, 2, 28)
    assert table.result.replace_trigger[0] == Trigger.STORAGE


def test_din_20066_increased_duty_ends_two_years_after_fitting() -> None:
    row = {"built_early_on": D(2021, 10, 31), "placed_early_on": D(2022, 2, 28)}
    assert dates_of(row, INCREASED)[0] == D(2024, 2, 28)


def test_din_20066_increased_duty_never_passes_six_years_from_building() -> None:
    # Fitted late: two years from 1 October 2023 would be 1 October 2025.
    row = {"built_early_on": D(2019, 5, 31), "placed_early_on": D(2023, 10, 1)}
    assert dates_of(row, INCREASED)[0] == D(2025, 5, 31)


@pytest.mark.parametrize(
    ("limits", "inspected", "again"),
    [
        (NORMAL, D(2024, 2, 29), D(2025, 2, 28)),
        (NORMAL, D(2023, 2, 28), D(2024, 2, 28)),
        (INCREASED, D(2025, 8, 31), D(2026, 2, 28)),
        (INCREASED, D(2023, 8, 31), D(2024, 2, 29)),
        (INCREASED, D(2025, 12, 31), D(2026, 6, 30)),
    ],
)
def test_inspections_follow_at_their_interval(limits: Any, inspected: Any, again: Any) -> None:
    row = {"built_early_on": D(2022, 1, 1), "inspected_on": inspected}
    assert dates_of(row, limits)[1] == again


def test_an_inspection_counts_from_fitting_where_none_is_on_record() -> None:
    row = {"built_early_on": D(2022, 1, 1), "placed_early_on": D(2023, 3, 31)}
    assert dates_of(row, INCREASED)[1] == D(2023, 9, 30)
    assert Flag.NEVER_INSPECTED in Flag(int(table_of(row, INCREASED).result.flags[0]))


@pytest.mark.parametrize(
    ("limits", "made", "last_day"),
    [
        (NORMAL, D(2016, 4, 1), D(2020, 4, 1)),  # 2Q16 counts from 1 April 2016; 4 years
        (SHELF, D(2016, 4, 1), D(2026, 4, 1)),  # 2Q16 and 40 quarters: to the start of 2Q26
        (SHELF, D(2015, 10, 1), D(2025, 10, 1)),  # 4Q15
        (NORMAL, D(2016, 2, 29), D(2020, 2, 29)),
        (NORMAL, D(2020, 2, 29), D(2024, 2, 29)),
    ],
)
def test_a_reel_may_be_built_up_to_the_last_day_of_its_age(
    limits: Any, made: Any, last_day: Any
) -> None:
    limit = {"reel_age_months": limits["reel_age_months"]}
    in_time = {"made_early_on": made, "built_early_on": last_day}
    too_late = {"made_early_on": made, "built_early_on": last_day + dt.timedelta(days=1)}
    assert dates_of(in_time, limit)[0] is None
    assert dates_of(too_late, limit)[0] == last_day + dt.timedelta(days=1)


def test_a_quarter_counts_from_its_first_day_early_and_its_last_day_late() -> None:
    # 2Q16 with six years from hose made: 1 April 2022 to 30 June 2022.
    row = {"made_early_on": D(2016, 4, 1), "made_late_on": D(2016, 6, 30)}
    result = table_of(row, {"made_months": 72}).result
    days = [as_date(d[0]) for d in (result.replace_early, result.replace_on, result.replace_late)]
    assert days == [D(2022, 4, 1), D(2022, 4, 1), D(2022, 6, 30)]


def test_a_month_code_counts_from_its_first_day_early_and_its_last_day_late() -> None:
    # Assembly stamped 2402 (February 2024), six years: 1 February 2030 to 28 February 2030.
    row = {"built_early_on": D(2024, 2, 1), "built_late_on": D(2024, 2, 29)}
    result = table_of(row, NORMAL).result
    assert as_date(result.replace_on[0]) == D(2030, 2, 1)
    assert as_date(result.replace_late[0]) == D(2030, 2, 28)


def test_the_made_day_stands_in_for_an_unknown_built_day() -> None:
    # Layline 3Q17, nothing stamped on the shell: six years from 1 July 2017.
    row = {"made_early_on": D(2017, 7, 1), "made_late_on": D(2017, 9, 30)}
    assert dates_of(row, NORMAL)[0] == D(2023, 7, 1)
    assert Flag.BUILT_FROM_MADE in Flag(int(table_of(row, NORMAL).result.flags[0]))
