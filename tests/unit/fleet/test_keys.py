from hypothesis import given
from hypothesis import strategies as st

from fleet.calc.keys import text_key


def test_folds_case_width_and_spaces() -> None:
    assert text_key("  ex－０１\u00a0  b ") == "ex-01 b"


def test_a_cyrillic_look_alike_meets_its_latin_twin() -> None:
    assert text_key("СА-1") == text_key("CA-1")


def test_a_word_of_another_script_stays() -> None:
    assert text_key("Экскаватор") == "экскаватор"


def test_unseen_signs_do_not_make_another_text() -> None:
    assert text_key("EX\u200b-0\u202e1") == "ex-01"


@given(st.text())
def test_a_key_is_its_own_key(text: str) -> None:
    assert text_key(text_key(text)) == text_key(text)


@given(st.text(), st.text())
def test_equal_keys_stay_equal_when_a_text_is_added(left: str, right: str) -> None:
    assert text_key(f"{left} {right}") == text_key(f" {left}  {right} ")
