"""Typed dates and date codes: what is read, what is asked about, and what is refused."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assemblies.calc.datecodes import (
    AmbiguousDate,
    DateError,
    DayRange,
    FutureDate,
    NoSuchDay,
    Order,
    parse_assembly_mark,
    parse_day,
    pattern_examples,
)

TODAY = date(2026, 7, 1)
DAYS = st.dates(date(1960, 1, 1), date(2059, 12, 31))


@pytest.mark.parametrize(
    "text",
    [
        "2021-04-13", "20210413", "2021/4/13", "2021-04-13 00:00:00", "2021-04-13T23:30:00Z",
        "13/04/2021", "13.4.2021", "04/13/2021", "13 Apr 2021", "13. April 2021", "13-Apr-21",
        "Apr 13, 2021", "April 13th 2021", "2021-Apr-13", "13 avr. 2021", "13 de abril de 2021",
        "１３ Apr 2021", "13 April '21",
    ],
)  # fmt: skip
def test_one_day_is_read_however_it_is_written(text: str) -> None:
    found = parse_day(text, latest_on=TODAY)
    assert (found.earliest, found.latest, found.precision) == (
        date(2021, 4, 13),
        date(2021, 4, 13),
        "day",
    )


@pytest.mark.parametrize(
    ("text", "earliest", "latest", "precision"),
    [
        ("May 2022", date(2022, 5, 1), date(2022, 5, 31), "month"),
        ("Mai 2022", date(2022, 5, 1), date(2022, 5, 31), "month"),
        ("mayo de 2022", date(2022, 5, 1), date(2022, 5, 31), "month"),
        ("März 2021", date(2021, 3, 1), date(2021, 3, 31), "month"),
        ("Ma\u0308rz 2021", date(2021, 3, 1), date(2021, 3, 31), "month"),
        ("févr. 2024", date(2024, 2, 1), date(2024, 2, 29), "month"),
        ("dic 2020", date(2020, 12, 1), date(2020, 12, 31), "month"),
        ("05/2022", date(2022, 5, 1), date(2022, 5, 31), "month"),
        ("2022-05", date(2022, 5, 1), date(2022, 5, 31), "month"),
        ("May-22", date(2022, 5, 1), date(2022, 5, 31), "month"),
        ("2Q21", date(2021, 4, 1), date(2021, 6, 30), "quarter"),
        ("1 Q/05", date(2005, 1, 1), date(2005, 3, 31), "quarter"),
        ("Q4 2021", date(2021, 10, 1), date(2021, 12, 31), "quarter"),
        ("2021-Q2", date(2021, 4, 1), date(2021, 6, 30), "quarter"),
        ("2. Quartal 2021", date(2021, 4, 1), date(2021, 6, 30), "quarter"),
        ("A2Q80", date(1980, 4, 1), date(1980, 6, 30), "quarter"),
        ("2016-W23", date(2016, 6, 6), date(2016, 6, 12), "week"),
        ("KW 23/2016", date(2016, 6, 6), date(2016, 6, 12), "week"),
        ("2019", date(2019, 1, 1), date(2019, 12, 31), "year"),
    ],
)
def test_a_coarser_date_keeps_its_first_and_last_day(
    text: str, earliest: date, latest: date, precision: str
) -> None:
    found = parse_day(text, latest_on=TODAY)
    assert (found.earliest, found.latest, found.precision) == (earliest, latest, precision)


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("03/04/2021", {"3 Apr 2021", "4 Mar 2021"}),
        ("03.04.2021", {"3 Apr 2021", "4 Mar 2021"}),
        ("13/04/21", {"13 Apr 2021", "21 Apr 2013"}),
        ("16/06/15", {"16 Jun 2015", "15 Jun 2016"}),
        ("07/10", {"Oct 2007", "Jul 2010"}),
        ("0710", {"Oct 2007", "Jul 2010"}),
        ("16/06", {"Jun 2016"}),
        ("1606", {"Jun 2016"}),
        ("May 22", {"May 2022"}),
        ("44289", {"3 Apr 2021"}),
        ("99/12/31", {"31 Dec 1999"}),
    ],
)
def test_a_date_that_could_be_another_is_asked_about(text: str, readings: set[str]) -> None:
    with pytest.raises(AmbiguousDate, match=r"could be .*: say which") as refused:
        parse_day(text, latest_on=TODAY)
    assert {str(reading) for reading in refused.value.readings} == readings


@pytest.mark.parametrize(
    ("order", "on"),
    [("dmy", date(2021, 4, 3)), ("mdy", date(2021, 3, 4)), ("ymd", date(2003, 4, 21))],
)
def test_the_agreed_order_settles_three_numbers(order: Order, on: date) -> None:
    assert parse_day("03/04/21", order=order).earliest == on


def test_a_long_year_in_front_stands_above_the_agreed_order() -> None:
    assert parse_day("2021/04/03", order="mdy").earliest == date(2021, 4, 3)


def test_a_cell_against_the_agreed_order_is_refused_not_turned_round() -> None:
    with pytest.raises(DateError, match="no month 13"):
        parse_day("13/04/2021", order="mdy")


@pytest.mark.parametrize(
    ("text", "pattern", "shown"),
    [
        ("07/10", "year-month", "Oct 2007"),
        ("07/10", "month-year", "Jul 2010"),
        ("2316", "week-year", "week 23 of 2016"),
        ("1623", "year-week", "week 23 of 2016"),
        ("May 22", "name-spaced-short-year", "May 2022"),
        ("44289", "day-number", "3 Apr 2021"),
    ],
)
def test_a_person_may_name_the_pattern_of_a_code(text: str, pattern: str, shown: str) -> None:
    assert str(parse_day(text, pattern=pattern)) == shown


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("31/04/2021", "April 2021 has 30 days, not 31"),
        ("29/02/2021", "February 2021 has 28 days .2021 is no leap year., not 29"),
        ("29 Feb 2021", "no leap year"),
        ("29/02/21", "no leap year"),
        ("02/30/2021", "February 2021 has 28 days, not 30"),
    ],
)
def test_a_day_its_month_does_not_have_is_refused_with_the_number_it_has(
    text: str, words: str
) -> None:
    with pytest.raises(NoSuchDay, match=words):
        parse_day(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "cannot be read as a date"),
        ("today", "cannot be read as a date"),
        ("22-May", "cannot be read as a date"),
        ("5Q21", "no quarter 5"),
        ("2016-W54", "2016 has no week 54"),
        ("13/14/2021", "no month 14"),
        ("2021-13-01", "no month 13"),
        ("1900-01-00", "1900 is outside"),
        ("2316", "2316 is outside"),
        ("3 Brumaire 2021", "“brumaire” is no month"),
    ],
)
def test_refuses_what_is_no_date(text: str, words: str) -> None:
    with pytest.raises(DateError, match=words):
        parse_day(text)


@pytest.mark.parametrize("text", ["2026-07-02", "Aug 2026", "4Q26", "2027", "2Q59"])
def test_refuses_a_date_that_begins_after_the_latest_day(text: str) -> None:
    with pytest.raises(FutureDate, match="is after 2026-07-01"):
        parse_day(text, latest_on=TODAY)


@pytest.mark.parametrize("text", ["2026-07-01", "Jul 2026", "3Q26", "2026"])
def test_a_stretch_that_has_begun_is_no_future(text: str) -> None:
    assert parse_day(text, latest_on=TODAY).earliest <= TODAY


def test_years_run_from_1950_to_2099() -> None:
    assert parse_day("1950").earliest == date(1950, 1, 1)
    assert parse_day("2099").latest == date(2099, 12, 31)
    for text in ("31 Dec 1949", "1 Jan 2100"):
        with pytest.raises(DateError, match="is outside 1950 to 2099"):
            parse_day(text)


@pytest.mark.parametrize(("short", "year"), [("60", 1960), ("80", 1980), ("99", 1999)])
def test_two_figures_from_60_are_the_last_century(short: str, year: int) -> None:
    assert parse_day(f"2Q{short}").earliest.year == year
    assert parse_day("2Q59").earliest.year == 2059


@pytest.mark.parametrize(
    ("mark", "shown"),
    [
        ("1606", "Jun 2016"),
        ("16/06", "Jun 2016"),
        ("16-06", "Jun 2016"),
        ("0616", "Jun 2016"),
        ("2016/06", "Jun 2016"),
        ("06/2016", "Jun 2016"),
        ("2Q16", "quarter 2 of 2016"),
        ("1999", "1999"),
        ("0606", "Jun 2006"),
    ],
)
def test_an_assembly_mark_is_read(mark: str, shown: str) -> None:
    assert str(parse_assembly_mark(mark, latest_on=TODAY)) == shown


@pytest.mark.parametrize(
    ("mark", "readings"),
    [("1206", {"Jun 2012", "Dec 2006"}), ("2012", {"Dec 2020", "2012"})],
)
def test_an_assembly_mark_that_reads_two_ways_is_asked_about(mark: str, readings: set[str]) -> None:
    with pytest.raises(AmbiguousDate) as refused:
        parse_assembly_mark(mark, latest_on=TODAY)
    assert {str(reading) for reading in refused.value.readings} == readings
    assert str(parse_assembly_mark(mark, pattern="year-month")) in readings


def test_refuses_a_pattern_there_is_not_and_a_code_that_does_not_fit_it() -> None:
    with pytest.raises(DateError, match="no date pattern “roman”: they are iso-day"):
        parse_day("2Q21", pattern="roman")
    with pytest.raises(DateError, match=r"not written as year-month \(such as 07/10"):
        parse_day("May 2022", pattern="year-month")


@pytest.mark.parametrize("name", pattern_examples())
def test_every_pattern_reads_its_own_example(name: str) -> None:
    example = pattern_examples()[name].split(" = ")[0]
    assert parse_day(example, pattern=name).pattern == name


@given(DAYS)
def test_a_written_day_is_read_back(on: date) -> None:
    for text in (on.isoformat(), f"{on:%d %b %Y}", f"{on:%B %d, %Y}", f"{on:%d-%b-%y}"):
        assert parse_day(text).earliest == parse_day(text).latest == on
    assert parse_day(f"{on:%d/%m/%Y}", order="dmy").earliest == on
    assert parse_day(f"{on:%m/%d/%y}", order="mdy").earliest == on


@given(DAYS)
def test_every_coarser_date_holds_its_day(on: date) -> None:
    quarter = (on.month + 2) // 3
    week = on.isocalendar()
    texts = [f"{on:%b %Y}", f"{on:%m/%Y}", f"{quarter}Q{on:%y}", str(on.year)]
    for text in [*texts, f"{week.year}-W{week.week:02}"]:
        found = parse_day(text)
        assert found.earliest <= on <= found.latest


@given(DAYS, st.sampled_from(["/", ".", "-", " "]))
def test_three_numbers_are_never_read_as_another_day_than_they_could_be(
    on: date, sign: str
) -> None:
    text = f"{on:%d}{sign}{on:%m}{sign}{on:%Y}"
    try:
        found = [parse_day(text)]
    except AmbiguousDate as refused:
        found = list(refused.readings)
    assert on in [reading.earliest for reading in found]
    assert len(found) == (2 if on.day <= 12 and on.day != on.month else 1)


@settings(max_examples=400)
@given(
    st.text(max_size=30)
    | st.from_regex(r"[a-z]{0,3}[0-9]{0,4}[-/. q]?[0-9a-z]{0,4}[-/. ]?[0-9]{0,4}", fullmatch=True),
    st.sampled_from([None, "dmy", "mdy", "ymd"]),
)
def test_any_text_is_a_date_or_is_refused(text: str, order: Order | None) -> None:
    reads: list[Callable[[], DayRange]] = [
        lambda: parse_day(text, order=order, latest_on=TODAY),
        lambda: parse_assembly_mark(text, latest_on=TODAY),
    ]
    for read in reads:
        try:
            found = read()
        except DateError:
            continue
        assert found.earliest <= found.latest < found.earliest + timedelta(days=367)
        assert found.earliest <= TODAY
