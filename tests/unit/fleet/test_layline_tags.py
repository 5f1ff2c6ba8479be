"""What templates write numbers, days and marks with."""

import datetime as dt
from decimal import Decimal

import pytest

from fleet.templatetags import layline

TODAY = dt.date(2026, 3, 9)


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (Decimal("12450.50"), "12\u202f450.5"),
        (Decimal("100"), "100"),
        (1_000_000, "1\u202f000\u202f000"),
        (Decimal("-3.0"), "\u22123"),
        (0, "0"),
        (None, "–"),
    ],
)
def test_numbers_are_grouped_and_keep_only_their_digits(value: object, shown: str) -> None:
    assert layline.number(value) == shown


def test_a_number_of_stated_places_keeps_them() -> None:
    assert layline.number(Decimal("8"), 1) == "8.0"


def test_a_day_is_unambiguous_and_machine_readable() -> None:
    assert layline.day(TODAY) == '<time class="whole" datetime="2026-03-09">9 Mar 2026</time>'


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (0, "today"),
        (1, "in 1 day"),
        (20, "in 20 days"),
        (21, "in 3 weeks"),
        (-69, "9 weeks over"),
        (-70, "2 months over"),
        (729, "in 24 months"),
        (-730, "2 years over"),
    ],
)
def test_the_span_to_a_day_in_words(days: int, words: str) -> None:
    assert layline.span_from(TODAY + dt.timedelta(days=days), TODAY) == words


@pytest.mark.parametrize(
    ("since", "words"),
    [
        (dt.date(2026, 3, 9), "0 d"),
        (dt.date(2026, 2, 10), "27 d"),
        (dt.date(2026, 2, 9), "1 mo"),
        (dt.date(2024, 3, 10), "1 y 11 mo"),
        (dt.date(2024, 3, 9), "2 y"),
        (dt.date(2026, 3, 10), "–"),
    ],
)
def test_an_age_counts_whole_months(since: dt.date, words: str) -> None:
    assert layline.age(since, TODAY) == words


def test_every_state_has_a_shape_of_the_sprite() -> None:
    from django.template.loader import get_template

    sprite = get_template("fleet/parts/sprite.html").render()
    assert all(f'<symbol id="{shape}"' in sprite for _, shape, _ in layline.STATES.values())


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Built 2021-05-14 + 6 years.", "Built 14\u00a0May\u00a02021 + 6 years."),
        ("8,979.0 h of 1,200,000 h", "8\u202f979.0 h of 1\u202f200\u202f000 h"),
        ("code 2021-13-40, 1,20", "code 2021-13-40, 1,20"),
    ],
)
def test_a_sentence_is_written_in_the_hand_of_the_pages(text: str, shown: str) -> None:
    assert layline.written(text) == shown
