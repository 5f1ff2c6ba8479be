"""Groups side by side: each against all the others, drawn toward them, few numbers said."""

import pytest

from scheduling.calc.life.comparison import Group, side_by_side
from scheduling.calc.life.rates import compare_rates, poisson_rate, shrink_rates
from scheduling.calc.life.records import p_words

GROUPS = [Group("a", 12, 1000.0), Group("b", 3, 4000.0), Group("c", 4, 3000.0)]


def test_rates_are_per_thousand_hours_with_exact_limits() -> None:
    line = side_by_side(GROUPS).lines[0]
    exact = poisson_rate(12, 1000.0)
    assert line.rate is not None
    assert (line.rate.rate, line.rate.low, line.rate.high) == (
        12.0,
        1000 * exact.low,
        1000 * exact.high,
    )


def test_a_group_is_set_against_all_the_others_and_not_against_itself() -> None:
    found = compare_rates((12, 1000.0), (7, 7000.0))
    assert p_words(found.p_value) in side_by_side(GROUPS).lines[0].against


def test_the_rates_are_drawn_as_the_published_estimate_draws_them() -> None:
    lines = side_by_side(GROUPS).lines
    drawn = shrink_rates([12, 4, 3], [1000.0, 3000.0, 4000.0]).rates * 1000
    assert [line.drawn for line in lines] == pytest.approx(list(drawn))
    assert drawn[0] < 12
    assert drawn[2] > 0.75


def test_a_group_without_hours_has_no_rate_and_weighs_nothing() -> None:
    found = side_by_side([*GROUPS, Group("d", 9, 0.0)])
    (line,) = (one for one in found.lines if one.key == "d")
    assert (line.rate, line.stands_out) == (None, 0)
    assert "No hour at risk" in line.against
    assert found.all_of_them is not None
    assert found.all_of_them.events == 19


def test_two_groups_lend_each_other_nothing() -> None:
    assert [line.drawn for line in side_by_side(GROUPS[:2]).lines] == [None, None]


@pytest.mark.parametrize(
    ("groups", "sentence"),
    [
        ([Group("a", 3, 10.0)], "one group only"),
        ([Group("a", 0, 10.0), Group("b", 0, 10.0)], "Nothing failed in this period"),
        (GROUPS, "2 of them had fewer than 5 failures"),
        (
            [Group(str(n), 9, 10.0) for n in range(40)],
            "about 2 would still stand out by chance alone",
        ),
        (GROUPS, "one look in 7 would still show one"),
    ],
)
def test_what_to_beware_of_is_said(groups: list[Group], sentence: str) -> None:
    assert sentence in " ".join(side_by_side(groups).beware)


def test_no_group_at_all_is_nothing() -> None:
    found = side_by_side([])
    assert (found.lines, found.all_of_them, found.beware) == ((), None, ())


def test_groups_beyond_those_told_still_count_among_the_others() -> None:
    found = side_by_side(GROUPS, most=1)
    assert (len(found.lines), found.more) == (1, 2)
    assert found.lines == side_by_side(GROUPS).lines[:1]


def test_where_the_others_never_failed_the_ratio_has_no_upper_end() -> None:
    line = side_by_side([Group("a", 9, 100.0), Group("b", 0, 900.0)]).lines[0]
    assert "any number of times" in line.against
    assert line.stands_out == 1
