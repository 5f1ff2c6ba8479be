import datetime as dt
from typing import Any

import numpy as np
import pytest

from scheduling.calc.due import NONE, DueInputs, Flag, Place, Trigger, due_dates
from tests.unit.scheduling import random_dues
from tests.unit.scheduling.due_rows import as_date, dates_of, exemptions, hoses, rules, table_of

BUILT = dt.date(2020, 5, 1)
HOURS = {
    "placed_early_on": dt.date(2024, 1, 1),
    "placed_tenths": 100_000,
    "meter_on": dt.date(2026, 3, 1),
    "meter_tenths": 117_500,
    "rate_low_milli": 5_000,
    "rate_milli": 8_000,
    "rate_high_milli": 10_000,
}


def _flags(hose: Any, *rule_rows: Any, exempt: Any = ()) -> Any:
    return Flag(int(table_of(hose, *rule_rows, exempt=exempt).result.flags[0]))


def test_takes_the_strictest_of_all_matching_rules() -> None:
    two = ({"built_months": 72}, {"built_months": 24, "site": 3})
    assert dates_of({"built_early_on": BUILT, "site": 3}, *two)[0] == dt.date(2022, 5, 1)
    assert dates_of({"built_early_on": BUILT, "site": 4}, *two)[0] == dt.date(2026, 5, 1)


def test_gives_equal_limits_to_the_lowest_rule() -> None:
    row = {"built_early_on": BUILT}
    table = table_of(row, {"rule": 9, "built_months": 72}, {"rule": 4, "built_months": 72})
    assert table.result.replace_rule[0] == 4


def test_gives_equal_days_to_the_first_trigger() -> None:
    row = {"built_early_on": BUILT, "made_early_on": BUILT}
    table = table_of(row, {"built_months": 72, "made_months": 72})
    assert table.result.replace_trigger[0] == Trigger.MADE


def test_a_rule_needs_its_whole_scope() -> None:
    rule = {"built_months": 24, "site": 1, "circuit": 2}
    assert dates_of({"built_early_on": BUILT, "site": 1, "circuit": 3}, rule)[0] is None


def test_says_that_no_rule_matches() -> None:
    assert Flag.NO_RULE in _flags({"built_early_on": BUILT}, {"built_months": 24, "site": 9})


def test_hours_left_run_out_early_likely_and_late() -> None:
    # 1,750.0 h run of 2,000: 250.0 h left is 25, 31 (31.25) and 50 days after 1 March.
    result = table_of(HOURS, {"fitting_tenths": 20_000}).result
    days = (result.replace_early[0], result.replace_on[0], result.replace_late[0])
    assert [as_date(d) for d in days] == [
        dt.date(2026, 3, 26),
        dt.date(2026, 4, 1),
        dt.date(2026, 4, 20),
    ]


def test_hours_gone_are_dated_back_to_the_day_they_went() -> None:
    # 150.0 h over at 8 h a day: 18.75 days before the reading, so within the 19th day before.
    assert dates_of(HOURS, {"fitting_tenths": 16_000})[0] == dt.date(2026, 2, 10)


def test_hours_gone_are_never_dated_before_the_fitting() -> None:
    row = {**HOURS, "rate_milli": 100, "rate_low_milli": 100}
    assert dates_of(row, {"fitting_tenths": 10})[0] == HOURS["placed_early_on"]


def test_a_standing_machine_has_no_hours_date_and_says_so() -> None:
    row = {**HOURS, "rate_low_milli": 0, "rate_milli": 0, "rate_high_milli": 0}
    assert dates_of(row, {"fitting_tenths": 20_000})[0] is None
    assert Flag.STANDING in _flags(row, {"fitting_tenths": 20_000})


def test_hours_without_a_reading_are_estimated_from_days() -> None:
    row = {**HOURS, "meter_on": None, "meter_tenths": None}
    assert dates_of(row, {"fitting_tenths": 8_000})[0] == dt.date(2024, 4, 10)  # 100 days
    assert Flag.ESTIMATED_FROM_DAYS in _flags(row, {"fitting_tenths": 8_000})


def test_hours_without_a_fitted_day_or_reading_are_flagged() -> None:
    assert _flags({}, {"fitting_tenths": 8_000}) & Flag.HOURS_UNKNOWN


def test_a_hose_of_unknown_age_is_due_for_inspection_since_it_was_known() -> None:
    assert dates_of({}, {"built_months": 72})[1] == dt.date(2026, 1, 1)
    assert Flag.UNKNOWN_AGE in _flags({}, {"built_months": 72})


def test_a_hose_of_unknown_age_once_inspected_waits_a_year_without_a_rule() -> None:
    seen = {"inspected_on": dt.date(2026, 2, 28)}
    assert dates_of(seen)[1] == dt.date(2027, 2, 28)
    assert dates_of(seen, {"inspect_months": 3})[1] == dt.date(2026, 5, 28)


def test_an_exemption_puts_a_date_off_but_never_a_take_out_now() -> None:
    granted = ({"assembly": 1, "until_on": dt.date(2027, 1, 1)},)
    row = {"built_early_on": BUILT}
    assert dates_of(row, {"built_months": 72}, exempt=granted)[0] == dt.date(2027, 1, 1)
    out = {**row, "take_out_on": dt.date(2026, 3, 1)}
    assert dates_of(out, {"built_months": 72}, exempt=granted)[0] == dt.date(2026, 3, 1)


def test_an_exemption_of_one_trigger_leaves_the_others() -> None:
    granted = ({"position": 8, "triggers": 1 << Trigger.MADE, "until_on": dt.date(2030, 1, 1)},)
    row = {"position": 8, "built_early_on": BUILT, "made_early_on": BUILT}
    both = {"built_months": 72, "made_months": 72}
    assert dates_of(row, both, exempt=granted)[0] == dt.date(2026, 5, 1)


def test_a_scrapped_hose_has_no_dates() -> None:
    row = {"place": Place.SCRAPPED, "take_out_on": BUILT, "built_early_on": BUILT}
    assert dates_of(row, {"built_months": 72, "inspect_months": 6}) == (None, None)


def test_refuses_columns_of_different_lengths_and_unknown_first_days() -> None:
    good = hoses({}, {})
    with pytest.raises(ValueError, match="differ in length"):
        DueInputs(**{**{n: getattr(good, n) for n in good.names()}, "site": np.array([1])})
    with pytest.raises(ValueError, match="no known_from day"):
        hoses({"known_from_on": None})


@pytest.mark.parametrize("size", [0, 1, 3])
def test_takes_any_number_of_rows(size: Any) -> None:
    result = due_dates(hoses(*[{}] * size), rules(), exemptions())
    assert result.inspect_on.size == size


def test_the_same_inputs_give_the_same_fingerprint_whoever_they_belong_to() -> None:
    one, other = {"built_early_on": BUILT, "assembly": 1}, {"built_early_on": BUILT, "assembly": 2}
    result = due_dates(hoses(one, other), rules({"built_months": 72}), exemptions())
    assert result.fingerprint[0] == result.fingerprint[1]


def test_a_reading_changes_the_fingerprint_only_where_hours_are_limited() -> None:
    later = {**HOURS, "meter_tenths": 117_600}
    for limits, same in (({"built_months": 72}, True), ({"fitting_tenths": 20_000}, False)):
        prints = due_dates(hoses(HOURS, later), rules(limits), exemptions()).fingerprint
        assert (prints[0] == prints[1]) == same


def test_every_input_that_decides_changes_the_fingerprint() -> None:
    rng = np.random.default_rng(3)
    inputs, every = random_dues.inputs(rng, 50), rules({"fitting_tenths": 100})
    before = due_dates(inputs, every, exemptions()).fingerprint
    columns = {n: getattr(inputs, n) for n in inputs.names()}
    for name in inputs.names()[9:]:
        changed = DueInputs(**{**columns, name: np.where(columns[name] == 4, 3, 4)})
        assert (due_dates(changed, every, exemptions()).fingerprint != before).all(), name


def test_a_row_alone_gives_what_it_gives_among_others() -> None:
    rng = np.random.default_rng(11)
    inputs, table = random_dues.inputs(rng, 60), random_dues.rules(rng, 5)
    exempt = random_dues.exemptions(rng, 6, 60)
    together = due_dates(inputs, table, exempt)
    for index in range(60):
        alone = DueInputs(**{n: getattr(inputs, n)[[index]] for n in inputs.names()})
        assert due_dates(alone, table, exempt).row(0) == together.row(index)


def test_no_date_is_later_than_every_date() -> None:
    assert (dt.date.max - dt.date(1970, 1, 1)).days < NONE
