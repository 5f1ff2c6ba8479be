"""Laylines taken apart."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assemblies.calc.datecodes import parse_layline

TODAY = date(2026, 7, 1)


@pytest.mark.parametrize(
    ("text", "maker", "standard", "hose_type", "dn", "made"),
    [
        ("…/EN 853/2SN/DN 10/2Q16", None, "EN 853", "2SN", 10, "quarter 2 of 2016"),
        ("AB/EN853/2SN/DN12/W.P. 275 BAR/1 Q/05", "AB", "EN 853", "2SN", 12, "quarter 1 of 2005"),
        ("AB Werk EN 856 4SP DN 19 WP 350 BAR (5000 PSI) 3Q2019", "AB Werk", "EN 856", "4SP", 19,
         "quarter 3 of 2019"),
        ('AB SAE 100R2AT 1/2" WP 4000 PSI A2Q80', "AB", None, "R2AT", 12, "quarter 2 of 1980"),
        ('EN ISO 1436 2SN 3/8" -6 DN10 05/2019', None, "EN ISO 1436", "2SN", 10, "May 2019"),
        ("AB DIN EN 853 2SN 1 1/4 DN31 2021-04-03", "AB", "DIN EN 853", "2SN", 31, "3 Apr 2021"),
        ("AB/1SN/-8/1Q20", "AB", None, "1SN", 12, "quarter 1 of 2020"),
        ('ab 2sn 1/2" iso 1436-1:2009 Q2-21', "ab", "ISO 1436-1:2009", "2SN", 12,
         "quarter 2 of 2021"),
    ],
)  # fmt: skip
def test_a_layline_gives_its_parts(
    text: str, maker: str | None, standard: str | None, hose_type: str, dn: int, made: str
) -> None:
    line = parse_layline(text, latest_on=TODAY)
    assert (line.maker, line.standard, line.type) == (maker, standard, hose_type)
    assert line.size is not None
    assert (line.size.dn, str(line.hose_made), line.ambiguous) == (dn, made, ())


def test_a_dash_on_tube_named_hose_gives_no_size() -> None:
    line = parse_layline("AB SAE 100R5 -8 2Q16")
    assert line.size is None
    assert line.ambiguous == ("“-8” on R5 hose names the tube, not the bore.",)


def test_two_sizes_and_two_dates_are_left_open_with_a_sentence_each() -> None:
    line = parse_layline("AB 2SN 1/2 DN10 2Q16 3Q17")
    assert (line.size, line.hose_made) == (None, None)
    assert "two sizes" in line.ambiguous[0]
    assert "more than one date" in line.ambiguous[1]
    assert len(line.date_readings) == 2


@pytest.mark.parametrize("code", ["07/10", "1606"])
def test_a_doubtful_date_code_is_left_open_with_its_readings(code: str) -> None:
    line = parse_layline(f"AB/EN 857/2SC/DN 12/{code}", latest_on=TODAY)
    assert line.hose_made is None
    assert line.date_readings
    assert code in line.ambiguous[0]


def test_a_date_after_today_is_left_open() -> None:
    line = parse_layline("AB/EN 856/4SH/DN 25/2Q28", latest_on=TODAY)
    assert line.hose_made is None
    assert "is after 2026-07-01" in line.ambiguous[0]


def test_a_line_with_nothing_known_names_no_maker() -> None:
    line = parse_layline("XYZ")
    assert (line.maker, line.size, line.hose_made, line.ambiguous) == (None, None, None, ())


@given(st.text(max_size=80))
def test_any_text_is_taken_apart_without_an_error(text: str) -> None:
    assert parse_layline(text, latest_on=TODAY).typed == text.strip()


@given(
    st.sampled_from(["1SN", "2SN", "4SP", "4SH", "2SC"]),
    st.sampled_from([6, 10, 12, 19, 25]),
    st.integers(1, 4),
    st.integers(0, 25),
)
def test_a_written_layline_is_read_back(kind: str, dn: int, quarter: int, year: int) -> None:
    line = parse_layline(f"AB/EN 853/{kind}/DN {dn}/{quarter}Q{year:02}", latest_on=TODAY)
    assert (line.maker, line.type, line.ambiguous) == ("AB", kind, ())
    assert line.size is not None
    assert line.size.dn == dn
    assert line.hose_made is not None
    assert line.hose_made.earliest == date(2000 + year, 3 * quarter - 2, 1)
