"""An end in the catalogue is found by the tables' end, however its size is written."""

import pytest

from assemblies.calc.thread_names import end_of, is_end
from assemblies.standards import tables
from assemblies.standards.rows import FlangeHead, ThreadRow

TRADE = {
    "24° cone L": "DKOL",
    "24° cone S": "24° cone, heavy",
    "37° cone": "JIC",
    "flat-face": "ORFS",
    "BSP 60° cone": "BSPP",
    "NPT": "NPT",
    "BSP taper": "BSPT",
    "BSP 30° cone": "BSP 30° cone",
    "45° cone": "SAE 45° flare",
}


@pytest.mark.parametrize("row", tables.threads(), ids=lambda row: f"{row.end} {row.size}")
def test_every_end_is_found_by_size_by_thread_and_by_both(row: ThreadRow) -> None:
    series = row.end[-1] if row.tube_mm else ""
    written = {row.thread, row.thread.replace("x", "×"), f"{series}{row.size}"}
    if row.tube_mm or row.size.startswith("-"):
        written.add(f"{series}{row.size} {row.thread}")
    for text in written:
        hits = [
            (one.end, one.size)
            for one in tables.threads()
            if is_end(TRADE[row.end], text, end=one.end, size=one.size)
        ]
        assert hits == [(row.end, row.size)], text


@pytest.mark.parametrize("row", tables.flange_heads(), ids=lambda row: f"{row.end} {row.size}")
def test_every_flange_is_found_in_any_notation(row: FlangeHead) -> None:
    name = f"SAE {row.end.removeprefix('flange ')}"
    for text in (row.size, f'{row.size}"'):
        assert is_end(name, text, end=row.end, size=row.size)
    other = "flange code 62" if row.end.endswith("61") else "flange code 61"
    assert not is_end(name, row.size, end=other, size=row.size)


@pytest.mark.parametrize(
    ("connection", "written"), [("DKOL", "L22 M36×2"), ("JIC", "x"), ("magic", "-8"), ("", "")]
)
def test_what_fits_nothing_is_found_nowhere(connection: str, written: str) -> None:
    assert not any(
        is_end(connection, written, end=row.end, size=row.size) for row in tables.threads()
    )
    assert end_of("magic") == ""
