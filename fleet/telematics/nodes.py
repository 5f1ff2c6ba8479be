"""A payload as plain nodes, whether it came as XML or as JSON: names without case or namespace.

Everything here comes from a stranger: entities and document types are refused, depth, length
and numbers are bounded, and a number stays the text that was sent.
"""

import io
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, NoReturn
from xml.etree.ElementTree import ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import iterparse

DEEPEST = 32
MOST_NODES = 400_000
LONGEST_TEXT = 1000


class PayloadError(ValueError):
    """The payload can't be read as what it says it is; the message says why."""


@dataclass(slots=True)
class Node:
    """A name with its text and what stands below it; an attribute is a node like any other.

    `bare` are the names of empty lists, of which nothing else would be left.
    """

    name: str
    text: str = ""
    below: "list[Node]" = field(default_factory=list)
    bare: set[str] = field(default_factory=set)

    def all(self, name: str) -> "Iterator[Node]":
        return (node for node in self.below if node.name == name)

    def texts(self, name: str) -> list[str]:
        """The different texts under a name that are not empty."""
        return list(dict.fromkeys(node.text for node in self.all(name) if node.text))


def local_name(name: str) -> str:
    """`{http://…}Hour`, `ns2:Hour`, `@datetime` → `hour`, `datetime`.

    >>> [local_name(n) for n in ("{urn:x}Hour", "ns2:HOUR", "@datetime")]
    ['hour', 'hour', 'datetime']
    """
    return name.rpartition("}")[2].rpartition(":")[2].lstrip("@").strip().casefold()


def read_xml(payload: bytes) -> Node:
    """The nodes of an XML payload. Refuses entities, a document type, too deep and too many."""
    try:
        return _from_events(
            iterparse(io.BytesIO(payload), events=("start", "end"), forbid_dtd=True)
        )
    except DefusedXmlException as error:
        raise PayloadError("It declares a document type or entities: that is refused.") from error
    except ParseError as error:
        raise PayloadError(f"It is not whole XML: {error}.") from error
    except (LookupError, ValueError) as error:
        if isinstance(error, PayloadError):
            raise
        raise PayloadError("Its encoding is not known here.") from error


def _from_events(events: Any) -> Node:
    root, count = Node(""), 0
    path = [root]
    for event, element in events:
        if event == "start":
            count += 1 + len(element.attrib)
            if len(path) > DEEPEST or count > MOST_NODES:
                _too_large()
            node = Node(local_name(element.tag))
            node.below += [Node(local_name(k), _short(v)) for k, v in element.attrib.items()]
            path[-1].below.append(node)
            path.append(node)
        else:
            path.pop().text = _short(element.text or "")
            element.clear()
    return root


def read_json(payload: bytes) -> Node:
    """The nodes of a JSON payload; a list under a name is that name repeated."""
    spent = [0]
    try:
        told = json.loads(
            payload.decode("utf-8-sig"),
            parse_int=str,
            parse_float=str,
            parse_constant=_no_number,
            object_pairs_hook=lambda pairs: _counted(pairs, spent),
        )
    except PayloadError:
        raise
    except UnicodeDecodeError as error:
        raise PayloadError("It is not UTF-8 text.") from error
    except RecursionError:
        _too_large()
    except ValueError as error:
        raise PayloadError(f"It is not whole JSON: {error}.") from error
    root = Node("")
    _grow(root, "", told, DEEPEST)
    return root.below[0] if isinstance(told, _Pairs) else root


class _Pairs(list[tuple[str, Any]]):
    """An object as its pairs, so that a name given twice is seen twice."""


def _counted(pairs: list[tuple[str, Any]], spent: list[int]) -> _Pairs:
    spent[0] += len(pairs)
    return _Pairs(pairs) if spent[0] <= MOST_NODES else _too_large()


def _grow(parent: Node, name: str, told: Any, deep: int) -> None:
    if deep == 0:
        _too_large()
    if isinstance(told, _Pairs):
        node = Node(name)
        for key, value in told:
            _grow(node, local_name(key), value, deep - 1)
        parent.below.append(node)
    elif isinstance(told, list):
        parent.bare |= {name} if not told else set()
        for item in told:
            _grow(parent, name, item, deep - 1)
    else:
        parent.below.append(Node(name, _plain(told)))


def _plain(told: Any) -> str:
    return "" if told is None or isinstance(told, bool) else _short(str(told))


def _short(text: str) -> str:
    """Outer space goes. What is too long to be an identity or a figure is cut and marked so."""
    plain = text.strip()
    return plain if len(plain) <= LONGEST_TEXT else plain[:LONGEST_TEXT] + "…"


def _no_number(constant: str) -> str:
    """`NaN` and its like stay words, to be refused where a figure is read."""
    return constant


def _too_large() -> NoReturn:
    raise PayloadError("It is too deep or holds too much for one page.")


READERS: dict[str, Callable[[bytes], Node]] = {"xml": read_xml, "json": read_json}
