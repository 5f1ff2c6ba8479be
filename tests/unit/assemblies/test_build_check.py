"""A piece judged against its sheet: what passes, what is out, what is missing, and the words."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assemblies.calc.build_actuals import BuildActuals, ReelFacts, SkiveDone, ToolFacts
from assemblies.calc.build_check import judge_build
from assemblies.calc.build_lines import Verdict
from assemblies.calc.sheet import (
    SKIVE_UNKNOWN,
    Orientation,
    PinAnswer,
    PinCheck,
    ProofTest,
    SheetContent,
    SkiveKind,
)
from tests.unit.assemblies.build_samples import (
    by_the_sheet,
    judged,
    line_of,
    with_end,
)
from tests.unit.assemblies.sheet_samples import everyday, published_crimp, trial_crimp, worst

D = Decimal
SHEET = everyday()
TURNED = replace(SHEET, orientation=Orientation(D(2), D(3)))


def sheet_with(**facts: Any) -> SheetContent:
    """The everyday sheet with other figures at end A."""
    near, far = SHEET.ends
    return replace(SHEET, ends=(replace(near, crimp=replace(published_crimp(), **facts)), far))


TRIAL = replace(SHEET, ends=(replace(SHEET.ends[0], crimp=trial_crimp()), SHEET.ends[1]))


@pytest.mark.parametrize("content", [SHEET, TRIAL, TURNED], ids=["everyday", "trial", "turned"])
def test_a_piece_made_by_the_sheet_alone_is_good(content: SheetContent) -> None:
    found = judged(content, by_the_sheet(content))
    assert (found.good, found.obstacles, found.doubts) == (True, (), ())


OUT: list[tuple[str, dict[str, Any], str]] = [
    ("reel", {"reel": ReelFacts("R-2", "H-other", D(9))}, "R-2 is a reel of H-other, the sheet"),
    ("reel", {"reel": ReelFacts("R-3", "H-2SN-19", D(9), not_usable="5 y old.")}, "R-3: 5 y old."),
    ("hose_used_m", {"hose_used_m": D(41)}, "has 40 m left, 41 m are written"),
    ("hose_used_m", {"hose_used_m": D(1)}, "1 m off the reel can't give 1092.5 mm"),
    ("cut_length_mm", {"cut_length_mm": D(1088)}, "Too short by 0.5 mm"),
    ("cut_length_mm", {"cut_length_mm": D(1105)}, "Too long by 0.5 mm. Cut it to size."),
    ("finished_length_mm", {"finished_length_mm": D("1195.9")}, "Too short by 0.1 mm"),
    ("finished_length_mm", {"finished_length_mm": D("1212.1")}, "Too long by 0.1 mm."),
    ("proof_passed", {"proof_passed": False}, "never crimped again"),
    ("proof_pressure_bar", {"proof_pressure_bar": D(319)}, "319 bar is below the 320 bar"),
    ("proof_hold_s", {"proof_hold_s": 29}, "29 s is shorter than the 30 s"),
    ("gauge", {"gauge": ToolFacts("G 9")}, "G 9 has no day of calibration"),
    ("gauge", {"gauge": ToolFacts("G 9", None, date(2026, 11, 25))}, "due for calibration on"),
    ("gauge", {"gauge": ToolFacts("G 9", date(2026, 11, 27), date(2027, 1, 1))}, "after that day"),
]


@pytest.mark.parametrize(("field", "facts", "sentence"), OUT)
def test_what_is_out_says_why(field: str, facts: dict[str, Any], sentence: str) -> None:
    made = replace(by_the_sheet(SHEET), **facts)
    said = [one.sentence for one in judged(SHEET, made).out if one.field == field]
    assert any(sentence in one.replace("\u00a0", " ") for one in said), said


END_OUT: list[tuple[str, dict[str, Any], str]] = [
    ("die_set", {"die_set": "30"}, "Die set 30 is in the crimper, the sheet asks for 28."),
    ("insertion_depth_mm", {"insertion_depth_mm": D("32.9")}, "Crimped at the wrong depth: scrap"),
    (
        "external_skive",
        {"external_skive": SkiveDone(SkiveKind.LENGTH, D(29))},
        "29 mm was taken off, the sheet asks for none.",
    ),
    ("external_skive", {"external_skive": SkiveDone(SkiveKind.UNKNOWN)}, "Not known was written"),
    ("od", {"od_readings_mm": (D("30.51"),) * 3}, "may be closed to size"),
    ("od", {"od_readings_mm": (D("30.29"),) * 3}, "it is too short by 30 mm."),
    ("od", {"od_readings_mm": (D("30.30"), D("30.40"), D("30.51"))}, "Ovality 0.21 mm is above"),
    ("pin", {"pin": "tight"}, "and it was tight: the tail has closed too far"),
    ("pin", {"pin": "refuses"}, "and it refused"),
    ("mark_visible", {"mark_visible": False}, "the hose moved"),
    ("instrument", {"instrument": ToolFacts("M 9")}, "M 9 has no day of calibration"),
]


@pytest.mark.parametrize(("name", "facts", "sentence"), END_OUT)
def test_what_is_out_at_an_end_says_why(name: str, facts: dict[str, Any], sentence: str) -> None:
    made = replace(by_the_sheet(SHEET), proof_passed=None)
    said = [
        one.sentence.replace("\u00a0", " ")
        for one in judged(SHEET, with_end(made, "B", **facts)).out
        if one.field == f"b_{name}"
    ]
    assert any(sentence in one for one in said), said


UNWRITTEN: dict[str, Any] = {
    "reel": {"reel": None},
    "crimper": {"crimper": None},
    "made_by": {"made_by": ""},
    "cut_square": {"cut_square": False},
    "bore_cleaned_with": {"bore_cleaned_with": " "},
    "cut_length_mm": {"cut_length_mm": None},
    "hose_used_m": {"hose_used_m": None},
    "finished_length_mm": {"finished_length_mm": None},
    "angle_deg": {"angle_deg": None},
    "stamped": {"stamped": False},
    "flushed_with": {"flushed_with": ""},
    "cleanliness": {"cleanliness": ""},
    "proof_passed": {"proof_passed": None},
    "proof_pressure_bar": {"proof_pressure_bar": None},
    "proof_hold_s": {"proof_hold_s": None},
    "gauge": {"gauge": None},
}
UNWRITTEN_AT_AN_END: dict[str, Any] = {
    "fitting_lot": {"fitting_lot": ""},
    "shell_lot": {"shell_lot": ""},
    "die_set": {"die_set": ""},
    "insertion_depth_mm": {"insertion_depth_mm": None},
    "external_skive": {"external_skive": SkiveDone()},
    "internal_skive": {"internal_skive": SkiveDone(SkiveKind.LENGTH)},
    "od": {"od_readings_mm": (D("30.40"), D("30.40"))},
    "pin": {"pin": ""},
    "mark_visible": {"mark_visible": None},
    "instrument": {"instrument": None},
}


@pytest.mark.parametrize("field", UNWRITTEN)
def test_what_is_not_written_is_missing(field: str) -> None:
    made = replace(by_the_sheet(TURNED), **UNWRITTEN[field])
    found = judged(TURNED, made)
    assert [one.field for one in found.obstacles] == [field]
    assert found.obstacles[0].verdict is Verdict.MISSING
    assert found.obstacles[0].sentence


@pytest.mark.parametrize("name", UNWRITTEN_AT_AN_END)
def test_what_is_not_written_of_an_end_is_missing(name: str) -> None:
    made = with_end(by_the_sheet(SHEET), "A", **UNWRITTEN_AT_AN_END[name])
    assert [one.field for one in judged(SHEET, made).obstacles] == [f"a_{name}"]


def test_the_longest_sheet_is_good_once_a_note_says_what_was_decided() -> None:
    content = worst()
    said = replace(by_the_sheet(content), note="Inside skive: none, asked of the maker.")
    assert judged(content, said).good


def test_every_thing_judged_has_a_case_here() -> None:
    fields = {one.field for one in judged(TURNED, by_the_sheet(TURNED)).lines}
    whole = {field for field in fields if field[:2] not in ("a_", "b_")}
    ends = {field[2:] for field in fields - whole}
    assert whole == set(UNWRITTEN)
    assert ends == set(UNWRITTEN_AT_AN_END)


def test_a_crimp_once_under_pressure_is_not_closed_any_more() -> None:
    made = with_end(by_the_sheet(SHEET), "A", od_readings_mm=(D("30.55"),) * 3)
    assert "scrap" in line_of(SHEET, made, "a_od").sentence
    fresh = replace(made, proof_passed=None)
    assert "closed to size" in line_of(SHEET, fresh, "a_od").sentence


def test_a_recipe_may_forbid_closing_again() -> None:
    content = sheet_with(closing_allowed=False)
    made = replace(by_the_sheet(content), proof_passed=None)
    large = with_end(made, "A", od_readings_mm=(D("30.55"),) * 3)
    assert "forbids" in line_of(content, large, "a_od").sentence
    again = with_end(made, "A", closed_again=True)
    assert line_of(content, again, "a_closed_again").verdict is Verdict.OUT


def test_a_trial_recipe_s_pin_must_refuse_and_the_smaller_one_pass() -> None:
    made = by_the_sheet(TRIAL)
    entered = line_of(TRIAL, with_end(made, "A", pin="enters"), "a_pin")
    assert "not closed as far as the trial proved" in entered.sentence
    stuck = line_of(TRIAL, with_end(made, "A", must_pass_pin="refuses"), "a_must_pass_pin")
    assert stuck.verdict is Verdict.OUT


def test_a_skive_longer_than_the_mark_leaves_bare_wire() -> None:
    bare = SkiveDone(SkiveKind.LENGTH, D("34.5"))
    line = line_of(
        TRIAL, with_end(by_the_sheet(TRIAL), "A", external_skive=bare), "a_external_skive"
    )
    assert "bare wire" in line.sentence


def test_an_end_without_a_recipe_is_never_good() -> None:
    near, far = SHEET.ends
    none = replace(near, crimp=None, no_crimp_reason="There is no recipe.")
    content = replace(SHEET, ends=(none, far))
    assert any("no crimp for end A" in one.sentence for one in judged(content, made(content)).out)


def made(content: SheetContent) -> BuildActuals:
    return by_the_sheet(content)


@pytest.mark.parametrize(
    ("content", "asked", "good"),
    [
        (SHEET, "", False),  # the sheet asks it of every piece
        (replace(SHEET, test=ProofTest(D(320), "None is asked by the site.")), "", True),
        (replace(SHEET, test=ProofTest(D(320), "One piece in 4.")), "it is the fourth", False),
        (replace(TRIAL, test=ProofTest(D(320), "None is asked by the site.")), "", False),
        (replace(SHEET, test=ProofTest(None, "Every piece.")), "", False),
    ],
)
def test_the_proof_test_is_asked_for_where_it_must_be(
    content: SheetContent, asked: str, good: bool
) -> None:
    untested = replace(made(content), proof_passed=None, proof_asked=asked)
    assert judged(content, untested).good is good


def test_what_is_in_doubt_needs_a_note() -> None:
    unknown = replace(
        made(SHEET), reel=ReelFacts("R-1", "H-2SN-19", D(40), doubts=("Age not known.",))
    )
    found = judged(SHEET, unknown)
    assert [one.field for one in found.obstacles] == ["note"]
    assert "In doubt: reel" in found.obstacles[0].sentence
    assert judged(SHEET, replace(unknown, note="Layline unreadable; the supplier says 2025.")).good


@pytest.mark.parametrize(
    ("content", "facts", "what"),
    [
        (SHEET, {"crimper": ToolFacts("CP-1")}, "Crimper"),
        (SHEET, {"proof_pressure_bar": D(400)}, "Proof pressure"),
        (replace(SHEET, orientation=Orientation(D(2))), {}, "Angle of the ends"),
        (sheet_with(external_skive=SKIVE_UNKNOWN), {}, "Outside skive"),
        (sheet_with(insertion_depth_mm=None), {}, "Insertion mark"),
    ],
)
def test_what_can_t_be_told_is_doubtful(
    content: SheetContent, facts: dict[str, Any], what: str
) -> None:
    piece = replace(made(content), **facts)
    if piece.ends[0].insertion_depth_mm is None:
        piece = with_end(piece, "A", insertion_depth_mm=D(34))
    assert [one.what for one in judged(content, piece).doubts] == [what]


def test_angles_are_compared_the_short_way_round() -> None:
    assert judged(TURNED, replace(made(TURNED), angle_deg=D(359))).good
    far = judged(TURNED, replace(made(TURNED), angle_deg=D(358)))
    assert "4° from the 2° wanted" in far.obstacles[0].sentence


NEAR: dict[str, st.SearchStrategy[Any]] = {
    "readings": st.lists(st.decimals(D("30.25"), D("30.55"), places=2), max_size=6),
    "depth": st.decimals(D(32), D(36), places=1),
    "cut": st.decimals(D(1086), D(1107), places=1),
    "finished": st.decimals(D(1194), D(1214), places=1),
    "bar": st.integers(315, 325),
    "hold": st.integers(25, 35),
    "angle": st.integers(0, 359),
    "pin": st.sampled_from(["", "enters", "tight", "refuses"]),
}
AS_WANTED: dict[str, Any] = {
    **{"readings": [D("30.40")] * 3, "depth": D(34), "cut": D("1092.5"), "finished": D(1200)},
    **{"bar": 320, "hold": 60, "angle": 2, "pin": "enters"},
}


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data(), other=st.sets(st.sampled_from(sorted(NEAR)), max_size=2))
def test_what_is_judged_good_keeps_every_tolerance_of_its_sheet(
    data: st.DataObject, other: set[str]
) -> None:
    got = AS_WANTED | {name: data.draw(NEAR[name], label=name) for name in sorted(other)}
    piece = replace(
        made(TURNED),
        cut_length_mm=got["cut"],
        hose_used_m=D("1.2"),
        finished_length_mm=got["finished"],
        proof_pressure_bar=D(got["bar"]),
        proof_hold_s=got["hold"],
        angle_deg=D(got["angle"]),
    )
    end = {"od_readings_mm": tuple(got["readings"]), "insertion_depth_mm": got["depth"]}
    piece = with_end(piece, "A", pin=got["pin"], **end)
    kept = _kept(got, published_crimp().crimp_od_range_mm)
    assert judge_build(TURNED, piece).good is kept


def _kept(got: dict[str, Any], od_range: tuple[Decimal, Decimal]) -> bool:
    """Every tolerance of the everyday sheet once more, written another way."""
    readings = got["readings"]
    if len(readings) < 3 or got["pin"] != "enters":
        return False
    low, high = od_range
    total = sum(readings)
    return all(
        (
            low * len(readings) <= total <= high * len(readings),
            max(readings) <= min(readings) + D("0.20"),
            33 <= got["depth"] <= 35,
            D("1088.5") <= got["cut"] <= D("1104.5"),
            1196 <= got["finished"] <= 1212,
            320 <= got["bar"] <= 352,
            got["hold"] >= 30,
            got["angle"] in (359, 0, 1, 2, 3, 4, 5),
        )
    )


def test_a_sheet_with_a_pin_that_must_enter_takes_no_other_answer() -> None:
    content = sheet_with(pin=PinCheck(D("14.2"), PinAnswer.ENTERS, "", D("13.5")))
    assert judged(content, made(content)).good
    assert not judged(content, with_end(made(content), "A", must_pass_pin="tight")).good
