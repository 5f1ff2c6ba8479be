"""The hose book: contents by walk-round order, a sheet a specification, an index by name."""

import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest

from assemblies.calc.sheet import SheetContent
from assemblies.pdf.hose_book import BookEntry, BookHead, draw_hose_book
from fleet.pdf.frame import LETTER, SIZES
from fleet.pdf.pen import Placed
from tests.paper_reading import off_page, overlaps, read_pages, squeeze, struck_out
from tests.unit.assemblies.fitting_samples import said
from tests.unit.assemblies.paper_checks import covered, not_printed
from tests.unit.assemblies.sheet_samples import everyday, worst

PLACES = [
    "Tilt cylinder, rod side",
    "Boom cylinder, bore side",
    "Aux line R2AT<SC>",
    "Pump, suction",
]


def head(specs: list[str]) -> BookHead:
    entries = tuple(
        BookEntry(str(n), f"{PLACES[n % 4]} {n}", "working", "4KX7W2N9", spec)
        for n, spec in enumerate(specs, 1)
    )
    return BookHead("BQ-014 wheel loader", "Blackmere Quarry", date(2026, 11, 25), entries, "B-3")


def sheets(*codes: str) -> Iterator[SheetContent]:
    for code in codes:
        yield replace(everyday(), spec_code=code)


def book(specs: list[str], *codes: str, size: str = "a4") -> bytes:
    out = io.BytesIO()
    draw_hose_book(head(specs), sheets(*codes), out, page=SIZES[size])
    return out.getvalue()


def test_names_the_page_of_each_sheet_in_contents_and_index() -> None:
    specs = ["LX-1 rev 3", "LX-2 rev 3", "LX-1 rev 3", ""]
    contents, first, second, index = read_pages(book(specs, "LX-1", "LX-2"))
    assert "LX-1rev32" in contents.text
    assert "LX-2rev33" in contents.text
    assert "LX-1rev3" in first.text
    assert "LX-2rev3" in second.text
    assert "nospecificationyet" in contents.text
    assert "LX-2rev33" in index.text


def test_keeps_the_walk_round_order_in_its_contents_and_the_names_order_in_its_index() -> None:
    contents, *_, index = read_pages(book(["LX-1 rev 3"] * 4, "LX-1"))
    names = [name.replace(" ", "") for name in PLACES]
    walked = [names[n % 4] + str(n) for n in (1, 2, 3, 4)]
    assert sorted(walked, key=contents.text.index) == walked
    assert sorted(walked, key=index.text.index) == sorted(walked, key=str.casefold)


def test_numbers_its_pages_through_and_foots_each_sheet_with_its_own_checksum() -> None:
    pages = read_pages(book(["LX-1 rev 3"], "LX-1"))
    sheet = replace(everyday(), spec_code="LX-1")
    assert "page2of3" in pages[1].text
    assert f"checksum{sheet.checksum[:4]}-" in pages[1].text


@pytest.mark.parametrize("size", list(SIZES))
def test_covers_nothing_with_many_positions_and_long_names(size: str) -> None:
    sheet = worst()
    spec = f"{sheet.spec_code} rev {sheet.spec_revision}"
    entries = tuple(
        replace(entry, position=entry.position * 4, circuit="attachment") for entry in
        head([spec] * 70).entries
    )  # fmt: skip
    out = io.BytesIO()
    draw_hose_book(replace(head([]), entries=entries), [sheet], out, page=SIZES[size])
    for page in read_pages(out.getvalue()):
        assert overlaps(page) == []
        assert struck_out(page) == []
        assert off_page(page, 8.7) == []


def worst_head(spec: str) -> BookHead:
    """Every text as long as its field allows, in signs that no face here draws."""
    entries = tuple(
        BookEntry(
            str(n),
            said("place", 120) + f" ({n})",
            "attachment",
            said("mark", 60),
            spec if n % 3 else "",
            "" if n % 3 else said("S", 40) + ": no sheet, see above",
        )
        for n in range(1, 9)
    )
    return BookHead(
        machine=said("machine", 40),
        site=said("site", 120),
        as_of_on=date(2026, 11, 25),
        entries=entries,
        number="BQ 7",
        remarks=tuple("CONDITIONAL RELEASE on this machine: " + said("limits", 300) for _ in "123"),
        left_out=tuple(said("S-9", 40) + " has no approved revision." for _ in "12"),
    )


@pytest.mark.parametrize("size", list(SIZES))
def test_prints_every_text_of_its_first_pages_and_index_whole(size: str) -> None:
    sheet = everyday()
    head, log = worst_head("LX-0412 rev 3"), list[Placed]()
    out = io.BytesIO()
    draw_hose_book(head, [sheet], out, page=SIZES[size], log=log)
    pages = read_pages(out.getvalue())
    told = [placed for placed in log if not placed.text.startswith("Layline · ")]
    assert not_printed(replace(head, number=""), told, pages) == []
    assert [placed.text for placed in told if not placed.whole] == []
    assert covered(pages) == []


def test_has_what_must_be_read_first_whole_before_its_contents() -> None:
    remarks = ("TAKE OUT NOW on this machine: BQ 17.", "CONDITIONAL RELEASE: BQ 44 at Dipper.")
    out = io.BytesIO()
    draw_hose_book(replace(head([]), remarks=remarks, left_out=("S-3 is draft.",)), [], out)
    first = read_pages(out.getvalue())[0].text
    order = [squeeze(words) for words in (*remarks, "Left out: S-3 is draft.", "Circuit")]
    assert sorted(order, key=first.index) == order


def test_says_of_a_position_why_its_spec_has_no_sheet() -> None:
    entry = BookEntry("1", "Dipper", "working", "", "", "S-3: not approved")
    out = io.BytesIO()
    draw_hose_book(replace(head([]), entries=(entry,)), [], out)
    assert all("S-3:notapproved" in page.text for page in read_pages(out.getvalue()))


def test_refuses_a_book_with_a_missing_or_a_doubled_sheet() -> None:
    with pytest.raises(ValueError, match="No sheet came for LX-2 rev 3"):
        book(["LX-1 rev 3", "LX-2 rev 3"], "LX-1")
    with pytest.raises(ValueError, match="The sheet of LX-1 rev 3 came twice"):
        book(["LX-1 rev 3"], "LX-1", "LX-1")


def test_asks_for_one_sheet_at_a_time() -> None:
    asked: list[str] = []

    def one_by_one() -> Iterator[SheetContent]:
        for code in ("LX-1", "LX-2"):
            asked.append(code)
            yield replace(everyday(), spec_code=code)

    out = io.BytesIO()
    draw_hose_book(head(["LX-1 rev 3", "LX-2 rev 3"]), one_by_one(), out, page=LETTER)
    assert asked == ["LX-1", "LX-2"]


def test_is_the_same_bytes_for_the_same_content() -> None:
    assert book(["LX-1 rev 3"], "LX-1") == book(["LX-1 rev 3"], "LX-1")
