"""Own tags: how they are drawn, and how a typed one is read."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assemblies.calc.tags import (
    BODY_ALPHABET,
    NO_CHECK,
    NotATag,
    check_character,
    check_tag,
    draw_tag,
)

TAG = draw_tag(random.Random(5).choice)


def test_a_tag_has_eight_characters_none_of_them_easily_confused() -> None:
    draw = random.Random(11)
    for _ in range(500):
        tag = draw_tag(draw.choice)
        assert len(tag) == 8
        assert not set(tag) & set("IOQ")
        assert tag[-1] not in NO_CHECK


def test_a_body_whose_check_character_would_confuse_is_drawn_anew() -> None:
    confusing = next(
        body
        for body in (f"{number:07}" for number in range(1000))
        if check_character(body) in NO_CHECK
    )
    good = TAG[:7]
    signs = iter(confusing + good)
    assert draw_tag(lambda _: next(signs)) == TAG
    assert next(signs, None) is None


def test_refuses_a_chooser_that_never_gives_a_tag() -> None:
    confusing = next(sign for sign in BODY_ALPHABET if check_character(sign * 7) in NO_CHECK)
    with pytest.raises(ValueError, match="no issuable tag in 1000 draws"):
        draw_tag(lambda _: confusing)


def test_refuses_a_chooser_that_leaves_the_alphabet() -> None:
    with pytest.raises(ValueError, match="characters of no tag"):
        draw_tag(lambda _: "O")


@pytest.mark.parametrize(
    "typed", [TAG, TAG.lower(), f" {TAG[:4]}-{TAG[4:]} ", " ".join(TAG), f"\ufeff{TAG}\u200b"]
)
def test_a_tag_is_read_however_it_is_spaced(typed: str) -> None:
    assert check_tag(typed) == TAG


@given(st.randoms(use_true_random=False))
def test_o_for_zero_and_i_for_one_read_as_the_tag_that_was_meant(source: random.Random) -> None:
    tag = draw_tag(source.choice)
    assert check_tag(tag.replace("0", "O").replace("1", "I")) == tag
    assert check_tag(tag.replace("0", "o").replace("1", "i")) == tag


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "has 8 characters, this has 0"),
        (TAG[:7], "has 8 characters, this has 7"),
        (TAG + "A", "has 8 characters, this has 9"),
        ("Q" + TAG[1:], "Q is never in a tag"),
        ("Ж" + TAG[1:], "Ж is never in a tag"),
        (TAG[:7] + ("2" if TAG[7] != "2" else "3"), "check character [23] does not fit"),
    ],
)
def test_refuses_what_is_no_tag_and_says_why(typed: str, words: str) -> None:
    with pytest.raises(NotATag, match=f"^not a tag: .*{words}"):
        check_tag(typed)


def test_never_says_what_the_check_character_should_have_been() -> None:
    wrong = TAG[:7] + ("2" if TAG[7] != "2" else "3")
    with pytest.raises(NotATag) as refused:
        check_tag(wrong)
    assert TAG[7] not in str(refused.value).replace(TAG[:7], "").split("character ")[1][:1]


def test_refuses_a_tag_that_is_right_by_the_sum_but_is_never_issued() -> None:
    body = next(
        body for body in (f"{number:07}" for number in range(1000)) if check_character(body) == "1"
    )
    with pytest.raises(NotATag, match="check character 1 does not fit"):
        check_tag(body + "1")


@given(st.text(max_size=20))
def test_any_text_is_a_tag_or_is_refused(text: str) -> None:
    try:
        tag = check_tag(text)
    except NotATag:
        return
    assert check_tag(tag) == tag
