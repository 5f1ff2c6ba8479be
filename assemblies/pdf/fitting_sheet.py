"""The fitting-up sheet, drawn from its frozen content alone: front, injection card, overleaf.

The card stands on the second page, so that a sheet printed on both sides has it on its back. What
does not fit its box is printed whole on the pages after it, never cut away.
"""

from assemblies.calc.fitting_sheet import FittingContent, HoseCard, PortLine
from assemblies.calc.fitting_words import (
    duty_words,
    labour_words,
    oil_words,
    pressure_words,
    radius_words,
    seal_words,
    torque_words,
)
from assemblies.pdf.injection_card import draw_injection_card
from assemblies.pdf.sheet_foot import caution_band
from fleet.pdf.bands import Band, beside, draw_down, fixed, put_first, space
from fleet.pdf.fields import Field, Overleaf, draw_field, field_row, put
from fleet.pdf.frame import A4, PageSize, Paper, PaperStamp
from fleet.pdf.head import QR_MM, alert_bands, day_words, draw_code
from fleet.pdf.pen import Box, Pen, Placed
from fleet.pdf.running import RunningPages
from fleet.pdf.steps import steps_band

_GAP_MM = 3.0
_HEAD_MM = 12.0
_BAR_MM = 4.8
_PEN_MM = (10.5, 13.0)
_STEP_PT = (6.4, 8.2)
_LEAST_REMARKS_MM = 9.0
_ALERTS_AT = 1


def draw_fitting_sheet(
    content: FittingContent, *, page: PageSize = A4, log: list[Placed] | None = None
) -> bytes:
    """Draw one fitting-up sheet as a PDF. The same content and page give the same bytes."""
    stamp = PaperStamp("Fitting-up sheet", content.number, content.checksum)
    subject = f"{content.place.machine}, {content.place.position}"
    paper = Paper(stamp, page, subject=subject, log=log)
    overleaf = Overleaf(marker=" … page 3")
    _draw_front(paper, content, overleaf)
    draw_injection_card(paper.new_page(), page.body, content, overleaf)
    if overleaf.entries or overleaf.steps:
        pages = RunningPages(paper, stamp, lambda pen, body: _further_head(pen, body, content))
        pages.add_overleaf(overleaf)
    return paper.to_bytes()


def _draw_front(paper: Paper, content: FittingContent, overleaf: Overleaf) -> None:
    pen, body = paper.new_page(), paper.page.body
    before = [
        _head(pen, body.w, content, overleaf),
        *alert_bands(pen, body.w, content.alerts, overleaf),
        *_facts(pen, body.w, content, overleaf),
        *_hoses(pen, body.w, content, overleaf),
        *_ports(pen, body.w, content, overleaf),
    ]
    after = [
        space(1.0),
        _pen_row(pen, content),
        caution_band(pen, body.w, content.cautions, overleaf),
        _signs(pen),
    ]
    steps = _steps(pen, body.w, content, overleaf)
    if content.alerts:
        free = body.h - sum(band.least for band in (*before, *steps, *after))
        before[_ALERTS_AT] = put_first(before[_ALERTS_AT], free)
    if sum(band.least for band in (*before, *steps, *after)) > body.h:
        told = (step for phase in content.phases for step in phase.steps)
        overleaf.steps.extend(enumerate(told, 1))
        steps = [fixed(4.0, 4.0, lambda box: _say_steps_follow(pen, box))]
    rest = draw_down([*before, *steps, *after], body)
    if rest.h >= _LEAST_REMARKS_MM:
        remarks = [Field("Remarks of the fitter: what was found, what is different from the sheet")]
        field_row(pen, rest.w, remarks, overleaf).draw(rest.inset(0, 0.5))


def _say_steps_follow(pen: Pen, box: Box) -> None:
    pen.text(box, "The steps are on page 3.", 8, bold=True)


def _head(pen: Pen, width: float, content: FittingContent, overleaf: Overleaf) -> Band:
    left = width - (QR_MM + 1 if content.link else 0.0)
    entries = [
        Field("Circuit", content.place.circuit or "not written down", 1.0),
        Field("Site", content.place.site, 1.2),
        Field("Job", content.job, 0.9),
        Field("Sheet of", day_words(content.drawn_on), 0.8),
    ]
    fields = field_row(pen, left, entries, overleaf, least=7.6)
    least = max(_HEAD_MM + fields.least, QR_MM + 2.6 if content.link else 0.0)

    def draw(box: Box) -> None:
        text, square = box.cut_left(left)
        title, row = text.cut_top(max(_HEAD_MM, box.h - fields.wanted))
        _draw_title(pen, title, content, overleaf)
        fields.draw(row)
        if content.link:
            draw_code(pen, Box(square.x + 1, square.y, QR_MM, square.h), "this sheet", content.link)

    wanted = max(least, _HEAD_MM + fields.wanted)
    return Band(least, min(wanted, max(least, _HEAD_MM + fields.whole)), wanted, draw)


def _draw_title(pen: Pen, box: Box, content: FittingContent, overleaf: Overleaf) -> None:
    name, place = box.inset(0, 0.2).columns([1, 2.0], 2.0)
    top, machine = name.cut_top(4.2)
    put(pen, top, f"FITTING-UP SHEET {content.number}", "Number", overleaf, size_pt=8.5, bold=True)
    put(pen, machine, content.place.machine, "Machine", overleaf, size_pt=17, bold=True)
    label, words = place.cut_top(2.6)
    pen.text(label, "Position", 5.2)
    known = content.place.position
    if known:
        put(pen, words, known, "Position", overleaf, size_pt=13, bold=True)
    else:
        pen.rectangle(words, 0.35)


def _facts(pen: Pen, width: float, content: FittingContent, overleaf: Overleaf) -> list[Band]:
    place, access = content.place, content.access
    rows = [
        [
            Field("Machine: class, maker, model, number", place.machine_facts, 2.0),
            Field("Position asks, bar", duty_words(place), 1.2),
            Field("Fluid", place.fluid, 1.2, bold=True),
            Field("Oil temperature", oil_words(place), 0.8),
            Field("Bend radius, at least", radius_words(content), 1.5),
        ],
        [
            Field("Hours, people", labour_words(access), 0.9),
            Field("Crane, stands, guards to take off", access.lifting, 1.6),
            Field("Changed together with it", access.together, 1.4),
            Field("Note of the position", access.note, 1.6),
            Field("Guards and sleeves on the hose", "; ".join(content.guards), 1.6),
        ],
    ]
    return [field_row(pen, width, row, overleaf, least=8.0, most=22.0) for row in rows]


def _hoses(pen: Pen, width: float, content: FittingContent, overleaf: Overleaf) -> list[Band]:
    column = (width - _GAP_MM) / 2
    pairs = zip(
        _hose(pen, column, "Old", content.old, overleaf),
        _hose(pen, column, "New", content.new, overleaf),
        strict=True,
    )
    return [space(1.0), *(beside(pair, _GAP_MM) for pair in pairs)]


def _hose(pen: Pen, width: float, which: str, card: HoseCard, overleaf: Overleaf) -> list[Band]:
    title = f"{which.upper()} HOSE, {'comes off' if which == 'Old' else 'goes on'}"
    rows = [
        [
            Field(f"{which}: tag or mark", card.tag, 1.1, 11, bold=True),
            Field(f"{which}: spec", card.spec, 1.0),
            Field(f"{which}: built", card.built, 0.9),
        ],
        [
            Field(f"{which}: working pressure", pressure_words(card), 1.3, bold=True),
            Field(f"{which}: length", card.length, 0.8),
            Field(f"{which}: where it is", card.where, 1.0),
        ],
        [
            Field(f"{which}: hose", card.hose, 1.4),
            Field(f"{which}: how it is crimped", card.basis, 1.2),
        ],
    ]
    bar = fixed(_BAR_MM, _BAR_MM, lambda box: _draw_bar(pen, box, title))
    return [bar, *(field_row(pen, width, row, overleaf, least=8.0, most=18.0) for row in rows)]


def _ports(pen: Pen, width: float, content: FittingContent, overleaf: Overleaf) -> list[Band]:
    column = (width - _GAP_MM) / 2
    pairs = zip(*(_port(pen, column, port, overleaf) for port in content.ends), strict=True)
    return [space(1.0), *(beside(pair, _GAP_MM) for pair in pairs)]


def _port(pen: Pen, width: float, port: PortLine, overleaf: Overleaf) -> list[Band]:
    label = port.label
    rows = [
        [
            Field(f"{label}: port on the machine", port.port, 1.0),
            Field(f"{label}: fitting and connection", _joined(port), 1.5),
        ],
        [Field(f"{label}: seal and small parts, new ones", seal_words(port), 1.0, 8.5, bold=True)],
    ]
    torque = [
        Field(f"{label}: TORQUE by the maker of this end", torque_words(port), 2.2, 11, bold=True),
        Field(f"{label}: tightened to, Nm", share=1.0),
    ]
    bar = fixed(_BAR_MM, _BAR_MM, lambda box: _draw_bar(pen, box, f"End {label}"))
    return [
        bar,
        *(field_row(pen, width, row, overleaf, least=8.0, most=20.0) for row in rows),
        field_row(pen, width, torque, overleaf, least=9.5, most=20.0),
    ]


def _joined(port: PortLine) -> str:
    return " · ".join(part for part in (port.fitting, port.connection) if part)


def _steps(pen: Pen, width: float, content: FittingContent, overleaf: Overleaf) -> list[Band]:
    bands, number = [space(0.8)], 1
    for phase in content.phases:
        bands += [
            _phase_bar(pen, phase.name),
            steps_band(pen, width, phase.steps, overleaf, first=number, sizes_pt=_STEP_PT),
        ]
        number += len(phase.steps)
    return bands


def _phase_bar(pen: Pen, name: str) -> Band:
    return fixed(_BAR_MM, _BAR_MM + 0.6, lambda box: _draw_bar(pen, box.inset(0, 0.15), name))


def _draw_bar(pen: Pen, box: Box, words: str) -> None:
    pen.rectangle(box, 0.6, 0.86)
    pen.text(box.inset(1.0, 0.4), words, 8.5, bold=True, middle=True)


def _pen_row(pen: Pen, content: FittingContent) -> Band:
    meter = f" ({content.place.counts})" if content.place.counts else ""
    labels = (
        (f"Hour reading{meter}", 1.3),
        ("Day and time", 1.1),
        ("Zero verified, bar", 0.9),
        ("Old hose: tag or mark", 1.1),
        ("New hose: tag", 1.1),
        ("Leaks: none / where", 1.1),
        ("Topped up, litres", 0.9),
    )
    return _written_in(pen, labels)


def _signs(pen: Pen) -> Band:
    labels = (
        ("Isolated, zero verified by", 1.2),
        ("Fitted by, day", 1.2),
        ("Checked by, day", 1.2),
        ("After first hours: day, hours, by", 1.5),
    )
    return _written_in(pen, labels)


def _written_in(pen: Pen, labels: tuple[tuple[str, float], ...]) -> Band:
    """A row of empty boxes, big enough for a pen."""

    def draw(box: Box) -> None:
        strip = Box(box.x, box.y + 0.6, box.w, box.h - 0.6)
        cells = strip.columns([share for _, share in labels])
        for (label, _), cell in zip(labels, cells, strict=True):
            draw_field(pen, cell, Field(label), Overleaf())

    return fixed(*_PEN_MM, draw)


def _further_head(pen: Pen, body: Box, content: FittingContent) -> Box:
    head, rest = body.cut_top(11.0)
    top, under = head.inset(0, 0.3).rows([1.3, 1])
    pen.text(top, f"FITTING-UP SHEET {content.number}, continued", 11, floor_pt=7, bold=True)
    pen.text(under, content.place.machine, 8)
    pen.line((head.x, head.bottom - 0.6), (head.right, head.bottom - 0.6), 0.8)
    return Box(rest.x, rest.y + 1.0, rest.w, rest.h - 1.0)
