"""What holds for every paper, asked of its printed pages and of where each text was placed."""

from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from typing import Any

from fleet.pdf.frame import MARGIN_MM
from fleet.pdf.pen import Box, Pen, Placed
from fleet.pdf.text import readable
from tests.paper_reading import PageRead, off_page, overlaps, squeeze, struck_out


def leaves(value: object) -> Iterator[str | Decimal]:
    """Every text and figure of a content; links stand on the paper as codes."""
    if is_dataclass(value):
        for field in fields(value):
            if not field.name.endswith("link"):
                yield from leaves(getattr(value, field.name))
    elif isinstance(value, tuple):
        for item in value:
            yield from leaves(item)
    elif isinstance(value, str | Decimal) and not isinstance(value, Enum):
        yield value


def not_printed(content: object, log: list[Placed], pages: list[PageRead]) -> list[str]:
    """The texts and figures of a content that stand whole nowhere on its paper."""
    found = [pages[placed.page - 1].text_in(placed.box) for placed in log if placed.whole]
    # A text stands in one box, or runs line by line from page to page.
    apart, run = "\n".join(found), "".join(found)
    return [
        str(leaf)
        for leaf in leaves(content)
        if not any(ways in apart or ways in run for ways in _written(leaf))
    ]


def _written(leaf: str | Decimal) -> tuple[str, ...]:
    if isinstance(leaf, str):
        return (squeeze(readable(leaf)),)
    shown = f"{leaf:f}".replace("-", "−")
    return (shown, shown.rstrip("0").rstrip(".") if "." in shown else shown)


def astray(log: list[Placed], pages: list[PageRead]) -> list[str]:
    """The texts whose box holds anything but them, or their beginning and where the rest is."""
    wrong = []
    for placed in log:
        found = pages[placed.page - 1].text_in(placed.box)
        asked = squeeze(readable(placed.text))
        begun = asked.startswith(found.split("…")[0]) and "…" in found
        if not (found == asked if placed.whole else begun or not found):
            wrong.append(placed.text)
    return wrong


def cut_off(log: list[Placed], pages: list[PageRead]) -> list[str]:
    """The texts that did not fit their box and stand whole nowhere else on the paper.

    Whole in a box of their own (`astray` looks whether it is there), or in the run of the text.
    """
    boxed = {placed.text for placed in log if placed.whole}
    whole = "".join(page.text for page in pages)
    return [
        placed.text
        for placed in log
        if not placed.whole
        and placed.text not in boxed
        and squeeze(readable(placed.text)) not in whole
    ]


def covered(pages: list[PageRead]) -> list[object]:
    """Signs on signs, signs under lines, and signs in the margin."""
    return [
        fault
        for page in pages
        for fault in (*overlaps(page), *struck_out(page), *off_page(page, MARGIN_MM - 0.3))
    ]


def pen_boxes(
    draw: Callable[[list[Placed]], Any], labels: tuple[str, ...], patch: Any
) -> list[tuple[str, Box]]:
    """The ruled boxes whose label begins so, as they are drawn; `patch` as pytest gives it."""
    ruled: list[tuple[int, Box]] = []
    plain = Pen.rectangle

    def watch(self: Pen, box: Box, *args: Any, **kwargs: Any) -> None:
        ruled.append((self.page, box))
        plain(self, box, *args, **kwargs)

    patch.setattr(Pen, "rectangle", watch)
    log: list[Placed] = []
    draw(log)
    asked = [placed for placed in log if placed.text.startswith(labels)]
    return [
        (
            placed.text,
            next(
                box
                for page, box in ruled
                if page == placed.page and box.h < 40 and _holds(box, placed.box)
            ),
        )
        for placed in asked
    ]


def _holds(outer: Box, inner: Box) -> bool:
    across = outer.x < inner.x and inner.right < outer.right
    return across and outer.y < inner.y < outer.bottom
