"""Text for paper: nothing lost, nothing wider than its box."""

import random
import unicodedata

import pytest

from fleet.pdf.fonts import face_of, width_pt
from fleet.pdf.text import IN_THE_RECORD, LEADING, Signs, fit, readable, shorten, wrap

MARKUP = [
    *("R2AT<SC> crimp", "use <seal> kit", "P&ID", "fit <b clamp", "a < b > c", "&lt;", "&#65;"),
    *("</para>", "<img src='x'/>", '"quoted"', "100 % & more"),
]


@pytest.mark.parametrize("text", MARKUP)
def test_takes_markup_for_signs_as_any_other(text: str) -> None:
    assert readable(text) == text


def test_composes_accents() -> None:
    assert readable("e\u0301") == "é"
    assert unicodedata.is_normalized("NFC", readable("Żo\u0142\u0301"))


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("a\x00b\x07c", "abc"),
        ("a\tb", "a b"),
        ("a\r\nb\rc\u2028d", "a\nb\nc\nd"),
        ("so\u00adft", "soft"),
        ("a\u202eb", "a[U+202E]b"),
        ("x\ud800y", "x[U+D800]y"),
        ("\U0001d11e", "[U+1D11E]"),
        ("a\u3000b", "a b"),
    ],
)
def test_drops_control_signs_and_shows_what_it_cannot_draw(typed: str, shown: str) -> None:
    assert readable(typed) == shown


def test_says_which_signs_are_missing_and_which_not_joined() -> None:
    signs = Signs()
    readable("plain Ж", signs)
    assert signs.words() == ""
    readable("\U0001d11e", signs)
    assert "no typeface on this computer has" in signs.words()
    readable("שלום", signs)
    assert "neither joined nor turned" in signs.words()


def test_draws_latin_greek_and_cyrillic_with_its_own_faces() -> None:
    for sign in "AzßØÅŁžőİΩλψЖщЁґ°±−×–″≤≥…■▲Ø":
        for bold in (False, True):
            face = face_of(sign, bold=bold)
            assert face is not None
            assert face.name.startswith("Layline")


def random_text(rng: random.Random) -> str:
    signs = "abcdefgh   -/._<>&ЖщωÅ机器機ホ1234567890\u0301W"
    return "".join(rng.choice(signs) for _ in range(rng.randrange(1, 120)))


@pytest.mark.parametrize("seed", range(60))
def test_wraps_without_losing_a_sign_or_passing_the_width(seed: int) -> None:
    rng = random.Random(seed)
    text = readable(random_text(rng))
    width, size = rng.uniform(15, 300), rng.uniform(5, 14)
    lines = wrap(text, size, width)
    assert "".join("".join(lines).split()) == "".join(text.split())
    for line in lines:
        assert width_pt(line, size) <= width or len(line) == 1
        # An accent begins a line only where it was typed after a space or at the start.
        assert not line or not unicodedata.combining(line[0]) or f" {line[0]}" in f" {text}"


def test_breaks_a_long_word_after_a_sign_that_allows_it() -> None:
    assert wrap("H-3B-19-R2AT/on-F-61-90-19", 8, 70)[0].endswith(("-", "/"))


@pytest.mark.parametrize("seed", range(40))
def test_fits_a_box_or_says_that_it_did_not(seed: int) -> None:
    rng = random.Random(seed)
    text = readable(random_text(rng) * rng.randrange(1, 4))
    width, height = rng.uniform(20, 200), rng.uniform(6, 60)
    fitted = fit(text, 9, 5.5, width, height)
    assert fitted.height_pt <= height + 0.02
    assert 5.5 <= fitted.size_pt <= 9
    if fitted.whole:
        assert "".join("".join(fitted.lines).split()) == "".join(text.split())
    elif fitted.lines:
        assert fitted.lines[-1].endswith("…") or fitted.lines[-1] == ""


def test_takes_the_largest_size_that_fits() -> None:
    text = "one two three four five six"
    fitted = fit(text, 9, 5.5, 60, 18)
    larger = fitted.size_pt + 0.5
    assert fitted.size_pt < 9
    assert len(wrap(text, larger, 60)) * larger * LEADING > 18


def test_cuts_a_text_no_paper_should_carry_and_says_where_the_rest_is() -> None:
    long = "x" * 7_000
    assert shorten(long) == "x" * 6_000 + IN_THE_RECORD
    assert shorten("x" * 6_000) == "x" * 6_000
