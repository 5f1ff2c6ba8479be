"""Bands: the least first, then as many whole as can be, then what is wanted."""

import random

import pytest

from fleet.pdf.bands import Band, beside, put_first, share_out, stack
from fleet.pdf.pen import Box


def band(least: float, whole: float, wanted: float) -> Band:
    return Band(least, whole, wanted, lambda box: None)


def test_gives_all_that_is_wanted_where_there_is_room() -> None:
    assert share_out([band(1, 2, 3), band(4, 5, 6)], 20) == [3, 6]


def test_makes_as_many_whole_as_the_room_allows() -> None:
    assert share_out([band(5, 9, 9), band(5, 6, 6), band(5, 7, 7)], 18) == [5, 6, 7]


@pytest.mark.parametrize("seed", range(50))
def test_never_gives_more_than_there_is_nor_less_than_the_least(seed: int) -> None:
    rng = random.Random(seed)
    bands = []
    for _ in range(rng.randrange(1, 12)):
        least, whole, wanted = sorted(rng.uniform(0, 20) for _ in range(3))
        bands.append(band(least, whole, wanted))
    height = rng.uniform(0, 250)
    given = share_out(bands, height)
    assert sum(given) <= height + 1e-6 or height > sum(b.wanted for b in bands)
    if sum(b.least for b in bands) <= height:
        for got, asked in zip(given, bands, strict=True):
            assert asked.least - 1e-9 <= got <= asked.wanted + 1e-9


def test_stacks_add_up_and_neighbours_take_the_highest() -> None:
    assert stack([band(1, 2, 3), band(4, 5, 6)]).whole == 7
    assert beside([band(1, 2, 9), band(4, 5, 6)], 2).wanted == 9


def test_columns_share_the_width_and_leave_the_gap() -> None:
    left, right = Box(10, 0, 100, 5).columns([1, 3], 4)
    assert (left.w, right.x, right.right) == (24, 38, 110)


def test_puts_a_band_first_as_far_as_there_is_room_and_never_past_its_whole() -> None:
    tall = band(5, 20, 30)
    assert [put_first(tall, spare).least for spare in (-3.0, 0.0, 10.0, 99.0)] == [5, 5, 15, 20]
