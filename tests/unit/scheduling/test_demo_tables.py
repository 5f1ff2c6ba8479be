"""The demo's hand-written tables, read as a hose fitter would read them."""

from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest

from assemblies.calc.connections import standard_end
from assemblies.calc.flow import velocity_m_per_s
from assemblies.standards.tables import bend_radius, diameters, hose_pressure
from scheduling.exchange.demo import tables as demo
from scheduling.exchange.demo.tables import LayoutRow, SiteRow, tables

# Usual oil speeds in m/s by line: common practice, no published source.
SUCTION_M_PER_S, RETURN_M_PER_S, PRESSURE_M_PER_S = 1.2, 3.0, 6.1
LOW_PRESSURE_BAR = 35


def ends_of(row: LayoutRow) -> list[str]:
    return [end.partition("-")[0] for end in row.ends.split("/")]


def lowest_bar(row: LayoutRow) -> Decimal:
    hose = tables().hoses[row.hose]
    ends = [tables().connections[end, hose.dn].rating_bar for end in ends_of(row)]
    return min(hose.pressure_bar, *ends)


def test_hoses_of_a_standard_bear_what_it_prints() -> None:
    rows = {h.code: hose_pressure(h.type, h.dn) for h in tables().hoses.values()}
    printed = {code: row.working_pressure_bar for code, row in rows.items() if row is not None}
    assert len(printed) >= 24
    assert printed == {code: tables().hoses[code].pressure_bar for code in printed}


def test_hoses_of_a_standard_bend_as_it_prints() -> None:
    rows = {h.code: bend_radius(h.type, h.dn) for h in tables().hoses.values()}
    printed = {code: row.bend_radius_mm for code, row in rows.items() if row is not None}
    assert len(printed) >= 24
    assert printed == {code: tables().hoses[code].bend_radius_mm for code in printed}


def test_braid_diameters_lie_in_the_standards_ranges() -> None:
    found = [(h, diameters(h.type, h.dn)) for h in tables().hoses.values()]
    ranges = [(hose, row) for hose, row in found if row is not None]
    assert len(ranges) >= 6
    for hose, row in ranges:
        assert row.reinforcement_min_mm <= hose.reinforcement_mm <= row.reinforcement_max_mm
        assert hose.outside_mm <= row.outside_max_mm


def test_ends_of_a_standard_bear_what_it_prints_unless_their_maker_says_more() -> None:
    rows = list(tables().connections.values())
    printed = [(row, standard_end(row.name, row.size)) for row in rows]
    of_a_standard = [(row, end) for row, end in printed if end is not None]
    assert len(of_a_standard) >= 20
    for row, end in of_a_standard:
        by_maker = "data sheet" in row.rating_source
        assert by_maker or row.rating_bar == end.working_pressure_bar, row


@pytest.mark.parametrize("row", tables().layouts, ids=lambda row: f"{row.layout} {row.place}")
def test_every_line_bears_its_duty(row: LayoutRow) -> None:
    duty = tables().duties[row.duty]
    assert lowest_bar(row) >= max(duty.pressure_bar, duty.surge_bar)
    assert duty.oil_c <= tables().hoses[row.hose].high_c


@pytest.mark.parametrize("row", tables().layouts, ids=lambda row: f"{row.layout} {row.place}")
def test_oil_runs_no_faster_than_is_usual(row: LayoutRow) -> None:
    duty, bore_mm = tables().duties[row.duty], float(tables().hoses[row.hose].bore_mm)
    limit = PRESSURE_M_PER_S if duty.pressure_bar > LOW_PRESSURE_BAR else RETURN_M_PER_S
    limit = SUCTION_M_PER_S if duty.circuit == "suction" else limit
    assert velocity_m_per_s(row.flow_l_per_min, bore_mm) <= limit * 1.001


def test_suction_hose_is_used_for_suction_and_nothing_else() -> None:
    for row in tables().layouts:
        by_hose = tables().hoses[row.hose].reinforcement == "helix_suction"
        assert by_hose == (tables().duties[row.duty].circuit == "suction"), row


def test_lines_that_nobody_charts_stay_off_steering_and_brakes() -> None:
    unmatched = [row for row in tables().layouts if not tables().hoses[row.hose].chart]
    assert len(unmatched) >= 5
    assert {tables().duties[row.duty].consequence for row in unmatched} <= {"stops", "nuisance"}


def test_a_place_is_named_once_in_a_layout() -> None:
    named = Counter((row.layout, place) for row in tables().layouts for place in row.places)
    assert [place for place, count in named.items() if count > 1] == []


def test_every_machine_has_a_layout() -> None:
    assert {m.layout for m in tables().machines} == {row.layout for row in tables().layouts}


def test_every_demo_log_in_has_a_password_of_its_own() -> None:
    assert len({person.password for person in tables().people}) == len(tables().people)
    assert {person.role for person in tables().people} >= {"planner", "fitter", "manager"}


def test_a_cell_that_does_not_fit_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = "code,name,time_zone,assembler_mark,approves_alone,proof_test,proof_test_one_in\n"
    (tmp_path / "sites.csv").write_text(text + "XX,Nowhere,Europe/London,XX,perhaps,all,1\n")
    monkeypatch.setattr(demo, "folder", lambda: tmp_path)
    with pytest.raises(ValueError, match=r"sites.csv line 2: approves_alone can't be “perhaps”"):
        demo.read("sites", SiteRow)


def test_a_missing_column_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "sites.csv").write_text("code,name\nXX,Nowhere\n")
    monkeypatch.setattr(demo, "folder", lambda: tmp_path)
    with pytest.raises(ValueError, match="the columns should be code, name, time_zone"):
        demo.read("sites", SiteRow)
