"""The hose tables against other prints of the same figures, and against one another."""

from decimal import Decimal
from itertools import pairwise

import pytest

from assemblies.standards import tables

# A public hydraulics handbook (in Vietnamese; its table is taken from a distributor's catalogue):
# working pressure bar and bend radius mm by dash size.
DASH_TO_DN = {3: 5, 4: 6, 5: 8, 6: 10, 8: 12, 10: 16, 12: 19, 16: 25, 20: 31, 24: 38, 32: 51}
HANDBOOK = {
    "1SN": "3 250 90, 4 225 100, 5 215 115, 6 180 130, 8 160 180, 10 130 200, 12 105 240, "
    "16 88 300, 20 63 420, 24 50 500, 32 40 630",
    "2SN": "3 415 90, 4 400 100, 5 350 115, 6 330 130, 8 275 180, 10 250 200, 12 215 240, "
    "16 165 300, 20 125 420, 24 90 500, 32 80 630",
    "4SP": "4 450 150, 6 445 180, 8 415 230, 10 350 250, 12 350 300, 16 280 340, 20 210 460, "
    "24 185 560, 32 165 660",
    "4SH": "12 420 280, 16 380 340, 20 325 460, 24 290 560, 32 250 700",
}
# The same handbook, SAE J517: 100R12 and 100R13, bar as converted there from psi.
SAE_PRINTS = {
    "R12": "6 275, 8 275, 10 275, 12 275, 16 275, 20 210, 24 175, 32 175",
    "R13": "12 345, 16 345, 20 345, 24 345, 32 345",
}


def rows(text: str) -> list[list[int]]:
    return [[int(figure) for figure in row.split()] for row in text.split(",")]


@pytest.mark.parametrize("hose_type", HANDBOOK)
def test_pressures_and_radii_are_those_of_the_handbook(hose_type: str) -> None:
    for dash, bar, radius_mm in rows(HANDBOOK[hose_type]):
        dn = DASH_TO_DN[dash]
        pressure, bend = tables.hose_pressure(hose_type, dn), tables.bend_radius(hose_type, dn)
        assert pressure is not None
        assert bend is not None
        assert pressure.working_pressure_bar == bar
        assert bend.bend_radius_mm == radius_mm


@pytest.mark.parametrize("hose_type", HANDBOOK)
def test_the_handbook_and_the_table_have_the_same_sizes(hose_type: str) -> None:
    sizes = {DASH_TO_DN[row[0]] for row in rows(HANDBOOK[hose_type])}
    assert {r.dn for r in tables.hose_pressures() if r.type == hose_type} == sizes
    assert {r.dn for r in tables.hose_bend_radii() if r.type == hose_type} == sizes


@pytest.mark.parametrize("hose_type", SAE_PRINTS)
def test_bar_prints_are_within_two_per_cent_of_the_sae_prints(hose_type: str) -> None:
    for dash, bar in rows(SAE_PRINTS[hose_type]):
        row = tables.hose_pressure(hose_type, DASH_TO_DN[dash])
        assert row is not None
        assert abs(row.working_pressure_bar - bar) <= bar * Decimal("0.02")


# A dealer's page on marking gives 330 bar for an assembly of 2SN DN 10 hose.
def test_2sn_dn10_carries_the_330_bar_of_a_published_marking() -> None:
    row = tables.hose_pressure("2SN", 10)
    assert row is not None
    assert row.working_pressure_bar == 330


# EN 857 compact hose carries the pressure of EN 853 hose of as many braids (derived relation),
# and bends no wider at any size; EN 853 ST is SN with a thicker cover (clause 3).
@pytest.mark.parametrize(
    ("same", "hose_type"), [("1SN", "1SC"), ("2SN", "2SC"), ("1SN", "1ST"), ("2SN", "2ST")]
)
def test_sister_types_carry_the_same_pressure(same: str, hose_type: str) -> None:
    for row in (r for r in tables.hose_pressures() if r.type == hose_type):
        sister, bend = tables.hose_pressure(same, row.dn), tables.bend_radius(hose_type, row.dn)
        wider = tables.bend_radius(same, row.dn)
        assert sister is not None
        assert bend is not None
        assert wider is not None
        assert row.working_pressure_bar == sister.working_pressure_bar
        assert bend.bend_radius_mm <= wider.bend_radius_mm


# Hoop stress: at one construction the pressure falls and the bend radius grows with the bore.
@pytest.mark.parametrize("hose_type", sorted({row.type for row in tables.hose_pressures()}))
def test_pressure_never_grows_and_radius_never_shrinks_with_size(hose_type: str) -> None:
    pressures = [r.working_pressure_bar for r in tables.hose_pressures() if r.type == hose_type]
    radii = [r.bend_radius_mm for r in tables.hose_bend_radii() if r.type == hose_type]
    assert len(pressures) == len(radii) > 4
    assert all(one >= other for one, other in pairwise(pressures))
    assert all(one <= other for one, other in pairwise(radii))


# More wire carries more: 2SN above 1SN, 4SP above 2SN, 4SH above 4SP at every size they share.
@pytest.mark.parametrize(("weaker", "stronger"), [("1SN", "2SN"), ("2SN", "4SP"), ("4SP", "4SH")])
def test_more_reinforcement_carries_more_pressure(weaker: str, stronger: str) -> None:
    shared = [r for r in tables.hose_pressures() if r.type == stronger]
    pairs = [(r, tables.hose_pressure(weaker, r.dn)) for r in shared]
    found = [(r, w) for r, w in pairs if w is not None]
    assert len(found) >= 5
    assert all(r.working_pressure_bar > w.working_pressure_bar for r, w in found)


# EN 853:1996 prints (from memory, verify): burst is four times the rating rounded down to 50 bar,
# proof half the burst: so neither is an exact multiple of the rating.
def test_printed_burst_and_proof_hang_together() -> None:
    prints = {(r.type, r.dn, r.test): r.printed_bar for r in tables.hose_test_pressures()}
    assert len(prints) == 9
    for (hose_type, dn, test), printed in prints.items():
        row = tables.hose_pressure(hose_type, dn)
        assert row is not None
        burst = row.working_pressure_bar * 4 // 50 * 50
        assert printed == (burst if test == "burst" else burst / 2)
    assert prints["2SN", 5, "burst"] != 4 * 415


# From memory, verify: the ranges at least follow the sizes and fit inside the cover.
def test_diameters_grow_with_size_and_fit_under_the_cover() -> None:
    found = tables.hose_diameters()
    assert all(r.reinforcement_min_mm < r.reinforcement_max_mm < r.outside_max_mm for r in found)
    assert all(a.reinforcement_max_mm < b.reinforcement_min_mm for a, b in pairwise(found))
    assert all(row.source.is_unverified for row in found)


# Scopes of EN 853, EN 856 and EN 857:2015 in a standards body's catalogue: -40 to 100 °C, R12 and
# R13 to 120 °C; water-based -40 to 70 °C; water 0 to 70 °C.
def test_temperatures_are_those_of_the_scopes() -> None:
    ranges = {(r.type, r.fluid): (r.min_c, r.max_c) for r in tables.hose_temperatures()}
    for hose_type in {r.type for r in tables.hose_pressures()}:
        assert ranges[hose_type, "oil"] == (-40, 120 if hose_type in {"R12", "R13"} else 100)
        assert ranges[hose_type, "water-based"] == (-40, 70)
        assert ranges[hose_type, "water"] == (0, 70)
