"""The catalogue read: items found by any notation, and one item with its revisions side by side."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Exists, F, OuterRef, Q

from assemblies.calc.connections import end_named
from assemblies.calc.search import Term, terms_of
from assemblies.calc.standard_notes import StandardNote, end_notes, hose_notes
from assemblies.models import (
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    ShellItem,
    ShellRevision,
)
from assemblies.queries.parts import counting
from assemblies.queries.side_by_side import (
    FactRow,
    RevisionHead,
    fact_rows,
    head_of,
    size_words,
)
from fleet.calc.keys import text_key
from fleet.queries.keyset import Order, Page, page_of

BY_CODE = Order("code_key")
_STANDING = ("approved", "draft")
_THREAD = re.compile(r"(?<=\d)[xX*](?=\d)")


@dataclass(frozen=True, slots=True)
class Shelf:
    """One kind of item: its tables, its size, the texts that a search looks through."""

    slug: str
    noun: str
    plural: str
    headers: Any
    revisions: Any
    size: str
    texts: tuple[str, ...]


SHELVES: Mapping[str, Shelf] = {
    "hose": Shelf(
        *("hose", "hose", "Hoses", HoseItem, HoseRevision, "size_dn"),
        ("maker", "product", "standard_type", "tube_material", "note"),
    ),
    "fitting": Shelf(
        *("fitting", "fitting", "Fittings", FittingItem, FittingRevision, "tail_dn"),
        ("maker", "product", "connection", "connection_size", "note"),
    ),
    "shell": Shelf(
        *("shell", "shell", "Shells", ShellItem, ShellRevision, "tail_dn"),
        ("maker", "product", "note"),
    ),
}


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One item of a list, by the revision that counts."""

    item_id: int
    slug: str
    code: str
    maker: str
    product: str
    words: str
    size: str
    working_pressure_bar: Decimal | None
    printed_pressure: str
    state: str
    drafted: bool


@dataclass(frozen=True, slots=True)
class ItemPage:
    """An item with its revisions side by side, and the standard's figures beside them."""

    item_id: int
    slug: str
    code: str
    line: ItemLine | None
    heads: tuple[RevisionHead, ...]
    rows: tuple[FactRow, ...]
    notes: tuple[StandardNote, ...]

    @property
    def strip(self) -> tuple[str, ...]:
        """What stands on the strip: maker, what it is, size, pressure."""
        line = self.line
        if line is None:
            return ()
        bar = line.working_pressure_bar
        pressure = "" if bar is None else f"{bar.normalize():f} bar"
        return (line.maker, line.words, line.size, pressure)

    @property
    def draft(self) -> RevisionHead | None:
        return next((head for head in self.heads if head.state == "draft"), None)

    @property
    def approved(self) -> RevisionHead | None:
        return next((head for head in self.heads if head.state == "approved"), None)


def items(slug: str, text: str, *, after: tuple[Any, ...] | None, size: int) -> Page[ItemLine]:
    """A page of a kind's items that fit a search, by code."""
    shelf = SHELVES[slug]
    found = shelf.headers.objects.filter(withdrawn_at=None)
    terms = terms_of(text)
    if terms:
        standing = shelf.revisions.objects.filter(header=OuterRef("pk"), state__in=_STANDING)
        fitting = standing.filter(*(_fits(shelf, term) for term in terms))
        found = found.filter(Exists(fitting))
    page = page_of(found, order=BY_CODE, after=after, size=size)
    return Page(tuple(_lines(shelf, page.rows)), page.after)


def revisions_fitting(slug: str, term: Term) -> Any:
    """The approved and drafted revisions of a kind that fit one term."""
    shelf = SHELVES[slug]
    return shelf.revisions.objects.filter(_fits(shelf, term), state__in=_STANDING)


def item_page(slug: str, item_id: int) -> ItemPage | None:
    """One item with all its revisions, the newest first."""
    shelf = SHELVES[slug]
    item = shelf.headers.objects.filter(pk=item_id).first()
    if item is None:
        return None
    people = ("made_by", "approved_by", "withdrawn_by")
    revisions = list(
        shelf.revisions.objects.filter(header=item).select_related(*people).order_by("-number")
    )
    lines = _lines(shelf, [item])
    return ItemPage(
        item.pk,
        slug,
        item.code,
        lines[0] if lines else None,
        tuple(head_of(revision) for revision in revisions),
        fact_rows(revisions),
        notes_of(slug, revisions[0]) if revisions else (),
    )


def notes_of(slug: str, revision: Any) -> tuple[StandardNote, ...]:
    """What the standards print for the type and size of a revision."""
    if slug == "hose":
        return hose_notes(revision.standard_type, revision.size_dn)
    if slug == "fitting":
        return end_notes(revision.connection, revision.connection_size)
    return ()


def item_revision(slug: str, item_id: int, number: int) -> Any:
    """One revision of an item, or None."""
    found = SHELVES[slug].revisions.objects.filter(header=item_id, number=number)
    return found.select_related("header").first()


def item_named(slug: str, code: str) -> Any:
    """The current item of that code, or None."""
    return SHELVES[slug].headers.objects.filter(code_key=text_key(code), withdrawn_at=None).first()


def codes(slug: str, *, most: int = 400) -> list[str]:
    """Codes to suggest while someone types."""
    found = SHELVES[slug].headers.objects.filter(withdrawn_at=None).order_by("code_key")
    return list(found.values_list("code", flat=True)[:most])


def _lines(shelf: Shelf, rows: Sequence[Any]) -> list[ItemLine]:
    best = counting(shelf.revisions, [row.pk for row in rows])
    drafts = shelf.revisions.objects.filter(
        header__in=[row.pk for row in rows], state="draft"
    ).values_list("header_id", flat=True)
    drafted = set(drafts)
    return [_line(shelf, row, best.get(row.pk), row.pk in drafted) for row in rows]


def _line(shelf: Shelf, item: Any, revision: Any, drafted: bool) -> ItemLine:
    return ItemLine(
        item_id=item.pk,
        slug=shelf.slug,
        code=item.code,
        maker=revision.maker if revision else "",
        product=revision.product if revision else "",
        words=_words(shelf.slug, revision) if revision else "",
        size=size_words(getattr(revision, shelf.size)) if revision else "",
        working_pressure_bar=getattr(revision, "working_pressure_bar", None),
        printed_pressure=getattr(revision, "printed_pressure", ""),
        state=revision.state if revision else "withdrawn",
        drafted=drafted and revision is not None and revision.state == "approved",
    )


def _words(slug: str, revision: Any) -> str:
    if slug == "hose":
        layers = f"{revision.layers} × {revision.get_reinforcement_display()}"
        return f"{revision.standard_type or 'outside every standard'}, {layers}"
    if slug == "fitting":
        form = f"{revision.get_form_display()}, {revision.get_turns_display()}"
        return f"{revision.connection} {revision.connection_size}, {form}"
    return f"for {revision.layers_made_for} layers"


def _fits(shelf: Shelf, term: Term) -> Q:
    """A revision fits a term by the item's code, one of its texts, its size, type or end."""
    key = text_key(term.word)
    fits = Q(header__code_key__contains=key) if key else Q()
    for spelling in spellings(term.word):
        for name in shelf.texts:
            fits |= Q(**{f"{name}__icontains": spelling})
    if term.sizes_dn:
        fits |= Q(**{f"{shelf.size}__in": term.sizes_dn})
    if term.hose_types and shelf.slug == "hose":
        fits |= Q(standard_type__in=term.hose_types)
    if term.ends and shelf.slug == "fitting":
        fits |= Q(connection__in=_connections(term.ends))
    return fits


def spellings(word: str) -> set[str]:
    """A word as it may be written: SQLite folds the case of plain Latin letters only, and a
    thread is written `M30×2` where `M30x2` is typed."""
    threaded = _THREAD.sub("×", word).replace(",", ".") if _THREAD.search(word) else word
    if word.isascii():
        return {word, threaded}
    return {word, threaded, word.lower(), word.upper(), word.capitalize()}


def _connections(ends: Iterable[str]) -> list[str]:
    """The connections in the catalogue that mean one of these ends, however they are written."""
    wanted = set(ends)
    written = FittingRevision.objects.order_by().values_list(F("connection"), flat=True).distinct()
    return [text for text in written if end_named(text) in wanted]
