"""The due list on paper: every row of every machine, heads on every page, nothing covered."""

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from fleet.pdf.frame import SIZES
from fleet.pdf.pen import Placed
from fleet.pdf.text import readable
from scheduling.pdf.due_list import DueListContent, DueListMachine, DueListRow, draw_due_list
from tests.paper_reading import off_page, overlaps, read_pages, squeeze, struck_out

ROW = DueListRow(
    position="Boom cylinder left, rod side, upper clamp behind the guard plate",
    tag="4KX7 W2N9",
    hose='2SN DN19 (-12, 3/4") · 1200 mm · 24° cone 22L / flange 61 3/4 <SC> & P&ID',
    early_on=date(2026, 9, 1),
    likely_on=date(2026, 10, 11),
    late_on=None,
    inspect_on=date(2026, 5, 24),
    binds="age from built: 6 years, DIN 20066, site rule 3 revision 2",
    consequence="hurts someone",
    state="overdue",
)


def content(machines: int, rows: int) -> DueListContent:
    rng = random.Random(3)
    made = []
    for m in range(machines):
        day = date(2026, 1, 1) + timedelta(rng.randrange(900))
        lines = tuple(
            replace(ROW, position=f"{ROW.position} {m}-{n}", early_on=day + timedelta(n))
            for n in range(rows)
        )
        made.append(DueListMachine(f"BQ-{m:03d} «Медведь»", "12 450 h on 2026-11-20", lines))
    filtered = "All machines; replace or inspect by 2027-02-25"
    return DueListContent(
        "Blackmere Quarry", date(2026, 11, 25), filtered, "9 overdue", tuple(made), number="D-7"
    )


@pytest.mark.parametrize("size", list(SIZES))
def test_prints_every_row_whole_and_covers_none(size: str) -> None:
    due, log = content(5, 9), list[Placed]()
    pages = read_pages(draw_due_list(due, page=SIZES[size], log=log))
    for placed in log:
        assert placed.whole
        asked = squeeze(readable(placed.text))
        assert pages[placed.page - 1].text_in(placed.box) == asked
    printed = {placed.text for placed in log}
    for machine in due.machines:
        for row in machine.rows:
            assert {row.position, row.hose, row.binds, str(row.early_on)} <= printed
    for page in pages:
        assert (overlaps(page), struck_out(page), off_page(page, 8.7)) == ([], [], [])


def test_repeats_the_heads_and_the_machine_on_every_page() -> None:
    pages = read_pages(draw_due_list(content(1, 60)))
    assert len(pages) > 2
    for page in pages:
        assert "Whatdecidesit" in page.text
    for page in pages[1:]:
        assert "BQ-000«Медведь»,continued" in page.text


def test_says_a_standing_in_words_and_an_unknown_day_as_a_dash() -> None:
    (page,) = read_pages(draw_due_list(content(1, 1)))
    assert "overdue" in page.text
    assert "–" in page.text


def test_says_so_where_nothing_is_due() -> None:
    (page,) = read_pages(draw_due_list(replace(content(1, 1), machines=())))
    assert "Nothingisduebythislist" in page.text


def test_marks_a_text_that_is_too_long_for_a_cell() -> None:
    row = replace(ROW, binds="rule " * 90)
    machine = DueListMachine("BQ-001", "", (row,))
    (page,) = read_pages(draw_due_list(replace(content(1, 1), machines=(machine,))))
    assert "…(intheregister)" in page.text


def test_is_the_same_bytes_for_the_same_rows() -> None:
    assert draw_due_list(content(2, 5)) == draw_due_list(content(2, 5))
