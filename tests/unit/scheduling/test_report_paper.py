"""The report on paper: every figure, row and study whole, nothing covered, in any writing."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleet.pdf.frame import A4, SIZES
from fleet.pdf.pen import Placed
from fleet.pdf.text import readable
from scheduling.calc.charts.bars import Bar, Limits, Month, limits_scene, months_scene, pareto_scene
from scheduling.calc.report import Column, Figure, Picture, ReportContent, Row, Study, Table
from scheduling.pdf.report import draw_report
from tests.paper_reading import off_page, overlaps, read_pages, squeeze, struck_out

D = Decimal
LONG = "Карьер «Медвежья гора», участок № 3, экскаваторы, погрузчики и буровые станки"
CAUSES = [
    *("abrasion", "bend too tight", "twist", "tension", "impact", "heat", "cold", "age"),
    *("over-pressure or spikes", "impulse fatigue", "wrong insertion or crimp", "corrosion"),
    *("parts not matched", "fluid against tube", "erosion", "torque or seat or seal"),
    *("wrong part fitted", "unknown"),
]
DAYS = dt.date(2025, 3, 10), dt.date(2026, 3, 9)


def figure(n: int) -> Figure:
    return Figure(
        f"f{n}",
        f"Failures per 1,000 machine hours of {LONG[: 20 + 3 * n]}",
        D("123456789.12"),
        "money" if n % 3 == 0 else "h",
        2,
        D("103456789.12"),
        D("163456789.12"),
        formula="From the first to the last accepted reading of each machine in the period, "
        "carried to its edges at the same pace; " + LONG,
        note="No change from the period before can be told from chance (0.41 to 1.93 times).",
    )


def table(key: str, title: str, heads: list[str], rows: int) -> Table:
    columns = (
        Column("Seen"),
        *(Column(head, "l" if n == 0 else "", 1) for n, head in enumerate(heads)),
    )
    cells: list[Row] = [
        Row(
            (f"{n}. {LONG}", *(D(n * 1000 + k) if (n + k) % 4 else None for k in range(len(heads))))
        )
        for n in range(rows)
    ]
    return Table(key, title, columns, tuple(cells), "Nothing failed.")


def pictures() -> tuple[Picture, ...]:
    months = [Month(f"{n}. 26", (12.0 * n, 3.0)) for n in range(1, 13)]
    bars = [Bar(words, len(CAUSES) - n) for n, words in enumerate(CAUSES)]
    limits = [Limits(f"from {n} Mar 25", 0.4 * n, 0.1 * n, 1.1 * n) for n in range(1, 5)]
    return (
        Picture(
            "months",
            "Hours down",
            months_scene(months, ["unplanned", "planned"], unit="h", title="Down"),
        ),
        Picture("causes", LONG, pareto_scene(bars, unit="failures", title="Causes")),
        Picture("rates", "Rates", limits_scene(limits, unit="in 1,000 h", title="Rates")),
    )


def content() -> ReportContent:
    return ReportContent(
        title="Failures and time down",
        scope=f"{LONG}; {LONG}; {LONG}: class {LONG}",
        from_on=DAYS[0],
        to_on=DAYS[1],
        made_on=DAYS[1],
        currency="EUR",
        figures=tuple(figure(n) for n in range(11)),
        tables=(
            table("causes", "Failures by cause", ["Failures", "Share", "Share so far"], 18),
            table("modes", "What was seen", [*CAUSES[9:15], "All"], 13),
            table("worst", "Positions that failed most", ["Oil lost"], 70),
        ),
        pictures=pictures(),
        studies=(Study(LONG, DAYS[1], (LONG * 3, "They wear out."), pictures()[:1]),),
        warnings=("Only 2 failures in this period: " + LONG, LONG),
    )


def nothing() -> ReportContent:
    empty = Figure(
        "rate", "Failures per 1,000 machine hours", None, why="No machine hour is known."
    )
    tables = (Table("causes", "Failures by cause", (Column("Cause"),), (), "Nothing failed."),)
    down = pictures()[:1]
    return replace(
        content(), figures=(empty,), tables=tables, pictures=down, studies=(), warnings=()
    )


@pytest.mark.parametrize("size", list(SIZES))
@pytest.mark.parametrize("told", [content(), nothing()], ids=["longest", "nothing"])
def test_prints_everything_whole_and_covers_nothing(told: ReportContent, size: str) -> None:
    log = list[Placed]()
    pages = read_pages(draw_report(told, page=SIZES[size], log=log))
    for placed in log:
        assert placed.whole, placed.text
        assert pages[placed.page - 1].text_in(placed.box) == squeeze(readable(placed.text))
    for page in pages:
        assert (overlaps(page), struck_out(page), off_page(page, 8.7)) == ([], [], [])
    printed = {placed.text for placed in log}
    assert {told.title, *(one.words for one in told.figures), *told.warnings} <= printed
    for one in told.tables:
        assert one.title in printed
        assert {row.cells[0] for row in one.rows} <= printed
        assert one.rows or one.empty in printed


def test_a_figure_that_can_t_be_said_says_why() -> None:
    (page, *_) = read_pages(draw_report(nothing()))
    assert "notknown" in page.text
    assert "Nomachinehourisknown." in page.text


def test_a_long_table_has_its_heads_on_every_page() -> None:
    log = list[Placed]()
    draw_report(replace(content(), tables=content().tables[2:], pictures=(), studies=()), log=log)
    rows = {placed.page for placed in log if placed.text.startswith(("1. ", "69. "))}
    heads = {placed.page for placed in log if placed.text == "Oil lost, l"}
    assert len(rows) == 2
    assert rows <= heads


def test_the_same_report_gives_the_same_bytes() -> None:
    assert draw_report(content(), page=A4) == draw_report(content(), page=A4)
