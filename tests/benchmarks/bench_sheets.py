"""How long the papers take beside bare drawing, and what memory a book of 500 takes.

`BENCH_ROUNDS` (15) pairs; only ratios taken in one run mean anything. The floor is a page with the
sheet's own lines of text, each set by one bare `drawString`, in one of the sheet's two faces: no
wrapping, no lines, no codes, no drawing, one face embedded instead of two. `BENCH_SHEETS` (500) is
the length of the long book; the short one has 50. Each book is drawn in a process of its own, sheet
by sheet from a generator into a file.
"""

import io
import os
import re
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any
from unittest import mock

from reportlab.pdfgen.canvas import Canvas

from assemblies.calc.sheet import SheetContent
from assemblies.pdf.build_sheet import draw_build_sheet
from assemblies.pdf.certificate import draw_certificate
from assemblies.pdf.fitting_sheet import draw_fitting_sheet
from assemblies.pdf.hose_book import BookEntry, BookHead, draw_hose_book
from fleet.pdf.fonts import REGULAR, face_of
from fleet.pdf.pen import Pen
from scheduling.pdf.due_list import draw_due_list
from tests.unit.assemblies import certificate_samples, fitting_samples
from tests.unit.assemblies.sheet_samples import everyday, oriented, worst
from tests.unit.scheduling.test_due_list_paper import content as due_content

LONG, SHORT = int(os.environ.get("BENCH_SHEETS", "500")), 50


def main() -> None:
    face_of("0")
    rounds = int(os.environ.get("BENCH_ROUNDS", "15"))
    _say(f"papers, {rounds} pairs, medians")
    for name, content, draw, links in PAPERS:
        _pair(name, content, draw, links, rounds)
    _books()
    _due_list()


# A paper's name, its content, what draws it, and its links: new each time, as in life.
PAPERS: tuple[tuple[str, Any, Callable[[Any], bytes], tuple[str, ...]], ...] = (
    ("sheet, everyday", everyday(), draw_build_sheet, ("job_link", "spec_link")),
    ("sheet, both ends bent", oriented("135"), draw_build_sheet, ("job_link", "spec_link")),
    ("sheet, at its worst", worst(), draw_build_sheet, ("job_link", "spec_link")),
    ("fitting-up sheet, everyday", fitting_samples.everyday(), draw_fitting_sheet, ("link",)),
    ("fitting-up sheet, at its worst", fitting_samples.worst(), draw_fitting_sheet, ("link",)),
    ("certificate, everyday", certificate_samples.everyday(), draw_certificate, ("link",)),
    ("certificate, at its worst", certificate_samples.worst(), draw_certificate, ("link",)),
)


def _pair(
    name: str, content: Any, draw: Callable[[Any], bytes], links: tuple[str, ...], rounds: int
) -> None:
    lines = _lines_of(draw, content)
    ours: list[float] = []
    floor: list[float] = []
    for turn in range(rounds + 1):
        # As in life no paper is drawn twice: number and codes are new each time.
        new = {link: f"https://hoses.example/{n}/{turn}" for n, link in enumerate(links)}
        changed = replace(content, number=f"BQ {turn}", **new)
        pair = [(floor, partial(_bare, lines)), (ours, partial(draw, changed))]
        for kept, call in pair if turn % 2 else reversed(pair):
            kept.append(_timed(call) * 1000)
    del ours[0], floor[0]  # the first pair reads the faces
    ratio = statistics.median(a / b for a, b in zip(ours, floor, strict=True))
    middle, bare = statistics.median(ours), statistics.median(floor)
    note = f"{ratio:.2f} x {len(lines)} bare drawString calls ({bare:.1f} ms)"
    _say(f"{name:42}{middle:10.2f} ms  {note}")


def _lines_of(draw: Callable[[Any], bytes], content: Any) -> list[tuple[str, float]]:
    lines: list[tuple[str, float]] = []

    def note(_pen: Pen, line: str, size: float, _bold: bool) -> None:
        lines.append((line, size))

    with mock.patch.object(Pen, "_set_line", note):
        draw(content)
    return lines


def _bare(lines: list[tuple[str, float]]) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=1)
    canvas.setFont(REGULAR, 8)
    for number, (line, _) in enumerate(lines):
        canvas.drawString(30, 800 - 2.5 * number, line)
    canvas.save()
    return out.getvalue()


def _books() -> None:
    short, long = (_book_apart(count) for count in (SHORT, LONG))
    per_sheet = (long["peak_mb"] - short["peak_mb"]) * 1024 / (LONG - SHORT)
    for count, seen in ((SHORT, short), (LONG, long)):
        note = f"{count / seen['seconds']:.0f} sheets/s, file {seen['file_mb']:.1f} MB"
        name = f"book of {count} sheets, peak memory"
        _say(f"{name:42}{seen['peak_mb']:10.1f} MB  {note}")
    grown = long["peak_mb"] - short["peak_mb"]
    _say(
        f"{'grown from the short book to the long':42}{grown:10.1f} MB  {per_sheet:.1f} kB a sheet"
    )


def _book_apart(count: int) -> dict[str, float]:
    command = [sys.executable, "-m", "tests.benchmarks.bench_sheets", str(count)]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
    return dict(zip(("seconds", "peak_mb", "file_mb"), map(float, told), strict=True))


def _one_book(count: int) -> None:
    entries = tuple(
        BookEntry(str(n), f"Position {n}, rod side", "working", "4KX7W2N9", f"LX-{n:04d} rev 3")
        for n in range(count)
    )
    head = BookHead("BQ-014", "Blackmere Quarry", date(2026, 11, 25), entries)
    with tempfile.TemporaryFile() as out:
        seconds = _timed(lambda: draw_hose_book(head, _sheets(count), out))
        size = out.tell() / 2**20
    _say(f"{seconds} {_peak_mb()} {size}")


def _peak_mb() -> float:
    """The most memory this program had: `ru_maxrss` also counts the program that began it."""
    status = Path("/proc/self/status")
    if status.exists():
        found = re.search(r"VmHWM:\s+(\d+)", status.read_text())
        if found:
            return int(found[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _sheets(count: int) -> Iterator[SheetContent]:
    base = everyday()
    for number in range(count):
        code = f"LX-{number:04d}"
        link = f"https://hoses.example/s/{code}"
        yield replace(base, spec_code=code, title=f"Position {number}, rod side", spec_link=link)


def _due_list() -> None:
    due = due_content(machines=100, rows=40)
    seconds = _timed(lambda: draw_due_list(due))
    _say(f"{'due list of 4,000 rows':42}{seconds:10.2f} s   {4000 / seconds:,.0f} rows/s")


def _timed(call: Callable[[], object]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    _one_book(int(sys.argv[1]))
