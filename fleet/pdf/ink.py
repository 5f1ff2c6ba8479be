"""Text as the PDF writes it: each run encoded once for a paper, however often it is set."""

from typing import Any

from reportlab.pdfbase import pdfmetrics

_KEPT = 4_000
_ESCAPED = {code: f"\\{code:03o}" for code in range(256) if not 32 <= code < 127}
_ESCAPED |= {ord(sign): f"\\{sign}" for sign in "()\\"}


class Ink:
    """Encodes runs of text for one paper and remembers them."""

    def __init__(self, canvas: Any) -> None:
        self._doc = (
            canvas._doc
        )  # the embedded faces belong to the document, which has no other name
        self._kept: dict[tuple[str, str], list[tuple[str, str]]] = {}

    def encode(self, face: str, run: str) -> list[tuple[str, str]]:
        """Give (font name in this paper, escaped string) for each part of a run."""
        parts = self._kept.get((face, run))
        if parts is None:
            if len(self._kept) >= _KEPT:
                self._kept.clear()
            font = pdfmetrics.getFont(face)
            parts = self._kept[face, run] = [
                (
                    font.getSubsetInternalName(subset, self._doc),
                    codes.decode("latin-1").translate(_ESCAPED),
                )
                for subset, codes in font.splitString(run, self._doc)
            ]
        return parts
