"""The test certificate, drawn from its frozen content alone: one page where it fits."""

from collections.abc import Callable, Iterator, Sequence
from functools import partial

from assemblies.calc.certificate import CertificateContent, CertifiedEnd
from assemblies.calc.certificate_words import (
    SCOPE,
    amendment_words,
    asked_words,
    basis_words,
    held_words,
    mean_words,
    readings_words,
    standard_lines,
    tool_words,
)
from assemblies.calc.sheet_phrases import UNMATCHED, binding_words
from assemblies.calc.sheet_words import bars
from fleet.pdf.bands import Band, beside, draw_down, fixed, space, stack
from fleet.pdf.fields import Field, Overleaf, draw_field, field_row, put, text_band
from fleet.pdf.frame import A4, PageSize, Paper, PaperStamp
from fleet.pdf.head import QR_MM, alert_bands, day_words, draw_code
from fleet.pdf.pen import Box, Pen, Placed
from fleet.pdf.running import RunningPages

_HEAD_MM, _FURTHER_MM = 23.0, 11.0
_GAP_MM = 3.0
_BAR_MM = 4.8
_LEAST_MM, _MOST_MM = 7.4, 60.0
_MADE_A_ROW = 3

Maker = Callable[[Pen], Band]


def draw_certificate(
    content: CertificateContent, *, page: PageSize = A4, log: list[Placed] | None = None
) -> bytes:
    """Draw one certificate as a PDF. The same content and page give the same bytes."""
    stamp = PaperStamp("Test certificate", content.number, content.checksum)
    subject = f"{content.tag} {content.spec_code} rev {content.spec_revision}"
    paper = Paper(stamp, page, subject=subject, log=log)
    overleaf = Overleaf(marker=" … whole at the end")
    pages = RunningPages(paper, stamp, partial(_draw_head, content=content, overleaf=overleaf))
    makers = list(_makers(page.body.w, content, overleaf))
    bands = [make(pages.pen) for make in makers]
    if sum(band.whole for band in bands) <= pages.rest.h:
        pages.rest = draw_down(bands, pages.rest)
    else:
        for make in makers:
            pages.add_band(make)
    pages.add_overleaf(overleaf)
    return paper.to_bytes()


def _draw_head(pen: Pen, body: Box, content: CertificateContent, overleaf: Overleaf) -> Box:
    if pen.page > 1:
        return _draw_further_head(pen, body, content)
    head, rest = body.cut_top(_HEAD_MM)
    text, square = head.cut_left(head.w - (QR_MM + 1 if content.link else 0.0))
    name, number, title = text.inset(0, 0.2).rows([1.1, 1.5, 1.4])
    pen.text(name, "TEST CERTIFICATE OF A HOSE ASSEMBLY", 11, bold=True)
    tag, certificate = number.columns([1, 1], 2.0)
    put(pen, tag, f"Hose {content.tag}", "Hose", overleaf, size_pt=18, bold=True)
    put(pen, certificate, f"No. {content.number}", "Number", overleaf, size_pt=14, bold=True)
    put(pen, title, content.title, "Title", overleaf, size_pt=11)
    if content.link:
        draw_code(pen, Box(square.x + 1, square.y, QR_MM, square.h), "certificate", content.link)
    return rest


def _draw_further_head(pen: Pen, body: Box, content: CertificateContent) -> Box:
    head, rest = body.cut_top(_FURTHER_MM)
    top, under = head.inset(0, 0.3).rows([1.3, 1])
    pen.text(top, f"TEST CERTIFICATE {content.number}, continued", 11, floor_pt=7, bold=True)
    pen.text(under, f"Hose {content.tag}", 8)
    pen.line((head.x, head.bottom - 0.6), (head.right, head.bottom - 0.6), 0.8)
    return Box(rest.x, rest.y + 1.0, rest.w, rest.h - 1.0)


def _makers(width: float, content: CertificateContent, overleaf: Overleaf) -> Iterator[Maker]:
    """The bands of the certificate in their order; each is made for the page it stands on."""

    def row(entries: Sequence[Field]) -> Maker:
        return lambda pen: field_row(pen, width, entries, overleaf, least=_LEAST_MM, most=_MOST_MM)

    def bar(words: str) -> Maker:
        return lambda pen: fixed(_BAR_MM, _BAR_MM, lambda box: _draw_bar(pen, box, words))

    yield row(_first_row(content))
    if content.alerts:
        yield lambda pen: alert_bands(pen, width, content.alerts, overleaf)[0]
    yield row(_pressure_row(content))
    yield row(_proof_row(content))
    yield row([Field("Hose", content.hose, 1.6), Field("Cut from reel", content.reel, 1.0)])
    yield _gap
    yield from _ends(width, content, overleaf)
    yield _gap
    for some in _by(_MADE_A_ROW, _made(content)):
        yield row(some)
    yield row(_people(content))
    if content.doubts:
        yield row([Field("In doubt when it was signed", "\n".join(content.doubts))])
    if content.note:
        yield row([Field("Note at signing", content.note)])
    rows = [row([Field("Amendment", amendment_words(line))]) for line in content.amendments]
    if rows:
        heading = bar("Added to the signed record since, and why")
        yield lambda pen: stack([heading(pen), rows[0](pen)])
        yield from rows[1:]
    yield _gap
    yield lambda pen: text_band(
        pen, width, "\n".join(standard_lines(content)), "Judged by", overleaf, size_pt=6.8
    )
    yield lambda pen: text_band(pen, width, SCOPE, "What it says", overleaf, size_pt=6.8)
    yield _signatures


def _first_row(content: CertificateContent) -> list[Field]:
    spec = f"{content.spec_code} rev {content.spec_revision}"
    return [
        Field("Specification", spec, 1.3, 9, bold=True),
        Field("Built at", content.site, 1.2),
        Field("Built on", day_words(content.built_on), 0.8, 9, bold=True),
        Field("By build sheet", content.sheet, 0.8),
        Field("Certificate of", day_words(content.drawn_on), 0.8),
        Field("Instead of", content.replaces or "none before it", 1.2),
    ]


def _pressure_row(content: CertificateContent) -> list[Field]:
    return [
        Field("WORKING PRESSURE", bars(content.pressure.working_bar), 1.0, 14, bold=True),
        Field("It is the lowest of", binding_words(content.pressure), 2.6),
    ]


def _proof_row(content: CertificateContent) -> list[Field]:
    proof = content.proof
    return [
        Field("PROOF TEST", held_words(proof), 2.0, 10, bold=True),
        Field("With", proof.medium, 0.9),
        Field("Pressure gauge", tool_words(proof.gauge, content.built_on), 1.7),
    ]


def _ends(width: float, content: CertificateContent, overleaf: Overleaf) -> Iterator[Maker]:
    column = (width - _GAP_MM) / 2
    rows = [_end_rows(content, end) for end in content.ends]
    titles = [f"End {end.label}{'' if end.matched else ' · ' + UNMATCHED}" for end in content.ends]

    def bars_beside(pen: Pen) -> Band:
        one, other = (
            fixed(_BAR_MM, _BAR_MM, partial(_draw_bar, pen, words=title)) for title in titles
        )
        return beside([one, other], _GAP_MM)

    def rows_beside(pair: tuple[list[Field], list[Field]], pen: Pen) -> Band:
        return beside(
            [
                field_row(pen, column, entries, overleaf, least=_LEAST_MM, most=_MOST_MM)
                for entries in pair
            ],
            _GAP_MM,
        )

    yield bars_beside
    for pair in zip(*rows, strict=True):
        yield partial(rows_beside, pair)


def _end_rows(content: CertificateContent, end: CertifiedEnd) -> list[list[Field]]:
    label = end.label
    return [
        [
            Field(f"Fitting {label}", end.fitting, 1.2),
            Field(f"Connection {label}", end.connection, 1.2),
        ],
        [Field(f"Shell {label}", end.shell, 1.2), Field(f"Lots {label}", end.lots, 1.2)],
        [
            Field(f"Recipe {label}", end.recipe, 1.0),
            Field(f"Basis {label}", basis_words(end), 1.7),
        ],
        [
            Field(f"Crimp OD {label}: passes from … to", asked_words(end), 1.3),
            Field(f"Die {label}", end.die or "not written down", 0.6),
        ],
        [Field(f"Readings {label}, mm", readings_words(end), 1.0, 9, bold=True)],
        [
            Field(f"Mean of the readings {label}", mean_words(end), 1.3, 8.5, bold=True),
            Field(f"Pin {label}", end.pin or "no pin check", 0.9),
            Field(f"Mark {label}", end.mark or "not written down", 0.7),
        ],
        [Field(f"Measured with {label}", tool_words(end.measured_with, content.built_on))],
    ]


def _made(content: CertificateContent) -> list[Field]:
    entries = [
        Field(line.what, f"{line.made} (asked: {line.asked})" if line.asked else line.made)
        for line in content.made
    ]
    return [*entries, Field("Crimped on", tool_words(content.crimper, content.built_on))]


def _people(content: CertificateContent) -> list[Field]:
    return [
        Field(f"{one.deed}, {day_words(one.on)}", one.name, size_pt=9, bold=True)
        for one in content.people
    ]


def _by(count: int, entries: Sequence[Field]) -> Iterator[Sequence[Field]]:
    for first in range(0, len(entries), count):
        yield entries[first : first + count]


def _gap(_pen: Pen) -> Band:
    return space(1.2)


def _signatures(pen: Pen) -> Band:
    labels = ("Signature and stamp, where they are asked for", "Received by, day")

    def draw(box: Box) -> None:
        strip = Box(box.x, box.y + 1.0, box.w, box.h - 1.0)
        for label, cell in zip(labels, strip.columns([1.6, 1.0]), strict=True):
            draw_field(pen, cell, Field(label), Overleaf())

    return fixed(15.0, 18.0, draw)


def _draw_bar(pen: Pen, box: Box, words: str) -> None:
    pen.rectangle(box, 0.6, 0.86)
    pen.text(box.inset(1.0, 0.4), words, 8.5, floor_pt=6.0, bold=True, middle=True)
