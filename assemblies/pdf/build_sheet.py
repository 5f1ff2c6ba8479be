"""The build sheet: one page where it fits, drawn from its frozen content alone.

The first page has a fixed order; each band says what height it needs. What does not fit its box
is printed whole on the next page, never cut away.
"""

from assemblies.calc.sheet import SheetContent
from assemblies.calc.sheet_phrases import (
    bend_words,
    binding_words,
    hose_words,
    proof_words,
    rating_words,
    sleeve_words,
    temperature_words,
)
from assemblies.calc.sheet_words import bars, millimetres, short_figure, tolerance
from assemblies.pdf.end_column import crimp_bands, part_bands
from assemblies.pdf.hose_drawing import draw_assembly, height_mm
from assemblies.pdf.orientation import draw_orientation
from assemblies.pdf.sheet_foot import caution_band, proof_band, sign_band
from assemblies.pdf.sheet_overleaf import draw_overleaf
from fleet.pdf.bands import Band, beside, draw_down, fixed, put_first, space, stack
from fleet.pdf.fields import Field, Overleaf, field_row, put, text_band
from fleet.pdf.frame import A4, PageSize, Paper, PaperStamp
from fleet.pdf.head import QR_MM, alert_bands, day_words, draw_code
from fleet.pdf.pen import Box, Pen, Placed
from fleet.pdf.steps import steps_band

_GAP_MM = 3.0
_HEAD_MM = 12.0
_LEAST_PICTURE_MM = 29.5
_LEAST_REMARKS_MM = 9.0
_STEPS_FOLLOW_MM = 3.4
_ALERTS_AT = 1


def draw_build_sheet(
    content: SheetContent, *, page: PageSize = A4, log: list[Placed] | None = None
) -> bytes:
    """Draw one build sheet as a PDF. The same content and page give the same bytes."""
    subject = f"{content.spec_code} rev {content.spec_revision} {content.title}"
    paper = Paper(sheet_stamp(content), page, subject=subject, log=log)
    draw_sheet_pages(paper, content)
    return paper.to_bytes()


def sheet_stamp(content: SheetContent) -> PaperStamp:
    """What the foot of the sheet's pages says."""
    spec = f"{content.spec_code} rev {content.spec_revision}"
    return PaperStamp(f"Build sheet {spec}", content.number, content.checksum)


def draw_sheet_pages(paper: Paper, content: SheetContent, *, bookmark: str = "") -> int:
    """Draw a sheet's pages into a paper that may hold others; the number of its first page."""
    stamp = sheet_stamp(content)
    pen = paper.new_page(stamp)
    if bookmark:
        pen.bookmark(bookmark, f"{stamp.title.removeprefix('Build sheet ')}: {content.title}")
    first, overleaf = pen.page, Overleaf()
    body = paper.page.body
    bands = _bands(pen, body.w, content, overleaf)
    if content.alerts:
        free = body.h - sum(band.least for band in bands) - _STEPS_FOLLOW_MM
        bands[_ALERTS_AT] = put_first(bands[_ALERTS_AT], free)
    steps = steps_band(pen, body.w, content.steps, overleaf)
    spare = body.h - sum(band.least for band in bands)
    if content.steps and spare < steps.least:
        overleaf.steps.extend(enumerate(content.steps, 1))
        steps = fixed(_STEPS_FOLLOW_MM, _STEPS_FOLLOW_MM, lambda box: _say_steps_follow(pen, box))
    place = next(n for n, band in enumerate(bands) if band is _AFTER_ENDS)
    bands[place] = steps
    rest = draw_down(bands, body)
    if rest.h >= _LEAST_REMARKS_MM:
        text_box = Field("Remarks of the fitter")
        field_row(pen, rest.w, [text_box], overleaf).draw(rest.inset(0, 0.5))
    draw_overleaf(paper, stamp, content, overleaf)
    return first


def _nothing(_box: Box) -> None:
    """The place of the steps, until their height is known."""


_AFTER_ENDS = fixed(0.0, 0.0, _nothing)


def _bands(pen: Pen, width: float, content: SheetContent, overleaf: Overleaf) -> list[Band]:
    notes = [text_band(pen, width, content.notes, "Notes", overleaf)] if content.notes else []
    return [
        _head(pen, width, content, overleaf),
        *alert_bands(pen, width, content.alerts, overleaf),
        _drawing(pen, width, content),
        *_strip(pen, width, content, overleaf),
        space(1.0),
        *_ends(pen, width, content, overleaf),
        space(1.0),
        _AFTER_ENDS,
        *([proof_band(pen, content)] if content.can_be_crimped else []),
        *notes,
        caution_band(pen, width, content.cautions, overleaf),
        sign_band(pen),
    ]


def _say_steps_follow(pen: Pen, box: Box) -> None:
    pen.text(box, "The steps are on the next page.", 7.5, bold=True)


def _head(pen: Pen, width: float, content: SheetContent, overleaf: Overleaf) -> Band:
    codes = [(words, link) for words, link in _links(content) if link]
    left = width - len(codes) * (QR_MM + 1)
    fields = field_row(pen, left, _head_fields(content), overleaf, least=7.6)
    least = max(_HEAD_MM + fields.least, QR_MM + 2.6 if codes else 0.0)

    def draw(box: Box) -> None:
        text, square = box.cut_left(left)
        title, row = text.cut_top(max(_HEAD_MM, box.h - fields.wanted))
        _draw_title(pen, title, content, overleaf)
        fields.draw(row)
        for (words, link), place in zip(codes, square.columns([1] * len(codes)), strict=True):
            draw_code(pen, place, words, link)

    whole = max(least, _HEAD_MM + fields.whole)
    return Band(least, whole, max(least, _HEAD_MM + fields.wanted), draw)


def _links(content: SheetContent) -> tuple[tuple[str, str], ...]:
    return (("specification", content.spec_link), ("this job", content.job_link))


def _draw_title(pen: Pen, box: Box, content: SheetContent, overleaf: Overleaf) -> None:
    name, title = box.inset(0, 0.2).columns([1, 1.6], 2.0)
    top, code = name.cut_top(4.2)
    pen.text(top, f"BUILD SHEET {content.number}", 8.5, bold=True)
    spec = f"{content.spec_code} rev {content.spec_revision}"
    put(pen, code, spec, "Specification", overleaf, size_pt=17, bold=True)
    top, under = title.cut_top(title.h * (0.5 if content.description else 1.0))
    put(pen, top, content.title, "Title", overleaf, size_pt=11, bold=True)
    if content.description:
        put(pen, under, content.description, "Description", overleaf, size_pt=7.5)


def _head_fields(content: SheetContent) -> list[Field]:
    return [
        Field("Quantity", str(content.quantity), 0.6, 11, bold=True),
        Field("For machine", content.machine or "any", 1.7),
        Field("Position", content.position or "any", 1.9),
        Field("Need by", day_words(content.need_by), 0.9, bold=True),
        Field("Job", content.job or "none", 0.9),
        Field("Sheet of", day_words(content.drawn_on), 0.85),
    ]


def _drawing(pen: Pen, width: float, content: SheetContent) -> Band:
    shares, gap = (3.9, 1.0), 2.0
    side_mm = Box(0, 0, width, 1).columns(shares, gap)[0].w
    least = max(_LEAST_PICTURE_MM, height_mm(content, side_mm) + 1.2)

    def draw(box: Box) -> None:
        side, turned = box.inset(0, 0.6).columns(shares, gap)
        draw_assembly(pen, side, content)
        draw_orientation(pen, turned, content)

    return fixed(least, least + 6.0, draw)


def _strip(pen: Pen, width: float, content: SheetContent, overleaf: Overleaf) -> list[Band]:
    hose, length = content.hose, content.length
    within = tolerance(length.plus_mm, length.minus_mm)
    rows = [
        [
            Field("Hose: code, maker, product, type, size", hose_words(hose), 2.6),
            Field("Working pressure and its source", rating_words(hose.rating), 2.2),
            Field("Bend radius, at least", bend_words(hose), 1.3),
            Field("Temperature", temperature_words(hose), 1.0),
            Field("Reel", hose.reel or "write it:", 0.8),
        ],
        [
            Field(
                f"Length, {length.basis.value}",
                f"{short_figure(length.length_mm)} {within} mm ({length.tolerance_source})",
                1.8,
            ),
            Field("Cut length", millimetres(length.cut_length_mm), 1.0, 12, bold=True),
            Field("How the cut length comes about", length.arithmetic, 1.9),
            Field("Cleanliness", content.cleanliness or "none asked", 1.0),
            Field("Lines for stamping", "\n".join(content.stamp_lines) or "none given", 1.9),
        ],
        [
            Field("WORKING PRESSURE", bars(content.pressure.working_bar), 1.0, 13, bold=True),
            Field("It is the lowest of", binding_words(content.pressure), 2.2),
            Field("PROOF PRESSURE", bars(content.test.pressure_bar), 1.0, 13, bold=True),
            Field("Proof test", proof_words(content.test), 2.0),
        ],
    ]
    if content.sleeves:
        rows.append([Field("Sleeves", _sleeve_lines(content))])
    return [field_row(pen, width, row, overleaf, least=6.6) for row in rows]


def _sleeve_lines(content: SheetContent) -> str:
    return "; ".join(sleeve_words(n, sleeve) for n, sleeve in enumerate(content.sleeves, 1))


def _ends(pen: Pen, width: float, content: SheetContent, overleaf: Overleaf) -> list[Band]:
    near, far = content.ends
    column = (width - _GAP_MM) / 2
    parts = zip(
        *(_padded(part_bands(pen, column, end, overleaf), content) for end in content.ends),
        strict=True,
    )
    crimps = [
        crimp_bands(pen, column, near, overleaf, mirrored=False),
        crimp_bands(pen, column, far, overleaf, mirrored=True),
    ]
    rows = [beside(pair, _GAP_MM) for pair in parts]
    if len(crimps[0]) == len(crimps[1]):
        rows += [beside(pair, _GAP_MM) for pair in zip(*crimps, strict=True)]
    else:
        rows.append(beside([stack(bands) for bands in crimps], _GAP_MM))
    return rows


def _padded(bands: list[Band], content: SheetContent) -> list[Band]:
    """Both ends get as many rows, so that they stand level."""
    most = 5 if any(end.small_parts or end.torque for end in content.ends) else 4
    return [*bands, *[space(0.0)] * (most - len(bands))]
