"""People's names for columns."""

import pytest

from assemblies.calc.register.columns import match_columns, match_header
from assemblies.calc.register.fields import Field
from assemblies.calc.register.words import EXACT


@pytest.mark.parametrize(
    ("header", "field", "unit"),
    [
        ("Tag No.", "tag", ""),
        ("WP (psi)", "pressure", "psi"),
        ("Working Pressure [bar]", "pressure", "bar"),
        ("Max. WP, MPa", "pressure", "MPa"),
        ("Length mm", "length", "mm"),
        ("LÄNGE (mm)", "length", "mm"),
        ("Longueur (m)", "length", "m"),
        ("Size", "size", ""),
        ("Dash", "size", "dash"),
        ("DN", "size", "dn"),
        ("NW", "size", "dn"),
        ('Hose size "', "size", "inch"),
        ("ID mm", "size", "mm"),
        ("Hose ID", "tag", ""),
        ("Date fitted", "fitted", ""),
        ("Hours @ fitting", "fitted_hours", ""),
        ("SMU", "hours_now", ""),
        ("Hours read on", "hours_on", ""),
        ("Last inspected", "inspected", ""),
        ("Maschinen-Nr.", "machine", ""),
        ("Einbauort", "place", ""),
        ("Betriebsdruck bar", "pressure", "bar"),
        ("Date de montage", "fitted", ""),
        ("Machine serial no.", "machine_serial", ""),
        ("N° de série", "tag", ""),
        ("Presión (bar)", "pressure", "bar"),
        ("Máquina", "machine", ""),
        ("  where   fitted ", "place", ""),
    ],
)
def test_knows_peoples_own_names(header: str, field: str, unit: str) -> None:
    match = match_header(header)
    assert match is not None
    assert (match.field, match.unit) == (field, unit)


@pytest.mark.parametrize(
    "header",
    [
        "Next inspection due",
        "Test pressure bar",
        "Qty",
        "No.",
        "Colour",
        "Date",
        "Hours mm",
        "x" * 200,
    ],
)
def test_leaves_other_names_alone(header: str) -> None:
    assert match_header(header) is None


def test_every_known_name_means_one_field() -> None:
    names = [name for phrases in EXACT.values() for name in map(str.split, phrases.split("|"))]
    joined = [" ".join(name) for name in names]
    assert len(joined) == len(set(joined))


def test_a_name_that_comes_twice_is_read_once_and_says_so() -> None:
    columns = match_columns(["Tag", "Fitted", "Date fitted"])
    assert columns[2].field is None
    assert columns[2].why == "an earlier column is read as “fitted on”"


def test_the_better_name_wins_wherever_it_stands() -> None:
    columns = match_columns(["Description", "Position", "Type", "Hose type"])
    assert [c.field for c in columns] == [None, Field.PLACE, None, Field.HOSE_TYPE]


def test_two_columns_of_one_end_are_both_read() -> None:
    columns = match_columns(["End A type", "End A thread", "End B"])
    assert [c.field for c in columns] == [Field.END_A, Field.END_A, Field.END_B]


def test_a_column_chosen_by_hand_comes_first() -> None:
    columns = match_columns(["Tag", "Colour"], by_hand={Field.TAG: [1]})
    assert [c.field for c in columns] == [None, Field.TAG]
    assert columns[0].why == "another column was chosen by hand"


def test_a_bare_make_is_the_machines_only_beside_a_model() -> None:
    assert [c.field for c in match_columns(["Machine", "Make"])] == [Field.MACHINE, None]
    beside = match_columns(["Machine", "Make", "Model"])
    assert beside[1].field is Field.MACHINE_MAKER


def test_a_serial_number_is_the_hoses_only_where_no_better_tag_stands() -> None:
    assert match_columns(["Serial no", "Machine"])[0].field is Field.TAG
    assert [c.field for c in match_columns(["Serial no", "Tag"])] == [None, Field.TAG]
