"""The cited tables: a row without its source is refused, and unverified rows are counted."""

from dataclasses import fields
from pathlib import Path

import pytest

from assemblies.standards import tables
from assemblies.standards.sources import Mark, Source, TableError, read_table

HEAD = "dn,document,edition,mark,confirmed_by,note\n"
ROW = "12,EN 853,2015,seen,second source,a note\n"


def table(folder: Path, text: str) -> Path:
    (folder / "one.csv").write_text(text, encoding="utf-8")
    return folder


def test_a_full_row_is_read_with_its_source(tmp_path: Path) -> None:
    (row,) = read_table("one.csv", folder=table(tmp_path, HEAD + ROW))
    assert row.whole("dn") == 12
    assert row.source == Source("EN 853", "2015", Mark.SEEN, "second source", "a note")
    assert str(row.source) == "EN 853, 2015"


@pytest.mark.parametrize(
    "column", [field.name for field in fields(Source)], ids=lambda name: f"without {name}"
)
def test_refuses_a_row_without_a_part_of_its_source(tmp_path: Path, column: str) -> None:
    cells = dict(zip(HEAD.strip().split(","), ROW.strip().split(","), strict=True))
    text = ",".join("" if name == column else cell for name, cell in cells.items())
    with pytest.raises(TableError, match=f"one.csv line 2: {column} is missing"):
        read_table("one.csv", folder=table(tmp_path, HEAD + text + "\n"))


def test_refuses_a_table_without_a_source_column(tmp_path: Path) -> None:
    text = "dn,document,edition,mark,note\n12,EN 853,2015,seen,a note\n"
    with pytest.raises(TableError, match="confirmed_by is missing"):
        read_table("one.csv", folder=table(tmp_path, text))


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("12,EN 853,2015,guessed,second source,a note\n", "the mark must be one of seen, memory"),
        ("12,EN 853,2015,seen,second source\n", "not as many cells"),
        ("12,EN 853,2015,seen,second source,a note,more\n", "not as many cells"),
    ],
)
def test_refuses_a_row_that_does_not_fit(tmp_path: Path, row: str, words: str) -> None:
    with pytest.raises(TableError, match=words):
        read_table("one.csv", folder=table(tmp_path, HEAD + row))


@pytest.mark.parametrize(
    ("cell", "words"),
    [("", "nothing stands"), ("x", "not a number"), ("1.5", "not a whole number")],
)
def test_refuses_a_cell_that_is_no_whole_number(tmp_path: Path, cell: str, words: str) -> None:
    (row,) = read_table("one.csv", folder=table(tmp_path, HEAD + ROW.replace("12", cell, 1)))
    with pytest.raises(TableError, match=f"line 2: .*{words}"):
        row.whole("dn")


def test_every_table_of_the_folder_is_read_and_counted() -> None:
    folder = Path(tables.__file__).parent
    assert sorted(path.stem for path in folder.glob("*.csv")) == sorted(tables.TABLES)


def test_unverified_rows_are_counted_as_the_files_have_them() -> None:
    folder = Path(tables.__file__).parent
    for name, count in tables.unverified_counts().items():
        lines = (folder / f"{name}.csv").read_text(encoding="utf-8").splitlines()
        assert count == sum(",unverified," in line for line in lines)
    assert sum(tables.unverified_counts().values()) == 85


def test_a_figure_seen_or_remembered_is_no_check_of_itself() -> None:
    for name, sources in tables.sources_by_table().items():
        for source in sources:
            named = source.confirmed_by.startswith(("second source: ", "derived: "))
            assert source.is_unverified or named, f"{name}: {source.confirmed_by}"


def test_no_row_names_an_address() -> None:
    for sources in tables.sources_by_table().values():
        for source in sources:
            words = f"{source.document} {source.confirmed_by} {source.note}".casefold()
            assert not any(sign in words for sign in ("http", "www.", ".com", ".de/"))


def test_every_row_with_a_type_has_a_type_that_is_known() -> None:
    known = {row.type for row in tables.hose_types()}
    assert {row.type for row in tables.hose_pressures()} <= known
    assert {row.type for row in tables.hose_bend_radii()} <= known
    assert {row.type for row in tables.hose_diameters()} <= known
    assert {row.type for row in tables.hose_test_pressures()} <= known
    assert {row.type for row in tables.hose_temperatures()} <= known
    assert {row.type for row in tables.length_changes()} <= known


def test_every_dn_of_the_hose_tables_is_a_size() -> None:
    sizes = {row.dn for row in tables.sizes()}
    assert {row.dn for row in tables.hose_pressures()} <= sizes
    assert {row.dn for row in tables.hose_bend_radii()} <= sizes
    assert {row.dn for row in tables.hose_diameters()} <= sizes


def test_no_type_and_size_stands_twice() -> None:
    for rows in (tables.hose_pressures(), tables.hose_bend_radii(), tables.hose_diameters()):
        assert len({(row.type, row.dn) for row in rows}) == len(rows)
    assert len({(row.end, row.size) for row in tables.end_ratings()}) == len(tables.end_ratings())


def test_a_figure_that_is_not_printed_is_none() -> None:
    assert tables.hose_pressure("4SP", 8) is None
    assert tables.bend_radius("4SH", 12) is None
    assert tables.diameters("1SN", 12) is None
    assert tables.end_rating("24° cone L", "16") is None
