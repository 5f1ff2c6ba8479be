"""The check character of a tag against ISO/IEC 7064 MOD 37,36 as others reckon it."""

import random
import string

import pytest
from stdnum.iso7064 import mod_37_36

from assemblies.calc.tags import BODY_ALPHABET, check_character, check_tag, draw_tag

# A12425GABC1234002M is the example of python-stdnum's documentation (a Global Release
# Identifier); the others were reckoned with python-stdnum 2.2.
VALUES = {
    "A12425GABC1234002": "M",
    "B12425GABC1234002": "3",
    "A999914123456": "Y",
    "HA0001": "1",
    "H2024000123": "X",
    "00000000": "Y",
    "0": "2",
    "1": "Z",
    "12": "T",
    "A1": "W",
}


@pytest.mark.parametrize(("body", "check"), VALUES.items())
def test_check_character_is_the_published_one(body: str, check: str) -> None:
    assert check_character(body) == check


def test_check_character_agrees_with_another_library_on_random_bodies() -> None:
    draw = random.Random(20260701)
    for _ in range(2000):
        body = "".join(draw.choices(string.digits + string.ascii_uppercase, k=draw.randint(1, 20)))
        assert check_character(body) == mod_37_36.calc_check_digit(body)


def test_every_drawn_tag_is_valid_by_the_other_library() -> None:
    draw = random.Random(1)
    for _ in range(300):
        tag = draw_tag(draw.choice)
        assert mod_37_36.is_valid(tag)
        assert check_tag(tag) == tag


# ISO/IEC 7064: a hybrid system finds every single wrong character.
def test_every_single_wrong_character_is_found() -> None:
    draw = random.Random(2)
    for _ in range(30):
        tag = draw_tag(draw.choice)
        for place in range(len(tag)):
            for sign in set(BODY_ALPHABET) - {tag[place]}:
                with pytest.raises(ValueError, match="not a tag"):
                    check_tag(tag[:place] + sign + tag[place + 1 :])


# ISO/IEC 7064: nearly every swap of neighbours is found (2913 of 2918 in a trial of ours).
def test_nearly_every_swap_of_neighbours_is_found() -> None:
    draw = random.Random(3)
    tried = missed = 0
    for _ in range(500):
        tag = draw_tag(draw.choice)
        for place in range(len(tag) - 1):
            swapped = tag[:place] + tag[place + 1] + tag[place] + tag[place + 2 :]
            if swapped != tag:
                tried += 1
                missed += mod_37_36.is_valid(swapped)
    assert tried > 3000
    assert missed / tried < 0.005
