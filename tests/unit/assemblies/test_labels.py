"""Labels: on their places, read by another program, or refused with what would do."""

import random
from dataclasses import replace

import pytest

from assemblies.calc.tags import draw_tag
from assemblies.pdf.labels import (
    STOCKS,
    Label,
    LabelForm,
    LabelRefused,
    LabelSheet,
    LabelStock,
    draw_labels,
)
from fleet.pdf.frame import A4
from fleet.pdf.pen import Placed
from fleet.pdf.text import readable
from tests.paper_reading import codes, overlaps, pictures, read_pages, squeeze

RNG = random.Random(11)
TAGS = [draw_tag(RNG.choice) for _ in range(40)]
SITE = "https://hoses.blackmere.example/t/"


def labels(count: int, *, blank: bool = False) -> tuple[Label, ...]:
    made = [Label(tag, SITE + tag, "BQ") for tag in TAGS[:count]]
    if blank:
        return tuple(made)
    return tuple(
        replace(label, pressure="160 bar", built="2611", length="1200 mm") for label in made
    )


@pytest.mark.parametrize("blank", [False, True])
@pytest.mark.parametrize("name", list(STOCKS))
def test_are_read_by_another_program(name: str, blank: bool) -> None:
    stock = STOCKS[name]
    sheet = LabelSheet("L-1", labels(stock.a_page, blank=blank))
    (picture,) = pictures(draw_labels(sheet, stock), dpi=220)
    assert codes(picture) == sorted(label.link.upper() for label in sheet.labels)


@pytest.mark.parametrize("name", list(STOCKS))
def test_keep_every_text_inside_its_own_label(name: str) -> None:
    stock, log = STOCKS[name], list[Placed]()
    sheet = LabelSheet("L-1", labels(stock.a_page))
    (page,) = read_pages(draw_labels(sheet, stock, log=log))
    assert overlaps(page) == []
    for number, label in enumerate(sheet.labels):
        text = page.text_in(stock.place(number))
        for part in (label.tag, label.mark, label.pressure, label.built, label.length):
            assert squeeze(part) in text
    assert all(placed.whole for placed in log)


@pytest.mark.parametrize("name", list(STOCKS))
def test_carry_what_must_stand_on_the_hose_itself_on_every_stock(name: str) -> None:
    stock, log = STOCKS[name], list[Placed]()
    warnings = ("UNMATCHED", "REPLACE BY", "2026-12-09")
    made = tuple(replace(label, warnings=warnings) for label in labels(stock.a_page))
    (page,) = read_pages(draw_labels(LabelSheet("L-1", made), stock, log=log))
    assert overlaps(page) == []
    assert all(placed.whole for placed in log)
    for number in range(stock.a_page):
        text = page.text_in(stock.place(number))
        assert all(squeeze(words) in text for words in warnings)


def test_print_a_mark_of_another_script_or_its_code_points() -> None:
    stock, log = STOCKS["99.1 × 67.7, 8 a page, A4"], list[Placed]()
    marked = tuple(replace(label, mark="Чёрный 机 🛠 שלום") for label in labels(8))
    (page,) = read_pages(draw_labels(LabelSheet("L-1", marked), stock, log=log))
    assert overlaps(page) == []
    assert squeeze(readable("Чёрный 机 🛠 שלום")) in page.text_in(stock.place(0))
    assert "[U+1F6E0]" in page.text


def test_leave_out_the_places_used_before() -> None:
    stock = STOCKS["70 × 37, 24 a page, A4"]
    pages = read_pages(draw_labels(LabelSheet("", labels(24), skipped=5), stock))
    assert len(pages) == 2
    assert pages[0].text_in(stock.place(4)) == ""
    assert TAGS[0] in pages[0].text_in(stock.place(5))
    assert TAGS[19] in pages[1].text_in(stock.place(0))


def test_stand_twice_on_a_wrap_label_so_that_a_turned_hose_shows_one() -> None:
    stock = STOCKS["50 × 70 wrap, 12 a page, A4"]
    (page,) = read_pages(draw_labels(LabelSheet("", labels(1)), stock))
    assert stock.form is LabelForm.WRAP
    assert page.text.count(TAGS[0][:4]) == 2
    assert all(sign.baseline < (20 + 25) * 72 / 25.4 for sign in page.signs), "the tail is clear"


STOCK = LabelStock(70, 37, 3, 8, 0, 0.5, 70, 37)


@pytest.mark.parametrize(
    ("stock", "words"),
    [
        (replace(STOCK, width_mm=20, height_mm=10), "too small for the tag .* needs 2"),
        (replace(STOCK, height_mm=12.5), "its QR code needs 12.2 mm to be read"),
        (replace(STOCK, columns=4), r"take 280.0 × 296.5 mm .* more than A4 has \(210 × 297 mm\)"),
        (replace(STOCK, pitch_x_mm=60), "overlap: the step to the right"),
        (replace(STOCK, pitch_y_mm=30), "overlap: the step down"),
        (replace(STOCK, rows=0), "at least one column and one row"),
    ],
)
def test_are_refused_with_the_reason(stock: LabelStock, words: str) -> None:
    with pytest.raises(LabelRefused, match=words):
        draw_labels(LabelSheet("", labels(2)), stock)


def test_are_refused_where_a_mark_is_too_long_for_the_label() -> None:
    long = replace(labels(1)[0], mark="Blackmere Aggregates, hose shop " * 3)
    with pytest.raises(LabelRefused, match="with the texts the label needs"):
        draw_labels(LabelSheet("", (long,)), STOCKS["66.7 × 25.4, 30 a page, Letter"])


def test_the_size_named_in_a_refusal_does() -> None:
    with pytest.raises(LabelRefused) as refusal:
        draw_labels(LabelSheet("", labels(1)), replace(STOCK, width_mm=15, height_mm=8))
    wide, high = str(refusal.value).split("the label needs ")[1].split(" mm")[0].split(" × ")
    stock = replace(STOCK, width_mm=float(wide) + 0.1, height_mm=float(high) + 0.1)
    (picture,) = pictures(draw_labels(LabelSheet("", labels(1)), stock), dpi=300)
    assert codes(picture) == [labels(1)[0].link.upper()]


@pytest.mark.parametrize("skipped", [-1, 24])
def test_refuse_to_leave_out_more_places_than_a_page_has(skipped: int) -> None:
    with pytest.raises(LabelRefused, match="a page has 24; say 0 to 23"):
        draw_labels(LabelSheet("", labels(1), skipped=skipped), STOCK)


def test_are_the_same_bytes_for_the_same_tags() -> None:
    sheet = LabelSheet("L-1", labels(30))
    assert draw_labels(sheet, STOCK) == draw_labels(sheet, STOCK)
    assert STOCK.page is A4
