"""The fitting-up sheet as printed: what it says, that all of it stands, that nothing covers it."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from assemblies.calc.fitting_sheet import FittingContent, from_json, to_json
from assemblies.calc.injection_card import FIRST_AID, FOR_THE_SURGEON
from assemblies.pdf.fitting_sheet import draw_fitting_sheet
from fleet.pdf.frame import SIZES
from fleet.pdf.pen import Placed
from tests.paper_reading import PageRead, codes, pictures, read_pages, squeeze
from tests.unit.assemblies.fitting_samples import LINK, blank, everyday, worst
from tests.unit.assemblies.paper_checks import astray, covered, cut_off, not_printed, pen_boxes

SAMPLES: dict[str, Callable[[], FittingContent]] = {
    "everyday": everyday,
    "blank": blank,
    "worst": worst,
}
every_sample = pytest.mark.parametrize("name", list(SAMPLES))
every_size = pytest.mark.parametrize("size", list(SIZES))


@cache
def drawn(name: str, size: str) -> tuple[FittingContent, list[Placed], list[PageRead]]:
    content, log = SAMPLES[name](), list[Placed]()
    pdf = draw_fitting_sheet(content, page=SIZES[size], log=log)
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
@every_sample
def test_has_every_step_on_its_front_and_the_card_on_its_back(name: str, size: str) -> None:
    content, log, _ = drawn(name, size)
    front, back = ({one.text for one in log if one.whole and one.page == n} for n in (1, 2))
    for phase in content.phases:
        assert {phase.name, *phase.steps} <= front
    assert {*FIRST_AID, *FOR_THE_SURGEON} <= back


@every_size
@pytest.mark.parametrize("name", ["everyday", "blank"])
def test_is_one_leaf_where_texts_are_of_common_length(name: str, size: str) -> None:
    assert len(drawn(name, size)[2]) == 2


@every_size
def test_has_its_alerts_whole_on_its_front(size: str) -> None:
    alerts = ("UNMATCHED at end A.", "TAKE OUT NOW on this machine: BQ 7.", "CONDITIONAL RELEASE.")
    content = replace(everyday(), alerts=alerts)
    pages = read_pages(draw_fitting_sheet(content, page=SIZES[size]))
    assert all(squeeze(alert) in pages[0].text for alert in alerts)
    assert len(pages) == 2


def said_in(content: FittingContent, page: int) -> list[str]:
    """The texts of a page, each as it stands in its box."""
    log: list[Placed] = []
    draw_fitting_sheet(content, log=log)
    return [placed.text.replace("\u00a0", " ") for placed in log if placed.page == page]


def test_says_the_makers_torque_and_its_table() -> None:
    front = said_in(everyday(), 1)
    assert "100 Nm (its maker's table 9)" in front
    assert "55 Nm (its maker's table 11)" in front


def test_asks_the_maker_where_no_torque_or_seal_is_known_and_gives_no_figure() -> None:
    content = everyday()
    near, far = content.ends
    unknown = replace(near, torque_nm=None, torque_source="", seal="")
    front = said_in(replace(content, ends=(unknown, far)), 1)
    after = {label: front[n + 1] for n, label in enumerate(front[:-1])}
    assert after["A: TORQUE by the maker of this end"] == "ASK THE MAKER"
    assert after["A: seal and small parts, new ones"] == "ASK THE MAKER"
    assert not any("100 Nm" in text for text in front)


def test_puts_fluid_pressure_and_temperature_on_the_card() -> None:
    wanted = {"HVLP 46, zinc-free", "140 bar, surges to 155 bar", "+85 °C"}
    assert wanted | {"BQ-014, Blackmere Quarry"} <= set(said_in(everyday(), 2))


def test_leaves_boxes_on_the_card_where_nothing_is_known() -> None:
    card = drawn("blank", "a4")[2][1].text
    assert "FLUID:nameandmaker,asonitsdatasheetPRESSURE" in card


WRITTEN_IN = ("Hour reading", "Old hose: tag", "Fitted by", "After first", "A: tightened")
ON_THE_CARD = ("TIME of", "Where on", "Goes along")


@every_sample
def test_has_boxes_a_pen_can_write_in(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    content = SAMPLES[name]()
    found = pen_boxes(
        lambda log: draw_fitting_sheet(content, log=log), WRITTEN_IN + ON_THE_CARD, monkeypatch
    )
    assert len(found) == 8
    for label, box in found:
        assert box.w >= 20, label
        assert box.h >= (15 if label.startswith(ON_THE_CARD) else 9), label


def test_has_one_code_that_another_program_reads_from_a_black_and_white_copy() -> None:
    (picture,) = pictures(draw_fitting_sheet(everyday()))
    copied = picture.convert("L").point(lambda level: 255 * (level > 128)).convert("1").convert("L")
    assert codes(copied) == [LINK.upper()]


def test_has_no_colour_in_its_picture() -> None:
    for picture in pictures(draw_fitting_sheet(worst()), dpi=40, last=3):
        red, green, blue = picture.convert("RGB").split()
        assert red.tobytes() == green.tobytes() == blue.tobytes()


@every_sample
def test_is_drawn_the_same_from_its_stored_form(name: str) -> None:
    content = SAMPLES[name]()
    again = from_json(to_json(content))
    assert again == content
    assert draw_fitting_sheet(again) == draw_fitting_sheet(content)


def test_refuses_a_content_without_a_machine_or_with_one_end_twice() -> None:
    content = everyday()
    with pytest.raises(ValueError, match="names its machine"):
        replace(content, place=replace(content.place, machine=" "))
    with pytest.raises(ValueError, match="Both ends are named A"):
        replace(content, ends=(content.ends[0], content.ends[0]))
