"""Date codes against a published example of marking, and calendars reckoned by others."""

import calendar
from datetime import date, timedelta

import pytest

from assemblies.calc.datecodes import parse_assembly_mark, parse_day, parse_layline


# A dealer's page on the marking of hoses and assemblies (EN 853, DIN 20066) gives both examples:
# XXX/EN 853/2SN/DN 10/2Q16, and XXX/330bar/1606 "for June 2016"; DN 10 is also 3/8 and size 06.
def test_published_layline_is_read() -> None:
    line = parse_layline("XXX/EN 853/2SN/DN 10/2Q16")
    assert (line.maker, line.standard, line.type) == ("XXX", "EN 853", "2SN")
    assert line.size is not None
    assert (line.size.inch, line.size.dash) == ("3/8", 6)
    assert line.hose_made is not None
    assert (line.hose_made.earliest, line.hose_made.latest) == (date(2016, 4, 1), date(2016, 6, 30))
    assert line.ambiguous == ()


def test_published_assembly_mark_is_june_2016() -> None:
    mark = parse_assembly_mark("1606")
    assert (mark.earliest, mark.latest) == (date(2016, 6, 1), date(2016, 6, 30))


# Common practice, no published source: patterns met on hoses and assemblies.
@pytest.mark.parametrize(
    ("code", "first_day"),
    [("1 Q/05", date(2005, 1, 1)), ("A2Q80", date(1980, 4, 1)), ("2Q21", date(2021, 4, 1))],
)
def test_quarter_codes_met_in_the_trade_count_from_the_first_day(
    code: str, first_day: date
) -> None:
    assert parse_day(code).earliest == first_day


# Common practice, no published source: one maker prints 07/10 for October 2007.
def test_year_first_code_of_one_maker_is_never_guessed() -> None:
    line = parse_layline("XXX/EN 857/2SC/DN 12/07/10")
    assert line.hose_made is None
    assert {str(reading) for reading in line.date_readings} == {"Oct 2007", "Jul 2010"}
    assert str(parse_day("07/10", pattern="year-month")) == "Oct 2007"


# The proleptic Gregorian calendar, as the standard library's calendar module reckons it.
@pytest.mark.parametrize("year", [1999, 2000, 2001, 2004, 2020, 2021, 2024])
def test_last_day_of_february_follows_the_leap_years(year: int) -> None:
    last = 29 if calendar.isleap(year) else 28
    assert parse_day(f"{last:02}/02/{year}", order="dmy").earliest == date(year, 2, last)
    assert parse_day(f"Feb {year}").latest == date(year, 2, last)
    with pytest.raises(ValueError, match=r"February .* has"):
        parse_day(f"{last + 1:02}/02/{year}", order="dmy")


# ISO 8601: week 1 holds the year's first Thursday. 2015 and 2020 have 53 weeks, 2016 has 52;
# 4 January 2021 is the Monday of week 1, 28 December 2020 that of week 53.
def test_iso_weeks_begin_on_the_monday_of_the_standard() -> None:
    assert parse_day("2021-W01").earliest == date(2021, 1, 4)
    assert parse_day("2020-W53").earliest == date(2020, 12, 28)
    assert parse_day("2015-W53").latest == date(2016, 1, 3)
    with pytest.raises(ValueError, match="2016 has no week 53"):
        parse_day("2016-W53")


def test_every_quarter_covers_its_days_and_no_other() -> None:
    day = date(1996, 1, 1)
    while day.year < 2006:
        quarter = parse_day(f"{(day.month + 2) // 3}Q{day.year}")
        assert quarter.earliest <= day <= quarter.latest
        assert quarter.earliest.day == 1
        assert (quarter.latest + timedelta(days=1)).day == 1
        day += timedelta(days=13)
