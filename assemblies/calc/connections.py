"""Ends and hose types by the names the trade gives them, and the standards' rows behind."""

import re
import unicodedata
from collections.abc import Mapping

from assemblies.calc.sizes import SizeError, parse_size
from assemblies.standards import tables
from assemblies.standards.rows import EndRating, HoseType

CONE_L, CONE_S = "24° cone L", "24° cone S"
FLANGE_61, FLANGE_62 = "flange code 61", "flange code 62"
CONE_37, FLAT_FACE, BSP = "37° cone", "flat-face", "BSP 60° cone"

ENDS = (CONE_L, CONE_S, FLANGE_61, FLANGE_62, CONE_37, FLAT_FACE, BSP)
"""The ends the trade meets daily. Those without a row are rated by their maker only."""

_NAMES: Mapping[str, str] = {
    "24 cone l": CONE_L, "24 cone light": CONE_L, "dkol": CONE_L, "dkl": CONE_L, "cel": CONE_L,
    "24 cone s": CONE_S, "24 cone heavy": CONE_S, "dkos": CONE_S, "dks": CONE_S, "ces": CONE_S,
    "flange code 61": FLANGE_61, "code 61": FLANGE_61, "sae flange 3000": FLANGE_61,
    "flange code 62": FLANGE_62, "code 62": FLANGE_62, "sae flange 6000": FLANGE_62,
    "37 cone": CONE_37, "37": CONE_37, "jic": CONE_37, "jic 37": CONE_37,
    "flat face": FLAT_FACE, "orfs": FLAT_FACE,
    "bsp 60 cone": BSP, "bsp": BSP, "bspp": BSP, "dkr": BSP,
}  # fmt: skip
_WORD = re.compile(r"[0-9a-z]+")
_TUBE = re.compile(r"^[ls]?\s*(\d{1,2})\s*[ls]?$")
_THREAD = re.compile(r"m\s*(\d{2})\s*[x×*]\s*(\d(?:[.,]\d)?)")


def end_named(text: str) -> str | None:
    """Find the end that a name means: `DKOL`, `24° cone, light`, `JIC`, `SAE code 61`.

    Parameters: text, any length. Returns one of ENDS, or None. Never raises.
    Source: the trade's names are common practice, no published source.

    >>> end_named("DKOS"), end_named("24° cone, heavy"), end_named("magic")
    ('24° cone S', '24° cone S', None)
    """
    words = _WORD.findall(_plain(text))
    for drop in ("", "sae", "iso"):
        found = _NAMES.get(" ".join(word for word in words if word != drop))
        if found is not None:
            return found
    return None


def standard_end(connection: str, size: str) -> EndRating | None:
    """Find the standard's row of a connection and its size, however both are written.

    Parameters: connection, a name `end_named` knows; size, a tube (`22`, `L22`), a thread
    (`M30×2`), both, or a flange size (`3/4`, `-12`). Returns the row, or None where the text
    fits no row or two. Never raises. Source: ISO 8434-1, SAE J518 (see the table's rows).

    >>> standard_end("DKOL", "L22 M30×2").working_pressure_bar
    Decimal('160')
    >>> standard_end("SAE code 61", '3/4"').working_pressure_bar
    Decimal('345')
    """
    end = end_named(connection)
    if end is None:
        return None
    found = {row.size: row for row in tables.end_ratings() if row.end == end and _fits(row, size)}
    return next(iter(found.values())) if len(found) == 1 else None


def hose_type_named(text: str) -> HoseType | None:
    """Find a hose type by any of its names: `2SN`, `R2AT`, `SAE 100R2AT`, `EN 853 2SN`.

    Parameters: text. Returns the first type with one of these names, or None. Never raises.
    Source: the types' names, see the table's rows.

    >>> hose_type_named("SAE 100 R2AT").type, hose_type_named("three-braid")
    ('2SN', None)
    """
    joined = re.sub(r"100\s+r", "100r", _plain(text))
    words = {word.upper() for word in _WORD.findall(joined)}
    for kind in tables.hose_types():
        if kind.type.upper() in words:
            return kind
    return next((kind for kind in tables.hose_types() if words & set(kind.names)), None)


def _fits(row: EndRating, size: str) -> bool:
    text = _plain(size)
    if row.thread is None:
        return _inch(row.size) == _inch(size)
    thread = _THREAD.search(text)
    tube = _TUBE.match(_THREAD.sub("", text).strip(" ,/()"))
    by_tube = tube is not None and tube[1] == row.size
    by_thread = thread is not None and f"m{thread[1]}x{thread[2]}".replace(",", ".") == (
        row.thread.casefold()
    )
    if thread is not None and tube is not None:
        return by_tube and by_thread
    return by_tube or by_thread


def _inch(size: str) -> int | None:
    try:
        return parse_size(size).dash
    except SizeError:
        return None


def _plain(text: str) -> str:
    return unicodedata.normalize("NFKC", text).casefold()
