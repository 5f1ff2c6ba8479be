"""Text that people wrote, made ready for paper: no sign lost, nothing wider than its box.

There is no markup anywhere in the papers: `<`, `&` and the like are signs as any other.
"""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field

from fleet.pdf.fonts import face_of, width_pt

LEADING = 1.19  # ascent 0.93 and descent 0.24 of the shipped faces, so that lines never touch
LONGEST = 6_000
IN_THE_RECORD = " … (continued in the record)"

# Signs that show nothing and change nothing when a text is set sign by sign.
_INVISIBLE = frozenset("\u00ad\u034f\u061c\u180e\u200b\u200c\u200d\u2060\ufeff\ufe0e\ufe0f")
_BREAK_AFTER = frozenset("/\\-_.,;:|+=)]}>&@·–—")
_JOINED_SCRIPTS = (range(0x0900, 0x1000), range(0x1000, 0x10A0), range(0x1780, 0x1800))


@dataclass
class Signs:
    """What a page must say about the signs on it: those that have no face, those not joined."""

    missing: set[str] = field(default_factory=set)
    unjoined: bool = False

    def words(self) -> str:
        """The remark for the foot of the page; empty where there is nothing to say."""
        parts = []
        if self.missing:
            parts.append(
                "[U+…]: a sign that no typeface on this computer has, shown by its Unicode number."
            )
        if self.unjoined:
            parts.append(
                "Some text is set sign by sign as typed, neither joined nor turned: "
                "read it on the screen too."
            )
        return " ".join(parts)


def readable(text: str, signs: Signs | None = None) -> str:
    """Compose (NFC), drop control signs, and put the code point for a sign that has no face."""
    if text.isascii() and text.isprintable():
        return text
    composed = unicodedata.normalize("NFC", text.replace("\r\n", "\n"))
    if signs is not None:
        _note_signs(composed, signs)
    return composed.translate(_SHOWN)


class _Shown(dict[int, str]):
    """What stands on paper for a sign, worked out when the sign is first met."""

    def __missing__(self, code: int) -> str:
        shown = self[code] = _shown(chr(code))
        return shown


_SHOWN = _Shown()
_PLAIN: set[str] = set()


def _shown(sign: str) -> str:
    if sign in "\n\r\x0b\x0c\u0085\u2028\u2029":
        return "\n"
    if sign == "\t" or (sign.isspace() and sign != "\u00a0"):
        return " "
    if sign in _INVISIBLE or unicodedata.category(sign) == "Cc":
        return ""
    return f"[U+{ord(sign):04X}]" if _has_no_face(sign) else sign


def _has_no_face(sign: str) -> bool:
    # A sign that turns the direction would make the paper read otherwise than the record: show it.
    return unicodedata.category(sign) in ("Cf", "Cs", "Cn") or face_of(sign) is None


def _note_signs(text: str, signs: Signs) -> None:
    for sign in set(text) - _PLAIN:
        if _shown(sign).startswith("[U+"):
            signs.missing.add(sign)
        elif _needs_joining(sign):
            signs.unjoined = True
        else:
            _PLAIN.add(sign)


def _needs_joining(sign: str) -> bool:
    return (
        unicodedata.category(sign) in ("Mn", "Mc", "Me")
        or unicodedata.bidirectional(sign) in ("R", "AL")
        or any(ord(sign) in script for script in _JOINED_SCRIPTS)
    )


def shorten(text: str, longest: int = LONGEST) -> str:
    """Cut a text that no paper should carry whole, and say where the rest is."""
    return text if len(text) <= longest else text[:longest].rstrip() + IN_THE_RECORD


def wrap(text: str, size_pt: float, width: float, *, bold: bool = False) -> list[str]:
    """Break a readable text into lines no wider than `width` points."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        lines.extend(_wrap_paragraph(paragraph, size_pt, width, bold))
    return lines


def _wrap_paragraph(text: str, size_pt: float, width: float, bold: bool) -> list[str]:
    if width_pt(text, size_pt, bold=bold) <= width:
        return [text.rstrip(" ")]
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if width_pt(longer, size_pt, bold=bold) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        *whole, line = _break_word(word, size_pt, width, bold)
        lines.extend(whole)
    return [*lines, line]


def _break_word(word: str, size_pt: float, width: float, bold: bool) -> Iterator[str]:
    """Break one long word after a sign that allows it, else anywhere but before an accent."""
    while width_pt(word, size_pt, bold=bold) > width:
        most = _count_that_fits(word, size_pt, width, bold)
        cut = next((n for n in range(most, most // 2, -1) if word[n - 1] in _BREAK_AFTER), most)
        while cut > 1 and unicodedata.combining(word[cut]):
            cut -= 1
        yield word[:cut]
        word = word[cut:]
    yield word


def _count_that_fits(word: str, size_pt: float, width: float, bold: bool) -> int:
    low, high = 1, len(word) - 1  # one sign at least, or a box narrower than a sign would hang us
    while low < high:
        middle = (low + high + 1) // 2
        if width_pt(word[:middle], size_pt, bold=bold) <= width:
            low = middle
        else:
            high = middle - 1
    return low


@dataclass(frozen=True)
class Fitted:
    """Lines that fit a box, at the size that made them fit; `whole` is false where some did not."""

    lines: tuple[str, ...]
    size_pt: float
    whole: bool

    @property
    def height_pt(self) -> float:
        return len(self.lines) * self.size_pt * LEADING

    def widest_pt(self, *, bold: bool = False) -> float:
        return max((width_pt(line, self.size_pt, bold=bold) for line in self.lines), default=0.0)


def fit(
    text: str,
    size_pt: float,
    floor_pt: float,
    width: float,
    height: float,
    *,
    bold: bool = False,
    marker: str = " …",
) -> Fitted:
    """Wrap a readable text into a box, shrinking to the floor size; what is left over is marked.

    Sizes and sides in points. The lines never pass the box: where even the floor size does not
    hold the whole text, the lines that fit are kept, the last one ends in `marker`, and `whole`
    is false so that the caller prints the whole text elsewhere.
    """
    size = size_pt
    while True:
        lines = wrap(text, size, width, bold=bold)
        if len(lines) * size * LEADING <= height + 0.01:
            return Fitted(tuple(lines), size, True)
        if size <= floor_pt:
            room = int((height + 0.01) // (size * LEADING))
            return _cut(lines, size, width, room, bold=bold, marker=marker)
        size = max(floor_pt, size - 0.5)


def _cut(
    lines: list[str], size: float, width: float, room: int, *, bold: bool, marker: str
) -> Fitted:
    kept = lines[:room]
    if kept:
        last = kept[-1]
        while last and width_pt(last + marker, size, bold=bold) > width:
            last = last[:-1]
        kept[-1] = last + marker if width_pt(last + marker, size, bold=bold) <= width else ""
    return Fitted(tuple(kept), size, False)
