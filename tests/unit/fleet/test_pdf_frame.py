"""The frame of the papers, and the eyes of the tests that read them."""

import pytest

from fleet.pdf import qr
from fleet.pdf.frame import A4, LETTER, Paper, PaperStamp, page_size, short
from fleet.pdf.pen import Box
from tests.paper_reading import codes, off_page, overlaps, pictures, read_pages, struck_out

STAMP = PaperStamp("Paper", "7", "0123456789abcdef" * 4)


def test_counts_its_pages_at_the_foot() -> None:
    paper = Paper(STAMP, A4)
    for _ in range(12):
        paper.new_page()
    pages = read_pages(paper.to_bytes())
    assert "page3of12" in pages[2].text
    assert "page12of12" in pages[11].text


def test_bears_number_and_checksum_on_every_page() -> None:
    paper = Paper(STAMP, LETTER)
    paper.new_page()
    paper.new_page(PaperStamp("Other", "8", "f" * 64))
    first, second = read_pages(paper.to_bytes())
    assert "7·checksum0123-4567-89ab·Paper" in first.text
    assert "8·checksumffff-ffff-ffff·Other" in second.text
    assert short("0123456789abcdef") == "0123-4567-89ab"


def test_keeps_number_and_checksum_where_its_title_is_too_long_for_the_foot() -> None:
    paper = Paper(PaperStamp("Build sheet " + "LX-机" * 40, "BQ 118", "0" * 64), LETTER)
    paper.new_page()
    (page,) = read_pages(paper.to_bytes())
    assert "BQ118·checksum0000-0000-0000·Buildsheet" in page.text
    assert overlaps(page) == []


@pytest.mark.parametrize(("name", "size"), [("a4", A4), (" Letter ", LETTER)])
def test_knows_its_page_sizes_by_name(name: str, size: object) -> None:
    assert page_size(name) is size


def test_names_the_page_sizes_there_are() -> None:
    with pytest.raises(ValueError, match="'A5' is not a paper size here: A4 or Letter"):
        page_size("A5")


def test_sees_an_overlap_a_struck_sign_and_one_in_the_margin() -> None:
    """The checks of the papers can fail."""
    paper = Paper(STAMP, A4)
    pen = paper.new_page()
    pen.text(Box(20, 20, 60, 5), "under", 12)
    pen.text(Box(21, 20.5, 60, 5), "over", 12)
    pen.text(Box(20, 60, 60, 5), "struck", 12)
    pen.line((19, 62.5), (60, 62.5))
    pen.text(Box(2, 100, 60, 5), "margin", 12)
    (page,) = read_pages(paper.to_bytes())
    assert overlaps(page)
    assert {sign for sign, _ in struck_out(page)} == set("struck")
    assert off_page(page, 8)


@pytest.mark.parametrize("seed", range(6))
def test_draws_codes_that_another_program_reads(seed: int) -> None:
    link = f"https://hoses.example/t/4KX7W2N{seed}"
    paper = Paper(STAMP, A4)
    qr.draw(paper.new_page(), Box(30, 30, 14, 14), link)
    (picture,) = pictures(paper.to_bytes(), dpi=200)
    assert codes(picture) == [link.upper()]


def test_writes_links_in_capitals_so_that_the_code_is_small() -> None:
    small = qr.side_in_squares("https://hoses.example/t/4kx7w2n9")
    assert small == 25 + 2 * qr.QUIET


def test_refuses_a_link_that_cannot_be_a_short_code() -> None:
    with pytest.raises(ValueError, match="cannot be a short QR code: it has # Ж"):
        qr.link_text("https://hoses.example/t#Ж")
