"""XML read as a stream of events, with all refused that no workbook needs.

The standard library's expat is fed in pieces. A document type, an entity of its own, a tag
of unreasonable length, deep nesting, endless elements, and broken XML are refused.
"""

import zipfile
import zlib
from collections.abc import Callable, Iterator
from typing import BinaryIO
from xml.parsers import expat

from .bounds import BOUNDS, Bounds
from .errors import TableRefused
from .guard import damaged

_PIECE = 65_536

StartHandler = Callable[[str, list[str]], None]
EndHandler = Callable[[str], None]
TextHandler = Callable[[str], None]


def new_parser() -> expat.XMLParserType:
    """A parser that refuses document types and entities, and knows names without prefixes."""
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.ordered_attributes = True
    parser.StartDoctypeDeclHandler = refuse_doctype
    parser.EntityDeclHandler = refuse_doctype
    parser.ExternalEntityRefHandler = refuse_doctype
    return parser


def pieces(stream: BinaryIO) -> Iterator[bytes]:
    """The part's bytes in pieces; a damaged part is refused in words."""
    while True:
        try:
            piece = stream.read(_PIECE)
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
            raise damaged() from error
        if not piece:
            return
        yield piece


def feed(parser: expat.XMLParserType, stream: BinaryIO, bounds: Bounds = BOUNDS) -> Iterator[None]:
    """Feed the part piece by piece, yielding after each, so that what was read can be taken."""
    fed = 0
    try:
        for piece in pieces(stream):
            parser.Parse(piece, False)
            fed += len(piece)
            if fed - max(parser.CurrentByteIndex, 0) > bounds.tag_bytes + _PIECE:
                raise _hostile("a tag of endless length")
            yield
        parser.Parse(b"", True)
        yield
    except expat.ExpatError as error:
        raise TableRefused(
            "broken_xml",
            f"The workbook is damaged inside (line {error.lineno} of one of its parts). Open it "
            "in a spreadsheet program and save it again.",
        ) from error


def parse(
    stream: BinaryIO,
    *,
    start: StartHandler | None = None,
    end: EndHandler | None = None,
    text: TextHandler | None = None,
    bounds: Bounds = BOUNDS,
) -> None:
    """Run a whole part through the given handlers, with nesting and elements counted."""
    parser = new_parser()
    depth = seen = 0

    def opened(name: str, attributes: list[str]) -> None:
        nonlocal depth, seen
        depth += 1
        seen += 1
        if depth > bounds.nesting or seen > bounds.elements:
            raise _hostile("elements without end")
        if start is not None:
            start(local_name(name), attributes)

    def closed(name: str) -> None:
        nonlocal depth
        depth -= 1
        if end is not None:
            end(local_name(name))

    parser.StartElementHandler = opened
    parser.EndElementHandler = closed
    if text is not None:
        parser.CharacterDataHandler = text
    for _ in feed(parser, stream, bounds):
        pass


def local_name(name: str) -> str:
    """The name without its prefix."""
    return name.rpartition(":")[2]


def attribute(attributes: list[str], name: str) -> str:
    """The value of an attribute by its name without prefix; empty where it is missing."""
    for at in range(0, len(attributes), 2):
        if local_name(attributes[at]) == name:
            return attributes[at + 1]
    return ""


def refuse_doctype(*_given: object) -> int:
    raise TableRefused(
        "doctype",
        "The workbook holds a definition of its own XML words, which no spreadsheet program "
        "writes and which is used to attack. It is not opened.",
    )


def _hostile(words: str) -> TableRefused:
    return TableRefused(
        "hostile_xml",
        f"The workbook holds {words}, which no spreadsheet program writes. It is not opened.",
    )


hostile = _hostile
