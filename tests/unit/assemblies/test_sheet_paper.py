"""The build sheet as printed: every input stands on it, whole, and nothing covers anything."""

from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any

import pytest

from assemblies.calc.sheet import SheetContent
from assemblies.pdf.build_sheet import draw_build_sheet
from fleet.pdf import fonts
from fleet.pdf.frame import A4, LETTER, MARGIN_MM, SIZES
from fleet.pdf.pen import Box, Pen, Placed
from fleet.pdf.text import readable
from tests.paper_reading import PageRead, off_page, overlaps, read_pages, squeeze, struck_out
from tests.unit.assemblies.sheet_samples import (
    eight_sleeves,
    everyday,
    oriented,
    trial_sheet,
    without_recipe,
    worst,
)

SAMPLES: dict[str, Callable[[], SheetContent]] = {
    "everyday": everyday,
    "worst": worst,
    "trial": trial_sheet,
    "eight sleeves": eight_sleeves,
    "without a recipe": without_recipe,
    "turned 0": lambda: oriented("0"),
    "turned 20": lambda: oriented("20"),
    "turned 90": lambda: oriented("90"),
    "turned 135": lambda: oriented("135"),
    "turned 270": lambda: oriented("270"),
    "turned 350": lambda: oriented("350"),
    "short and fat": lambda: oriented("180", length="260", outside="68"),
    "long and thin": lambda: oriented("45", length="24000", outside="13.4"),
}
COMMON = [name for name in SAMPLES if name not in ("worst", "eight sleeves")]
every_sample = pytest.mark.parametrize("name", list(SAMPLES))
every_size = pytest.mark.parametrize("size", list(SIZES))


@cache
def drawn(name: str, size: str) -> tuple[SheetContent, list[Placed], list[PageRead]]:
    content, log = SAMPLES[name](), list[Placed]()
    pdf = draw_build_sheet(content, page=SIZES[size], log=log)
    return content, log, read_pages(pdf)


def leaves(value: object) -> Iterator[object]:
    """Every text and figure of a content."""
    if is_dataclass(value):
        for field in fields(value):
            if not field.name.endswith("_link"):
                yield from leaves(getattr(value, field.name))
    elif isinstance(value, tuple):
        for item in value:
            yield from leaves(item)
    elif isinstance(value, str | Decimal) and not isinstance(value, Enum):
        yield value


def printed(log: list[Placed], pages: list[PageRead]) -> str:
    """What the reader finds in the boxes whose text stands whole."""
    found = [(p.page, pages[p.page - 1].text_in(p.box)) for p in log if p.whole]
    # From the second page on a long text stands line by line.
    return "".join(text + ("\n" if page == 1 else "") for page, text in found)


@every_size
@every_sample
def test_prints_every_text_and_figure_of_its_content(name: str, size: str) -> None:
    content, log, pages = drawn(name, size)
    text = printed(log, pages)
    for leaf in leaves(content):
        if isinstance(leaf, str):
            assert squeeze(readable(leaf)) in text, leaf
        else:
            shown = f"{leaf:f}".replace("-", "−")
            short = shown.rstrip("0").rstrip(".") if "." in shown else shown
            assert shown in text or short in text, leaf


@every_size
@pytest.mark.parametrize("name", ["worst", "trial"])
def test_has_its_alerts_whole_on_its_first_page(name: str, size: str) -> None:
    content, log, _ = drawn(name, size)
    told = "\n".join(f"▲ {alert}" for alert in content.alerts)
    assert told in {placed.text for placed in log if placed.page == 1 and placed.whole}


@every_size
@every_sample
def test_prints_each_text_in_its_own_box(name: str, size: str) -> None:
    _, log, pages = drawn(name, size)
    for placed in log:
        found = pages[placed.page - 1].text_in(placed.box)
        asked = squeeze(readable(placed.text))
        if placed.whole:
            assert found == asked
        else:
            assert asked.startswith(found.removesuffix("…nextpage")), placed.text


@every_size
@every_sample
def test_prints_what_did_not_fit_on_the_next_page(name: str, size: str) -> None:
    _, log, pages = drawn(name, size)
    later = "".join(page.text for page in pages[1:])
    for placed in log:
        if not placed.whole:
            assert squeeze(readable(placed.text)) in later, placed.text


@every_size
@every_sample
def test_covers_no_sign_with_another_or_with_a_line(name: str, size: str) -> None:
    _, _, pages = drawn(name, size)
    for page in pages:
        assert overlaps(page) == []
        assert struck_out(page) == []
        assert off_page(page, MARGIN_MM - 0.3) == []


@every_size
@pytest.mark.parametrize("name", COMMON)
def test_fits_one_page_where_names_are_of_common_length(name: str, size: str) -> None:
    assert len(drawn(name, size)[2]) == 1


@every_size
def test_gives_the_same_bytes_for_the_same_content(size: str) -> None:
    first, second = (draw_build_sheet(worst(), page=SIZES[size]) for _ in range(2))
    assert first == second


def test_gives_other_bytes_for_another_figure() -> None:
    changed = replace(everyday(), need_by=None)
    assert draw_build_sheet(changed) != draw_build_sheet(everyday())


def test_is_drawn_the_same_from_its_stored_form() -> None:
    from assemblies.calc.sheet import from_json, to_json

    assert draw_build_sheet(from_json(to_json(worst()))) == draw_build_sheet(worst())


def test_says_in_words_that_an_end_has_no_recipe_and_gives_no_figure() -> None:
    _, log, pages = drawn("without a recipe", "a4")
    text = printed(log, pages)
    assert "NOCRIMPRECIPE.DONOTCRIMPTHISEND." in text
    assert text.count("CRIMPOD") == 1, "one end has its figures, the other none"
    assert "B OD 1".replace(" ", "") not in text


def test_marks_a_trial_recipe_as_unmatched() -> None:
    _, _, pages = drawn("trial", "a4")
    assert "UNMATCHED:nopublishedchart" in pages[0].text


def test_prints_the_answer_expected_of_the_pin() -> None:
    assert "pinmustENTER,anddid" in drawn("everyday", "a4")[2][0].text
    assert "pinmustREFUSE,anddid" in drawn("trial", "a4")[2][0].text


@pytest.mark.parametrize("name", ["everyday", "worst"])
def test_has_boxes_a_pen_can_write_in(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    boxes: list[Box] = []
    plain = Pen.rectangle

    def watch(self: Pen, box: Box, *args: Any, **kwargs: Any) -> None:
        boxes.append(box)
        plain(self, box, *args, **kwargs)

    monkeypatch.setattr(Pen, "rectangle", watch)
    log: list[Placed] = []
    draw_build_sheet(SAMPLES[name](), log=log)
    written_in = ("A OD", "B OD", "B oval", "Held", "Built by")
    labels = [p for p in log if p.page == 1 and p.text.startswith(written_in)]
    assert labels
    for label in labels:
        box = next(box for box in boxes if box.h < 20 and _holds(box, label.box))
        assert box.w >= 12
        assert box.bottom - label.box.bottom >= 5.5


def _holds(outer: Box, inner: Box) -> bool:
    across = outer.x < inner.x and inner.right < outer.right
    return across and outer.y < inner.y < outer.bottom


def test_uses_no_colour() -> None:
    import zlib

    pdf = draw_build_sheet(worst())
    streams = [part.split(b"endstream")[0] for part in pdf.split(b"stream\n")[1:]]
    drawn_code = b""
    for stream in streams:
        try:
            drawn_code += zlib.decompress(stream)
        except zlib.error:
            continue
    assert b" re" in drawn_code
    words = drawn_code.split()
    assert not {b"rg", b"RG", b"k", b"K", b"cs", b"scn"} & set(words)


def test_prints_ideographs_or_their_code_points_and_says_so() -> None:
    _, _, pages = drawn("worst", "a4")
    if fonts.face_of("机"):
        assert "请先检查接头" in pages[0].text
    else:
        assert "[U+8BF7][U+5148]" in pages[0].text
        assert "notypefaceonthiscomputer" in pages[0].text


def test_prints_code_points_where_the_host_has_no_face(monkeypatch: pytest.MonkeyPatch) -> None:
    from fleet.pdf import text

    monkeypatch.setattr(fonts, "host_faces", lambda: ())
    monkeypatch.setattr(text, "_SHOWN", text._Shown())
    fonts._face_of.cache_clear()
    try:
        page = read_pages(draw_build_sheet(worst()))[0].text
    finally:
        fonts._face_of.cache_clear()
    assert "[U+8BF7][U+5148]" in page
    assert "asignthatnotypefaceonthiscomputerhas" in page


def test_keeps_the_properties_of_the_paper() -> None:
    pdf = draw_build_sheet(everyday(), page=LETTER)
    assert b"/Title (Build sheet LX-0412 rev 3" in pdf
    assert everyday().checksum.encode() in pdf
    assert draw_build_sheet(everyday(), page=A4) != pdf
