"""Bands: strips of a page that say how much height they need, and are given what there is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from fleet.pdf.pen import Box


@dataclass(frozen=True)
class Band:
    """A strip of a page, heights in mm.

    `least` is what it can do with, `whole` what it needs for its texts to stand whole at their
    smallest, `wanted` what lets them stand at their own size; each is at least the one before.
    """

    least: float
    whole: float
    wanted: float
    draw: Callable[[Box], None]


def fixed(least: float, wanted: float, draw: Callable[[Box], None]) -> Band:
    """A band without running text."""
    return Band(least, least, wanted, draw)


def put_first(band: Band, spare: float) -> Band:
    """Give a band room for its whole text before any other has more than its least, of `spare`."""
    return replace(band, least=min(band.whole, band.least + max(0.0, spare)))


def share_out(bands: Sequence[Band], height: float) -> list[float]:
    """Give each band what it can have.

    First the least; then what each needs to stand whole, the smallest need first, as far as it
    goes, so that as few texts as can be go overleaf; then the same part of what all want beyond.
    Where even the least of all is more than there is, every band is cut in proportion: callers
    see to it beforehand that this does not come about.
    """
    given = [band.least for band in bands]
    rest = height - sum(given)
    if rest < 0:
        return [least * height / sum(given) for least in given]
    for n in sorted(range(len(bands)), key=lambda n: bands[n].whole - bands[n].least):
        need = bands[n].whole - bands[n].least
        if need <= rest:
            given[n] = bands[n].whole
            rest -= need
    wishes = [max(0.0, band.wanted - now) for band, now in zip(bands, given, strict=True)]
    part = min(1.0, rest / sum(wishes)) if sum(wishes) > 0 else 0.0
    return [now + part * wish for now, wish in zip(given, wishes, strict=True)]


def draw_down(bands: Sequence[Band], box: Box) -> Box:
    """Draw bands from the top of a box; what is left below them is returned."""
    rest = box
    for band, height in zip(bands, share_out(bands, box.h), strict=True):
        strip, rest = rest.cut_top(height)
        if height > 0:
            band.draw(strip)
    return rest


def stack(bands: Sequence[Band]) -> Band:
    """Bands one below the other as one band."""
    return Band(
        sum(band.least for band in bands),
        sum(band.whole for band in bands),
        sum(band.wanted for band in bands),
        lambda box: _draw_all(bands, box),
    )


def beside(bands: Sequence[Band], gap: float) -> Band:
    """Bands of the same height side by side, in equal columns."""

    def draw(box: Box) -> None:
        for band, column in zip(bands, box.columns([1] * len(bands), gap), strict=True):
            band.draw(column)

    return Band(
        max(band.least for band in bands),
        max(band.whole for band in bands),
        max(band.wanted for band in bands),
        draw,
    )


def space(height: float) -> Band:
    """An empty strip."""
    return fixed(height, height, lambda _box: None)


def _draw_all(bands: Sequence[Band], box: Box) -> None:
    draw_down(bands, box)
