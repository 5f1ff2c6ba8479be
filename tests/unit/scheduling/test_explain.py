import datetime as dt
from typing import Any

import numpy as np

from scheduling.calc.due import Flag, Place, Trigger, due_table
from scheduling.calc.due_words import FLAG_WORDS, TITLES
from scheduling.calc.explain import explain
from tests.unit.scheduling import random_dues
from tests.unit.scheduling.due_rows import exemptions, hoses, rules
from tests.unit.scheduling.test_due import HOURS


def _told(hose: Any, *rule_rows: Any, exempt: Any = ()) -> Any:
    inputs = hoses(hose)
    return explain(inputs, due_table(inputs, rules(*rule_rows), exemptions(*exempt)))


def _sentence(trigger: Any, hose: Any, *rule_rows: Any, exempt: Any = ()) -> Any:
    told = _told(hose, *rule_rows, exempt=exempt)
    return next(t.sentence for t in told if t.trigger is trigger)


def test_every_trigger_and_flag_has_words() -> None:
    assert set(TITLES) == set(Trigger)
    assert set(FLAG_WORDS) == set(Flag)


def test_tells_the_binding_trigger_first() -> None:
    told = _told({"built_early_on": dt.date(2020, 5, 1)}, {"built_months": 72, "rule": 5})
    assert (told[0].trigger, told[0].binds, told[0].rule) == (Trigger.BUILT, True, 5)
    assert told[0].sentence == "Assembly built 2020-05-01 + 6 years = 2026-05-01."


def test_tells_the_arithmetic_of_hours() -> None:
    assert _sentence(Trigger.HOURS_FITTING, HOURS, {"fitting_tenths": 20_000}) == (
        "11,750.0 h on 2026-03-01 less 10,000.0 h at the start: 1,750.0 h run of 2,000.0 h,"
        " 250.0 h left at 8.000 h a day: 2026-04-01."
    )


def test_tells_hours_that_are_gone() -> None:
    assert _sentence(Trigger.HOURS_FITTING, HOURS, {"fitting_tenths": 16_000}).endswith(
        "150.0 h over at 8.000 h a day: reached on 2026-02-10."
    )


def test_tells_hours_of_earlier_places() -> None:
    hose = {**HOURS, "earlier_tenths": 2_000}
    assert ", and 200.0 h on earlier places: 1,950.0 h run of 2,000.0 h, 50.0 h left" in _sentence(
        Trigger.HOURS_TOTAL, hose, {"total_tenths": 20_000}
    )


def test_tells_an_exemption() -> None:
    granted = ({"assembly": 1, "until_on": dt.date(2027, 1, 1)},)
    hose = {"built_early_on": dt.date(2020, 5, 1)}
    assert _sentence(Trigger.BUILT, hose, {"built_months": 72}, exempt=granted) == (
        "Assembly built 2020-05-01 + 6 years."
        " An exemption runs until 2027-01-01: not before that day."
    )


def test_tells_why_there_is_no_date() -> None:
    assert "that day is not known" in _sentence(Trigger.BUILT, {}, {"built_months": 72})
    assert "No rule sets" in _sentence(Trigger.MADE, {})
    assert "off a machine" in _sentence(Trigger.STORAGE, {}, {"storage_months": 24})
    stored = {"place": Place.STORE}
    assert "on a machine" in _sentence(Trigger.FITTED, stored, {"fitted_months": 24})


def test_tells_something_of_every_trigger_of_any_hose() -> None:
    rng = np.random.default_rng(8)
    inputs, table = random_dues.inputs(rng, 300), random_dues.rules(rng, 6)
    dues = due_table(inputs, table, random_dues.exemptions(rng, 8, 300))
    for index in range(300):
        told = explain(inputs, dues, index)
        assert len(told) == len(Trigger)
        assert all(t.sentence.endswith(".") and "None" not in t.sentence for t in told), told
        if dues.result.replace_trigger[index]:
            assert told[0].binds
