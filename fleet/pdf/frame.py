"""The frame of every paper: its page size, margins, foot, page numbers and properties."""

import io
import zlib
from dataclasses import dataclass, replace
from typing import BinaryIO

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from fleet.pdf.fonts import REGULAR, face_of, width_pt
from fleet.pdf.ink import Ink
from fleet.pdf.pen import PT, Box, Pen, Placed
from fleet.pdf.text import readable

MARGIN_MM = 9.0
FOOT_MM = 7.0
_FOOT_PT = 6.0
_PAGE_COUNT = "page-count"


@dataclass(frozen=True)
class PageSize:
    """A size of paper in mm."""

    name: str
    width_mm: float
    height_mm: float

    def turned(self) -> "PageSize":
        """The same paper, the long side across."""
        return replace(self, width_mm=self.height_mm, height_mm=self.width_mm)

    @property
    def body(self) -> Box:
        """What is left for content between the margins and above the foot."""
        height = self.height_mm - 2 * MARGIN_MM - FOOT_MM
        return Box(MARGIN_MM, MARGIN_MM, self.width_mm - 2 * MARGIN_MM, height)


A4 = PageSize("A4", 210.0, 297.0)
LETTER = PageSize("Letter", 215.9, 279.4)
SIZES = {size.name.lower(): size for size in (A4, LETTER)}


def page_size(name: str) -> PageSize:
    """The paper of this name; ValueError names those there are."""
    try:
        return SIZES[name.strip().lower()]
    except KeyError:
        known = " or ".join(size.name for size in SIZES.values())
        raise ValueError(f"'{name}' is not a paper size here: {known}.") from None


@dataclass(frozen=True)
class PaperStamp:
    """What the foot of a page says of the paper it belongs to."""

    title: str
    number: str
    checksum: str


class Paper:
    """One PDF: pages are opened one after the other, and what is drawn is compressed at once.

    The same calls give the same bytes: no clock is read and no random name is drawn.
    """

    def __init__(
        self,
        stamp: PaperStamp,
        page: PageSize,
        *,
        subject: str = "",
        author: str = "Layline",
        foot: bool = True,
        log: list[Placed] | None = None,
    ) -> None:
        self.page = page
        self.stamp = stamp
        self.pages = 0
        self._log = log
        size = (page.width_mm * PT, page.height_mm * PT)
        face_of("0")  # the faces must be registered before the first page is opened
        self._canvas = _Canvas(
            io.BytesIO(),  # not written to: `save` hands the bytes on without a copy between
            pagesize=size,
            invariant=1,
            pageCompression=1,
            initialFontName=REGULAR,
            lang="en-GB",
        )
        self._canvas.setTitle(readable(f"{stamp.title} {stamp.number}".strip()))
        self._canvas.setAuthor(readable(author))
        self._canvas.setSubject(readable(subject))
        self._canvas.setCreator("Layline")
        self._canvas.setKeywords(f"number {readable(stamp.number)}, sha256 {stamp.checksum}")
        self._ink = Ink(self._canvas)
        self._pen: Pen | None = None
        self._has_foot = foot
        self._foot = stamp

    def new_page(self, stamp: PaperStamp | None = None) -> Pen:
        """End the page before and open the next; its foot carries `stamp`, or the paper's own."""
        self._end_page()
        self.pages += 1
        self._foot = stamp or self.stamp
        self._pen = Pen(self._canvas, self._ink, self.page.height_mm, self.pages, self._log)
        return self._pen

    def define(self, name: str, text: str, size_pt: float, *, right: bool = False) -> None:
        """Say what stands where `Pen.later` left a place for it."""
        width = width_pt(text, size_pt)
        left = -width if right else 0.0
        self._canvas.beginForm(name, left, -0.3 * size_pt, left + width, size_pt)
        self._canvas.setFont(REGULAR, size_pt)
        self._canvas.drawString(left, 0, text)
        self._canvas.endForm()

    def save(self, out: BinaryIO) -> None:
        """End the last page and write the whole paper."""
        self._end_page()
        if self._has_foot:
            self.define(_PAGE_COUNT, str(self.pages), _FOOT_PT)
        out.write(self._canvas.getpdfdata())

    def to_bytes(self) -> bytes:
        """End the last page and give the whole paper."""
        out = io.BytesIO()
        self.save(out)
        return out.getvalue()

    def _end_page(self) -> None:
        if self._pen is None:
            return
        if self._has_foot:
            self._draw_foot(self._pen)
        self._pen.lift()
        self._canvas.showPage()
        self._pen = None

    def _draw_foot(self, pen: Pen) -> None:
        body = self.page.body
        foot = Box(body.x, body.bottom + 1.0, body.w, FOOT_MM - 1.0)
        pen.line((foot.x, foot.y), (foot.right, foot.y), 0.3)
        remark, line = foot.inset(0, 0.4).rows([1, 1])
        words = pen.signs.words()
        if words:
            pen.text(remark, words, _FOOT_PT, floor_pt=4.5)
        counted = Box(line.right - 26, line.y, 20.5, line.h)
        pen.text(counted, f"page {pen.page} of", _FOOT_PT, align="right")
        pen.later(_PAGE_COUNT, line.right - 4.6, line.y + 0.93 * _FOOT_PT / PT)
        left = Box(line.x, line.y, line.w - 30, line.h)
        pen.text(left, self._foot_words(), _FOOT_PT, floor_pt=4.5)

    def _foot_words(self) -> str:
        # What tells one paper from another stands first: a long title is cut, they never are.
        parts = [self._foot.number, f"checksum {short(self._foot.checksum)}", self._foot.title]
        return "Layline · " + " · ".join(part for part in parts if part)


def short(checksum: str) -> str:
    """The first twelve digits of a checksum in groups that a person can read out."""
    return "-".join(checksum[n : n + 4] for n in range(0, 12, 4))


class _WrittenOnce(pdfdoc.PDFStream):  # type: ignore[misc]  # ReportLab ships no types
    """A page's content, let go as soon as it is written."""

    def format(self, document: object) -> bytes:
        written: bytes = super().format(document)
        self.content = None
        return written


class _Canvas(Canvas):  # type: ignore[misc]  # ReportLab ships no types
    """A canvas that compresses each page when it is done, so that a long book stays small."""

    def showPage(self) -> None:  # noqa: N802  # the name is ReportLab's
        super().showPage()
        page = self._doc.Pages.pages[-1]
        filtered = pdfdoc.PDFDictionary({"Filter": pdfdoc.PDFName("FlateDecode")})
        content = zlib.compress(pdfdoc.pdfdocEnc(page.stream))
        page.Contents = _WrittenOnce(filtered, content, filters=[])
        page.stream = None
