"""One search over all that can be built with: catalogue, specs, reels, lots."""

import datetime as dt
from dataclasses import dataclass

from assemblies.calc.search import Term, terms_of
from assemblies.queries.catalogue import SHELVES, ItemLine, Shelf, items
from assemblies.queries.reels import ReelLine, reel_lines
from assemblies.queries.shelves import ShelfLine, shelf_lines
from assemblies.queries.specs import SpecLine, spec_lines
from fleet.models import Person

MOST_OF_EACH = 8


@dataclass(frozen=True, slots=True)
class ItemsFound:
    """The items of one kind that fit, as many as are shown at once."""

    shelf: Shelf
    lines: tuple[ItemLine, ...]
    more: bool


@dataclass(frozen=True, slots=True)
class Found:
    """What fits, a few of each kind, and what was open in the words typed."""

    terms: tuple[Term, ...]
    items: tuple[ItemsFound, ...] = ()
    specs: tuple[SpecLine, ...] = ()
    more_specs: bool = False
    reels: tuple[ReelLine, ...] = ()
    more_reels: bool = False
    lots: tuple[ShelfLine, ...] = ()
    more_lots: bool = False

    @property
    def asked(self) -> tuple[str, ...]:
        """A sentence for each figure that could be several sizes."""
        return tuple(term.asked for term in self.terms if term.asked)

    @property
    def anything(self) -> bool:
        return any(one.lines for one in self.items) or bool(self.specs or self.reels or self.lots)


def look_up(person: Person, text: str, *, today: dt.date) -> Found:
    """All that fits every term typed. A fixed number of queries, each with a bound on its rows.

    The catalogue and specs are shared; reels and lots are those of the person's sites, used up
    ones and withdrawn ones too, marked.
    """
    terms = terms_of(text)
    if not terms:
        return Found(())
    pages = [
        (shelf, items(slug, text, after=None, size=MOST_OF_EACH)) for slug, shelf in SHELVES.items()
    ]
    specs = spec_lines(text, after=None, size=MOST_OF_EACH)
    reels = reel_lines(
        person, text=text, standing="all", after=None, size=MOST_OF_EACH, today=today
    )
    lots = shelf_lines(person, text=text, standing="all", after=None, size=MOST_OF_EACH)
    return Found(
        terms,
        tuple(ItemsFound(shelf, page.rows, page.after is not None) for shelf, page in pages),
        *(specs.rows, specs.after is not None),
        *(reels.rows, reels.after is not None),
        *(lots.rows, lots.after is not None),
    )
