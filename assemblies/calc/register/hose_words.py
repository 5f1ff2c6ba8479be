"""Types and sizes of hose that people write in one word, and hose named by its tube."""

import re
from dataclasses import replace

from assemblies.calc.sizes import AmbiguousSize, UnknownSize, parse_size, tube_size_dn

from .entries import Sized

_EXPLICIT_SIZE = re.compile(
    r"(?:DN|NW)\s?\d{1,3}\b"
    r"|\b(?:\d{1,2}[ .-])?\d{1,2}/\d{1,2}(?:\s?(?:\"|''|″|inch|in\b))?"
    r"|(?<=\w)-\d{1,2}\b",
    re.IGNORECASE,
)
_HOSE_TYPE = re.compile(
    r"\b(?:SAE\s?)?(?:100\s?)?R\d{1,2}[A-Z]{0,2}\b|\b[1-6]\s?S[NTCPHK]\b|\b[1-3]TE\b", re.IGNORECASE
)


def size_within(text: str) -> Sized | None:
    """The size that a type of hose names with a mark of its own (`2SN DN12`, `R2AT-8`).

    >>> size_within("2SN DN12").size.dn, size_within("4SP") is None
    (12, True)
    """
    marks = [found[0] for found in _EXPLICIT_SIZE.finditer(text)]
    if len(marks) != 1:
        return None
    try:
        return Sized(parse_size(marks[0]), marks[0])
    except (UnknownSize, AmbiguousSize):
        return None


def type_within(text: str) -> str:
    """The type of hose that a size names beside it (`1/2" 2SN`); empty where none is.

    >>> type_within('1/2" 2SN'), type_within("DN12")
    ('2SN', '')
    """
    found = _HOSE_TYPE.search(text)
    return " ".join(found[0].upper().split()) if found else ""


_DASH = re.compile(r"(?:-|#|dash ?-?)\s?(\d{1,2})", re.IGNORECASE)


def sized_by_tube(size: Sized, notation: str) -> Sized:
    """The size of a hose whose dash is that of the tube it replaces (100R5, 100R14).

    Parameters: the size as any other hose has it; how bare numbers are meant. A size that was
    not written as a dash, or that such hose does not have, is left as it is.
    Source: SAE J517 (100R5), by a trade chart; see `tube_size_dn`.

    >>> from assemblies.calc.sizes import parse_size
    >>> sized_by_tube(Sized(parse_size("-8"), "-8"), "").size.dn
    10
    """
    written = _DASH.fullmatch(size.typed)
    bare = size.typed.isdecimal() and notation == "dash"
    if written is None and not bare:
        return size
    try:
        dn = tube_size_dn(int(written[1] if written else size.typed))
    except UnknownSize:
        return size
    return Sized(replace(size.size, dn=dn), size.typed)
