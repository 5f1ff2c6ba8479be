"""The test certificate as printed: what it says, that all of it stands, what is refused."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cache

import pytest

from assemblies.calc.certificate import CertificateContent, ToolLine, from_json, to_json
from assemblies.calc.certificate_words import tool_words
from assemblies.pdf.certificate import draw_certificate
from fleet.pdf.frame import SIZES
from fleet.pdf.pen import Placed
from tests.paper_reading import PageRead, codes, pictures, read_pages, squeeze
from tests.unit.assemblies.certificate_samples import BUILT, LINK, by_trial, everyday, worst
from tests.unit.assemblies.paper_checks import astray, covered, cut_off, not_printed, pen_boxes

D = Decimal
SAMPLES: dict[str, Callable[[], CertificateContent]] = {
    "everyday": everyday,
    "by trial": by_trial,
    "worst": worst,
}
every_sample = pytest.mark.parametrize("name", list(SAMPLES))
every_size = pytest.mark.parametrize("size", list(SIZES))


@cache
def drawn(name: str, size: str) -> tuple[CertificateContent, list[Placed], list[PageRead]]:
    content, log = SAMPLES[name](), list[Placed]()
    pdf = draw_certificate(content, page=SIZES[size], log=log)
    return content, log, read_pages(pdf)


@every_size
@every_sample
def test_prints_every_text_and_figure_and_covers_nothing(name: str, size: str) -> None:
    content, log, pages = drawn(name, size)
    assert not_printed(content, log, pages) == []
    assert astray(log, pages) == []
    assert cut_off(log, pages) == []
    assert covered(pages) == []


@every_size
@pytest.mark.parametrize("name", ["everyday", "by trial"])
def test_is_one_page_where_texts_are_of_common_length(name: str, size: str) -> None:
    assert len(drawn(name, size)[2]) == 1


def said(name: str) -> list[str]:
    return [placed.text.replace("\u00a0", " ") for placed in drawn(name, "a4")[1]]


def test_says_pressure_proof_gauge_readings_and_people() -> None:
    texts = said("everyday")
    assert "160 bar" in texts
    assert "hose 215 bar; end A 160 bar; end B 345 bar. Binds: end A" in texts
    assert "322 bar held 60 s, asked 320 bar or more: no leak, PASSED" in texts
    assert "M 1, gauge 0 to 600 bar, calibrated 2026-01-07, due 2027-01-07" in texts
    assert texts.count("30.38  30.42  30.40") == 2
    assert {"Made by, 2026-11-25", "R. Aldous", "Signed by, 2026-11-25", "M. Okafor"} <= set(texts)


def test_says_a_matched_basis_by_its_chart_and_an_unmatched_one_plainly() -> None:
    assert "published: the maker's chart 7, edition 2025, names all three" in said("everyday")
    assert not any("UNMATCHED" in text for text in said("everyday"))
    unmatched = "UNMATCHED: no published chart names these parts together; crimped by trial: "
    assert any(text.startswith(unmatched) for text in said("by trial"))
    assert "End B · UNMATCHED: no published chart names these parts together" in said("by trial")


def test_shows_amendments_beside_and_names_the_certificate_before_it() -> None:
    texts = said("by trial")
    assert "2026-11-26, M. Okafor: The reel is R-2232. Reason: Misread." in texts
    assert "BQ 30 of 2026-11-25" in texts


def test_asks_to_check_every_standard_it_names() -> None:
    judged = next(text for text in said("everyday") if text.startswith("Working pressure, the"))
    assert "SAE J343, ISO 6605" in judged
    asked = [line.endswith("check against your copy and the maker's data") for line in
             judged.split("\n")]  # fmt: skip
    assert asked == [True, True, True]


def test_says_that_a_calibration_after_the_work_proves_nothing_of_it() -> None:
    later = ToolLine("M 1", "", date(2026, 12, 1), date(2027, 12, 1))
    assert tool_words(later, BUILT) == "M 1, calibrated 2026-12-01, AFTER this work, due 2027-12-01"
    assert tool_words(ToolLine("M 1"), BUILT) == "M 1, no calibration written down"
    assert tool_words(None, BUILT) == "not written down"


def test_has_a_code_that_another_program_reads_and_no_colour() -> None:
    (picture,) = pictures(draw_certificate(everyday()))
    assert codes(picture) == [LINK.upper()]
    red, green, blue = picture.convert("RGB").split()
    assert red.tobytes() == green.tobytes() == blue.tobytes()


def test_has_a_box_for_a_signature(monkeypatch: pytest.MonkeyPatch) -> None:
    found = pen_boxes(
        lambda log: draw_certificate(everyday(), log=log), ("Signature",), monkeypatch
    )
    assert [box.h >= 14 and box.w >= 80 for _, box in found] == [True]


@every_sample
def test_is_drawn_the_same_from_its_stored_form(name: str) -> None:
    content = SAMPLES[name]()
    again = from_json(to_json(content))
    assert again == content
    assert draw_certificate(again) == draw_certificate(content)


def test_sums_to_another_checksum_when_a_reading_changes() -> None:
    base = everyday()
    near = replace(base.ends[0], readings_mm=(D("30.38"), D("30.42"), D("30.41")))
    assert replace(base, ends=(near, base.ends[1])).checksum != base.checksum


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pressure": replace(everyday().pressure, working_bar=None)}, "states a working pressure"),
        ({"pressure": replace(everyday().pressure, working_bar=D(400))}, "proves nothing"),
        ({"people": ()}, "names who signed"),
    ],
)
def test_refuses_a_content_that_certifies_nothing(change: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(everyday(), **change)  # type: ignore[arg-type]  # fields of many kinds


def test_refuses_a_proof_below_what_was_asked_and_an_end_without_readings() -> None:
    base = everyday()
    with pytest.raises(ValueError, match="below the 320 bar asked"):
        replace(base.proof, held_bar=D(319))
    with pytest.raises(ValueError, match="End A has no readings"):
        replace(base.ends[0], readings_mm=())


def test_keeps_the_heading_of_its_amendments_with_the_first_of_them() -> None:
    for size in SIZES:
        pages = drawn("worst", size)[2]
        heading, first = squeeze("Added to the signed record"), squeeze("Amendment 2026-11-26")
        (held,) = [page for page in pages if heading in page.text]
        assert first in held.text.split(heading)[1]
