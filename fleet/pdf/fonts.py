"""The typefaces of the papers: which face draws a sign, how wide it is, and what none can draw.

Latin, Greek and Cyrillic are drawn by the two faces shipped beside this file and embedded in every
paper. Other signs are drawn by a face of the host where it has one with TrueType outlines; a face
with the other kind of outline cannot be embedded and is passed over.
"""

import os
from collections.abc import Container, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

REGULAR = "Layline"
BOLD = "Layline-Bold"

_TYPEFACES = Path(__file__).parent / "typefaces"
_HOST_FOLDERS = (
    "/usr/share/fonts",
    "/usr/local/share/fonts",
    "~/.local/share/fonts",
    "~/.fonts",
    "/Library/Fonts",
    "/System/Library/Fonts",
    "C:/Windows/Fonts",
)
# Parts of the file names under which faces with ideographs are commonly stored.
_LIKELY_NAMES = (
    *("fallback", "wqy", "uming", "ukai", "gothic", "mincho", "nanum", "batang", "cjk"),
    *("sung", "song", "ming", "heiti", "simhei", "yahei", "malgun", "meiryo", "unicode", "han"),
)
_MOST_FACES_TRIED = 24
_MOST_FACES_USED = 4
# One common sign of each writing: ideographs in two sets, Japanese syllables, Korean syllables.
_PROBES = (0x4E00, 0x6A5F, 0x3042, 0xAC00)


@dataclass(frozen=True, eq=False)
class Face:
    """One registered typeface: its name in the paper, the signs it has, and their widths."""

    name: str
    glyphs: Container[int]
    widths: dict[int, float]


def face_of(sign: str, *, bold: bool = False) -> Face | None:
    """Find the face that draws one sign; None where no face has it."""
    return _face_of(sign, bold)


def width_pt(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Measure a text of one line, in points; every sign of it must have a face."""
    table = _bold_widths() if bold else _regular_widths()
    return size_pt * sum(map(table.__getitem__, text))


def pieces(text: str, *, bold: bool = False) -> list[tuple[str, str]]:
    """Split a line into runs of one face each: (name of the face, text)."""
    own = _own_face(bold)
    if text.isascii():
        return [(own.name, text)]
    runs: list[tuple[str, str]] = []
    for sign in text:
        face = _face_of(sign, bold) or own
        if runs and runs[-1][0] == face.name:
            runs[-1] = (face.name, runs[-1][1] + sign)
        else:
            runs.append((face.name, sign))
    return runs


@cache
def _own_face(bold: bool) -> Face:
    name, file = (
        (BOLD, "DejaVuSansCondensed-Bold.ttf") if bold else (REGULAR, "DejaVuSansCondensed.ttf")
    )
    return _register(name, _TYPEFACES / file)


def _register(name: str, path: Path) -> Face:
    font = TTFont(name, str(path))
    pdfmetrics.registerFont(font)
    return Face(name, font.face.charToGlyph, font.face.charWidths)


@lru_cache(maxsize=30_000)
def _face_of(sign: str, bold: bool) -> Face | None:
    code = ord(sign)
    # The bold face has fewer signs than the regular one: a plain sign is better than none.
    for face in (_own_face(True), _own_face(False)) if bold else (_own_face(False),):
        if code in face.glyphs:
            return face
    return next((face for face in host_faces() if code in face.glyphs), None)


class _WidthTable(dict[str, float]):
    """Width of each sign in ems, looked up when it is first met."""

    def __init__(self, bold: bool) -> None:
        super().__init__()
        self.bold = bold

    def __missing__(self, sign: str) -> float:
        face = _face_of(sign, self.bold)
        em = face.widths[ord(sign)] / 1000 if face else 0.0
        self[sign] = em
        return em


@cache
def _regular_widths() -> _WidthTable:
    return _WidthTable(False)


@cache
def _bold_widths() -> _WidthTable:
    return _WidthTable(True)


@cache
def host_faces() -> tuple[Face, ...]:
    """The host's own faces with ideographs, found once; empty where it has none we can embed."""
    return find_faces(tuple(Path(folder).expanduser() for folder in _HOST_FOLDERS))


def find_faces(folders: tuple[Path, ...]) -> tuple[Face, ...]:
    """Register the faces in these folders that together draw most of the ideographs."""
    found: list[Face] = []
    wanted = set(_PROBES)
    for path in list(_likely_files(folders))[:_MOST_FACES_TRIED]:
        if not wanted or len(found) == _MOST_FACES_USED:
            break
        face = _try_face(f"Host-{len(found) + 1}", path)
        if face and any(code in face.glyphs for code in wanted):
            found.append(face)
            wanted -= {code for code in wanted if code in face.glyphs}
    return tuple(found)


def _likely_files(folders: tuple[Path, ...]) -> Iterator[Path]:
    for folder in folders:
        for root, inner, names in os.walk(folder):
            inner.sort()
            for name in sorted(names):
                low = name.lower()
                if low.endswith((".ttf", ".ttc")) and any(part in low for part in _LIKELY_NAMES):
                    yield Path(root) / name


def _try_face(name: str, path: Path) -> Face | None:
    try:
        return _register(name, path)
    except (TTFError, OSError, ValueError, KeyError, IndexError):
        # Outlines of the other kind, a damaged file, or one we may not read: the next one, then.
        return None
