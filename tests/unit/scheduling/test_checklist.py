"""The checklist against the list that the documents agree on (design sources named beside it)."""

import datetime as dt

from scheduling.calc.checklist import CHECKLIST, TAKE_OUT, WEEP, at_once, is_milder, judged

TODAY = dt.date(2026, 3, 9)
# DIN 20066, DGUV Regel 113-020 and SAE J1273 agree on these, one word of each.
AGREED = (
    *("wire", "brittle", "cracked", "deformed", "blistered", "crushed", "kinked", "twisted"),
    *("body", "crimp", "end damaged", "creeping", "corrosion that weakens", "limits"),
)


def test_takes_out_all_that_the_documents_agree_on() -> None:
    words = " ".join(item.words for item in TAKE_OUT)
    assert [one for one in AGREED if one not in words] == []
    assert {item.verdict for item in TAKE_OUT} == {"out_now"}


def test_a_weep_is_stopped_and_sealed_never_tightened_harder() -> None:
    found = judged(WEEP, TODAY)
    assert found is not None
    assert (found.verdict, found.by_on) == ("recheck", TODAY)
    for words in ("Stop", "pressure out", "seal and seat", "torque", "Never tighten harder"):
        assert words in at_once(WEEP)


def test_every_item_fits_a_findings_column_and_stands_once() -> None:
    words = [item.words for item in CHECKLIST]
    assert len(set(words)) == len(words)
    assert max(map(len, words)) <= 40


def test_what_has_no_verdict_of_its_own_is_left_to_the_person() -> None:
    assert judged("something else", TODAY) is None
    assert not is_milder("keep", "something else")
    assert is_milder("replace", "twisted")
    assert not is_milder("out_now", "twisted")
