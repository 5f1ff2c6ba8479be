"""How a hose hangs together with what it was made of, by and with: one table, read both ways.

Each link names a row that stands between a hose and one of its sources, and the paths from that
row to either. Forward and back read the same paths, so that they can't disagree.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import reduce
from typing import Any, Final

from django.db.models import Model, QuerySet

from assemblies.models import Assembly, BuildEnd, BuildRecord, ConditionalRelease
from fleet.calc.keys import text_key
from fleet.models.compiled import Compiled, compiled

LONGEST_KEY: Final = 120
SourceKey = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Link:
    """One way from a hose to a source of a kind. `site` is the path to what keeps a text apart.

    A source with a row of its own is named by its id; one that is only a text (a die set, a
    supplier) by the folded text, with the site's id before it where it belongs to a site.
    """

    kind: str
    row: type[Model]
    hose: str
    path: str
    role: str
    text: bool = False
    site: str = ""
    only: tuple[tuple[str, Any], ...] = ()


def _record(kind: str, path: str, role: str) -> Link:
    return Link(kind, BuildRecord, "assembly", path, role)


def _end(kind: str, path: str, role: str) -> Link:
    return Link(kind, BuildEnd, "build__assembly", path, role)


def _piece(kind: str, path: str, role: str) -> Link:
    """A piece of a crimp trial that was released hangs together with its trial."""
    return Link(kind, ConditionalRelease, "assembly", path, role)


LINKS: Final[tuple[Link, ...]] = (
    _record("reel", "reel", "hose"),
    _end("fitting_lot", "fitting_lot", "fitting"),
    _end("shell_lot", "shell_lot", "shell"),
    Link("die_set", BuildEnd, "build__assembly", "die_set", "die set", True, "build__site"),
    Link(
        "die_set", ConditionalRelease, "assembly", "trial__die_set", "die set", True, "trial__site"
    ),
    _end("recipe", "recipe__header", "recipe"),
    _piece("recipe", "trial__recipe", "recipe"),
    _end("recipe_revision", "recipe", "recipe’s revision"),
    _record("crimper", "crimper", "crimper"),
    _piece("crimper", "trial__crimper", "crimper"),
    _end("instrument", "instrument", "measured with"),
    _record("instrument", "gauge", "proof gauge"),
    _piece("instrument", "trial__proofs__gauge", "proof gauge"),
    _record("person", "made_by", "made by"),
    _record("person", "signed_by", "signed by"),
    _piece("person", "trial__begun_by", "trial by"),
    _piece("person", "trial__closed_by", "trial closed by"),
    _end("trial", "recipe__trial_links__trial", "trial behind its recipe"),
    _piece("trial", "trial", "its own trial"),
    Link("supplier", Assembly, "pk", "supplier", "supplier", True, only=(("origin", "bought"),)),
)
KINDS: Final = tuple(dict.fromkeys(link.kind for link in LINKS))


def hoses_from(kind: str, key: str) -> "QuerySet[Assembly]":
    """Every hose that comes from a source, of whatever site. Nothing where the key is none."""
    ways = [way for link in LINKS if link.kind == kind and (way := _forward(link, key)) is not None]
    if not ways:
        return Assembly.objects.none()
    ids = reduce(lambda one, other: one.union(other), ways)
    return Assembly.objects.filter(pk__in=ids)


@dataclass(frozen=True, slots=True)
class Part:
    """What a source was to a hose, and how it was written where it is only a text."""

    roles: tuple[str, ...]
    text: str = ""


def sources_from(hose_ids: Collection[int]) -> dict[int, dict[SourceKey, Part]]:
    """The sources of each of some hoses, with what each was to it. One query a table."""
    found: dict[int, dict[SourceKey, Part]] = {hose_id: {} for hose_id in hose_ids}
    for links, linked in _TABLES if found else ():
        for hose_id, *values in linked(hose_ids):
            for source, role, text in _back(links, values):
                roles = found[hose_id][source].roles if source in found[hose_id] else ()
                found[hose_id][source] = Part(tuple(dict.fromkeys((*roles, role))), text)
    return found


def text_source(text: str, site_id: int | None = None) -> str:
    """The key of a source that is only a text.

    >>> text_source("D 26", 3), text_source("Harrow Hose")
    ('3:d 26', 'harrow hose')
    """
    key = text_key(text) if site_id is None else f"{site_id}:{text_key(text)}"
    return key[:LONGEST_KEY]


def _forward(link: Link, key: str) -> Any:
    rows = link.row._default_manager.filter(**dict(link.only)).order_by()
    if link.text:
        return _forward_by_text(link, key, rows)
    if not key.isdecimal() or int(key) >= 2**63:
        return None
    return rows.filter(**{link.path: int(key)}).values(link.hose)


def _forward_by_text(link: Link, key: str, rows: Any) -> Any:
    """Rows whose text folds to the key, looked up among the few distinct texts there are."""
    site_id: int | None = None
    texts = list(rows.exclude(**{link.path: ""}).values_list(link.path, flat=True).distinct())
    if link.site:
        site, colon, _ = key.partition(":")
        if not colon or not site.isdecimal() or int(site) >= 2**63:
            return None
        site_id = int(site)
        rows = rows.filter(**{link.site: site_id})
    alike = [text for text in texts if text and text_source(text, site_id) == key]
    return rows.filter(**{f"{link.path}__in": alike}).values(link.hose) if alike else None


def _by_row() -> dict[type[Model], list[Link]]:
    found: defaultdict[type[Model], list[Link]] = defaultdict(list)
    for link in LINKS:
        found[link.row].append(link)
    return found


def _linked(row: type[Model], links: list[Link]) -> Compiled[[Collection[int]], tuple[Any, ...]]:
    """The rows of a table that stand between some hoses and their sources."""
    hose = links[0].hose
    columns = [name for link in links for name in (link.path, link.site or link.path)]
    only = [name for link in links for name, _ in link.only]

    def linked(hose_ids: Collection[int]) -> "QuerySet[Any, tuple[Any, ...]]":
        rows = row._default_manager.filter(**{f"{hose}__in": hose_ids})
        return rows.values_list(hose, *columns, *only)

    return compiled(linked)


_TABLES: Final = [(links, _linked(row, links)) for row, links in _by_row().items()]


def _back(links: list[Link], values: list[Any]) -> Iterator[tuple[SourceKey, str, str]]:
    said = iter(values[2 * len(links) :])
    for at, link in enumerate(links):
        value, site_id = values[2 * at], values[2 * at + 1]
        meant = all(next(said) == wanted for _, wanted in link.only)
        if value in (None, "") or not meant:
            continue
        folded = text_source(value, site_id if link.site else None) if link.text else str(value)
        yield (link.kind, folded), link.role, value if link.text else ""
