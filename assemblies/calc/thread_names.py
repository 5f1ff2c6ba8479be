"""Connections and sizes as a catalogue writes them, held against an end of the threads table."""

import re
import unicodedata
from collections.abc import Mapping

from assemblies.calc.connections import BSP, CONE_37, FLAT_FACE, end_named, standard_end
from assemblies.calc.sizes import SizeError, parse_size
from assemblies.calc.thread_words import NPT, PIPES
from assemblies.standards import tables

_MORE: Mapping[str, str] = {
    "npt": "NPT", "nptf": "NPT", "bspt": "BSP taper", "bsp taper": "BSP taper",
    "bsp 30 cone": "BSP 30° cone", "45 cone": "45° cone", "sae 45": "45° cone",
    "sae 45 flare": "45° cone", "bspp 60 cone": BSP, "jic 37 cone": CONE_37,
    "sae orfs": FLAT_FACE, "o ring flat face": FLAT_FACE,
}  # fmt: skip
_WORD = re.compile(r"[0-9a-z]+")
_TUBE = re.compile(r"[ls]?\s*(\d{1,2})(?!\d|x)")
_METRIC = re.compile(r"m\s?\d{2}\s?x\s?\d(?:\.\d)?")
_PIPE = re.compile(r"(?:(\d)[ .-])?(?:(\d)/(\d{1,2})|(\d)(?![\d/]))")
_LEADING_DASH = re.compile(r"^-\s?\d{1,2}[ ,]+")
_DASH = re.compile(r"^(?:dash )?-?\s?0?(\d{1,2})$")
_UN = re.compile(r"(?:(\d)\s*[ -]\s*)?(?:(\d{1,2})/(\d{1,2})|(\d{1,2}))\s*-\s*(\d{2})\b")


def end_of(connection: str) -> str:
    """The end of the threads table that a connection's name means; empty where none.

    >>> end_of("DKOL"), end_of("NPT"), end_of("magic")
    ('24° cone L', 'NPT', '')
    """
    plain = unicodedata.normalize("NFKC", connection).casefold()
    return end_named(connection) or _MORE.get(" ".join(_WORD.findall(plain)), "")


def is_end(connection: str, written: str, *, end: str, size: str) -> bool:
    """Whether a connection and size, however written, are this end and size of the tables.

    Parameters: connection and written size, as a catalogue has them; end and size, as the
    tables name them. The size may be written as tube (`22`, `L22`), thread (`M30×2`,
    `1 1/16-12`), dash (`-12`) or inches (`3/4`). Never raises.

    >>> is_end("DKOL", "L22 M30×2", end="24° cone L", size="22")
    True
    >>> is_end("JIC", "1 1/16-12", end="37° cone", size="-12"), is_end("BSP", "G 1/2", end=BSP,
    ...     size="3/4")
    (True, False)
    """
    if end_of(connection) != end:
        return False
    rated = standard_end(connection, written)
    if rated is not None:
        return rated.size == size
    row = next((one for one in tables.threads() if (one.end, one.size) == (end, size)), None)
    if row is None:
        return _dash(written) == _dash(size)
    text = _plain(written)
    if row.tube_mm is not None:
        tube = _TUBE.match(text)
        metric = _METRIC.search(text)
        by_tube = tube is None or tube[1] == size
        by_thread = metric is None or metric[0].replace(" ", "") == row.thread.casefold()
        return (tube is not None or metric is not None) and by_tube and by_thread
    if row.end in PIPES or row.end == NPT:
        pipe = _PIPE.search(text)
        return pipe is not None and _inches(*pipe.groups()) == size
    unified = _UN.search(_LEADING_DASH.sub("", text))
    if unified is not None:
        return _thread(unified) == row.thread
    dash = _DASH.search(text)
    return dash is not None and dash[1] == size[1:]


def _thread(found: re.Match[str]) -> str:
    whole, top, bottom, bare, per_inch = found.groups()
    return f"{_inches(whole, top, bottom, bare)}-{per_inch}"


def _inches(whole: str | None, top: str | None, bottom: str | None, bare: str | None) -> str:
    """A fraction of inches as the tables write it: `1 1/4`."""
    fraction = f"{top}/{bottom}" if top else str(bare)
    return f"{whole} {fraction}" if whole else fraction


def _dash(size: str) -> int | None:
    try:
        return parse_size(size).dash
    except SizeError:
        return None


def _plain(text: str) -> str:
    return unicodedata.normalize("NFKC", text).casefold().replace("×", "x").strip()
