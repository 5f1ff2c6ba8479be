"""The steps in words: every figure the bench needs, in order, and a stop where one is missing."""

from dataclasses import replace

from assemblies.calc.sheet import NO_SKIVE, SKIVE_UNKNOWN, SheetContent
from assemblies.calc.sheet_steps import steps_for
from tests.unit.assemblies.sheet_samples import (
    everyday,
    oriented,
    published_crimp,
    trial_crimp,
    trial_sheet,
    without_recipe,
)


def joined(content: SheetContent) -> str:
    return " ".join(steps_for(content)).replace("\u00a0", " ")


def test_goes_from_the_layline_to_the_stamp() -> None:
    steps = steps_for(everyday())
    assert steps[0].startswith("Read the layline")
    assert steps[-1].startswith("Stamp or etch")
    words = ("Cut square", "Put on", "End A: mark", "End A: pin out", "End B: mark", "Proof")
    order = [next(n for n, step in enumerate(steps) if word in step) for word in words]
    assert order == sorted(order)


def test_says_mark_skive_and_push_with_their_lengths() -> None:
    text = joined(trial_sheet())
    assert "mark the hose at 34 mm" in text
    assert "Outside: skive 29 mm, down to the wire, not into it." in text


def test_says_three_things_for_three_kinds_of_skive() -> None:
    base = everyday()
    none = replace(published_crimp(), external_skive=NO_SKIVE)
    unknown = replace(published_crimp(), external_skive=SKIVE_UNKNOWN)
    near, far = (replace(e, crimp=c) for e, c in zip(base.ends, (none, unknown), strict=True))
    text = joined(replace(base, ends=(near, far)))
    assert "End A: mark the hose at 34 mm. Outside: no skive." in text
    assert "End B: mark the hose at 34 mm. Outside: skive NOT KNOWN, ask before cutting." in text


def test_says_what_the_pin_must_do() -> None:
    assert "Pin 14.2 must enter." in joined(everyday())
    assert "Pin 14.2 must refuse, and pin 13.5 must still pass." in joined(trial_sheet())


def test_says_whether_a_large_crimp_may_be_closed() -> None:
    assert "close to size" in joined(everyday())
    crimp = replace(trial_crimp(), closing_allowed=False)
    near, far = (replace(end, crimp=crimp) for end in everyday().ends)
    text = joined(replace(everyday(), ends=(near, far)))
    assert "scrap, this recipe forbids closing again" in text
    assert "close to size" not in text


def test_turns_the_ends_only_where_there_is_an_angle() -> None:
    assert "end B up, end A stands 135° ±5° clockwise" in joined(oriented("135"))
    assert "Turn the ends" not in joined(everyday())


def test_stops_at_an_end_without_a_recipe_and_tests_nothing() -> None:
    text = joined(without_recipe())
    assert "End B: STOP. Do not crimp. There is no recipe" in text
    assert "Proof test" not in text
    assert text.count("Crimp to Ø") == 1


def test_stops_where_no_cut_length_is_known() -> None:
    base = everyday()
    words = "The allowance of end B is not known."
    length = replace(base.length, cut_length_mm=None, arithmetic=words)
    assert "STOP: no cut length is known. " + words in joined(replace(base, length=length))


def test_says_one_time_where_the_test_is_held_for_one_time() -> None:
    base = everyday()
    held = replace(base, test=replace(base.test, hold_from_s=60, hold_to_s=60))
    assert "held 60 s, liquid" in joined(held)
    assert "held 30 to 60 s, liquid" in joined(base)
