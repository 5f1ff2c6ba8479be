"""One end on the build sheet: its parts, its crimp figures, and the boxes to write readings in."""

from collections.abc import Sequence

from assemblies.calc.sheet import CrimpFigures, EndLine, PinAnswer
from assemblies.calc.sheet_phrases import (
    NO_RECIPE_ADVICE,
    UNMATCHED,
    allowance_words,
    basis_words,
    crimp_od_words,
    crimp_range_words,
    fitting_words,
    form_words,
    pin_words,
    rating_words,
    recipe_rating_words,
    recipe_words,
    shell_words,
    skive_words,
)
from assemblies.calc.sheet_words import figure, millimetres
from assemblies.pdf.end_detail import draw_end_detail
from fleet.pdf.bands import Band, fixed
from fleet.pdf.fields import Field, Overleaf, draw_field, field_row, put
from fleet.pdf.pen import Box, Pen

TITLE_MM = 4.6
DETAIL_MM = 25.2
BOX_ROW_MM = 9.0
_MOST_A_ROW = 7
_TICK_MM = 3.6


def part_bands(pen: Pen, width: float, end: EndLine, overleaf: Overleaf) -> list[Band]:
    """What the end is: title, fitting, shell, connection, rating, allowance."""
    rows = [
        [
            Field(f"Fitting {end.label}: code, maker, product", fitting_words(end), 1.45),
            Field(
                f"Shell {end.label}: code, maker, product",
                shell_words(end),
            ),
        ],
        [
            Field(f"Connection {end.label} and size", f"{end.connection} {end.size}".strip(), 1.45),
            Field(f"Form {end.label} · turns about", form_words(end)),
        ],
        [
            Field(f"Working pressure {end.label} and its source", rating_words(end.rating), 1.45),
            Field(f"Allowance {end.label}, counted from", allowance_words(end)),
        ],
    ]
    small = [
        *([Field(f"Small parts {end.label}", end.small_parts)] if end.small_parts else []),
        *([Field(f"Tighten {end.label} by its maker", end.torque)] if end.torque else []),
    ]
    rows.extend([small] if small else [])
    title = fixed(TITLE_MM, TITLE_MM, lambda box: _draw_title(pen, box, end))
    return [title, *(field_row(pen, width, row, overleaf) for row in rows)]


def crimp_bands(
    pen: Pen, width: float, end: EndLine, overleaf: Overleaf, *, mirrored: bool
) -> list[Band]:
    """How the end is crimped: the detail, the figures, the boxes; or why there are none."""
    detail = fixed(
        DETAIL_MM,
        DETAIL_MM + 1.5,
        lambda box: draw_end_detail(pen, box, end, mirrored=mirrored),
    )
    if end.crimp is None:
        return [detail, _no_recipe(pen, end, overleaf)]
    crimp = end.crimp
    return [
        detail,
        field_row(pen, width, _recipe_row(end.label, crimp), overleaf),
        fixed(10.2, 11.5, lambda box: _draw_crimp_row(pen, box, end.label, crimp, overleaf)),
        field_row(pen, width, _figures_row(end.label, crimp), overleaf),
        field_row(pen, width, _pin_row(end.label, crimp), overleaf),
        *box_bands(pen, end, crimp),
    ]


def box_bands(pen: Pen, end: EndLine, crimp: CrimpFigures) -> list[Band]:
    """The boxes for the pen: readings, mean, ovality, pin and mark."""
    labels = [f"{end.label} OD {n}" for n in range(1, crimp.readings + 1)]
    labels += [f"{end.label} mean", f"{end.label} ovality"]
    per_row = len(labels) if len(labels) <= 5 else _MOST_A_ROW
    rows = [labels[n : n + per_row] for n in range(0, len(labels), per_row)]
    bands = [_boxes_band(pen, row, per_row) for row in rows]
    return [*bands, fixed(5.2, 7.0, lambda box: _draw_checks(pen, box, end, crimp))]


def _draw_title(pen: Pen, box: Box, end: EndLine) -> None:
    pen.rectangle(box, 0.6, 0.86)
    inner = box.inset(1.0, 0.5)
    name, state = inner.columns([1, 2.2])
    pen.text(name, f"End {end.label}", 9, bold=True)
    words = "" if end.matched else UNMATCHED
    if end.crimp is None:
        words = "NO RECIPE"
    if words:
        pen.text(state, words, 6.8, bold=True, align="right", middle=True)


def _no_recipe(pen: Pen, end: EndLine, overleaf: Overleaf) -> Band:
    def draw(box: Box) -> None:
        pen.rectangle(box, 1.6)
        head, rest = box.inset(2.0, 1.5).cut_top(11.0)
        words = "NO CRIMP RECIPE. DO NOT CRIMP THIS END."
        pen.text(head, words, 12, floor_pt=8, bold=True)
        text = f"{end.no_crimp_reason} {NO_RECIPE_ADVICE}"
        put(pen, rest, text, f"End {end.label}: no recipe", overleaf, size_pt=8.5)

    return fixed(40.0, 52.0, draw)


def _recipe_row(label: str, crimp: CrimpFigures) -> Sequence[Field]:
    return (
        Field(f"Recipe {label}", recipe_words(crimp), 0.9),
        Field(f"Basis {label}", basis_words(crimp), 1.3),
        Field(f"Recipe {label} rated", recipe_rating_words(crimp), 0.7),
    )


def _draw_crimp_row(
    pen: Pen, box: Box, label: str, crimp: CrimpFigures, overleaf: Overleaf
) -> None:
    """The figure that counts, the largest on the sheet."""
    pen.rectangle(box, 1.2)
    texts = (
        (f"CRIMP OD {label}, mean of the readings", crimp_od_words(crimp), 15),
        ("passes from … to", crimp_range_words(crimp), 10.5),
        ("ovality, at most", f"{figure(crimp.ovality_limit_mm)} mm", 10.5),
    )
    columns = box.inset(1.0, 0.6).columns([1.9, 1.35, 0.75], 1.0)
    for (name, words, size), column in zip(texts, columns, strict=True):
        top, value = column.cut_top(2.5)
        pen.text(top, name, 5.2, floor_pt=4)
        put(pen, value, words, name, overleaf, size_pt=size, bold=True)


def _figures_row(label: str, crimp: CrimpFigures) -> Sequence[Field]:
    depth = millimetres(crimp.insertion_depth_mm)
    return (
        Field(f"Insertion {label} = mark", depth, 1.0, 9, bold=True),
        Field(f"Outside skive {label}", skive_words(crimp.external_skive), 1.0, 9, bold=True),
        Field(f"Inside skive {label}", skive_words(crimp.internal_skive), 1.0, 9, bold=True),
        Field(f"Die {label}", crimp.die or "not given", 1.0, 9, bold=True),
    )


def _pin_row(label: str, crimp: CrimpFigures) -> Sequence[Field]:
    return (
        Field(f"Pin {label}, out before every press", pin_words(crimp), 1.2),
        Field(f"Setting {label}, a note only: the OD counts", crimp.setting_note or "none", 1.0),
    )


def _boxes_band(pen: Pen, labels: Sequence[str], per_row: int) -> Band:
    return fixed(BOX_ROW_MM, BOX_ROW_MM + 2, lambda box: _draw_boxes(pen, box, labels, per_row))


def _draw_boxes(pen: Pen, box: Box, labels: Sequence[str], per_row: int) -> None:
    columns = box.columns([1] * per_row)
    for label, cell in zip(labels, columns, strict=False):
        draw_field(pen, cell, Field(label), Overleaf())


def _draw_checks(pen: Pen, box: Box, end: EndLine, crimp: CrimpFigures) -> None:
    pen.rectangle(box, 0.35)
    pin, mark = box.inset(1.0, 0.6).columns([1.35, 1])
    if crimp.pin is None:
        pen.text(pin, f"{end.label}: no pin check", 6.5, middle=True)
    else:
        answer = "ENTER" if crimp.pin.expected is PinAnswer.ENTERS else "REFUSE"
        draw_tick(pen, pin, f"{end.label}: pin must {answer}, and did", 6.5)
    draw_tick(pen, mark, f"{end.label}: mark still shows", 6.5)


def draw_tick(pen: Pen, box: Box, words: str, size_pt: float) -> None:
    """A box to tick with its words."""
    tick, rest = box.cut_left(_TICK_MM + 1.2)
    top = tick.y + (tick.h - _TICK_MM) / 2
    pen.rectangle(Box(tick.x, top, _TICK_MM, _TICK_MM), 0.7)
    pen.text(rest, words, size_pt, floor_pt=5, middle=True)
