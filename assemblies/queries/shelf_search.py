"""Whether a line of the stock fits what was typed: by its own code, or by what it is."""

from collections.abc import Iterable

from django.db.models import Exists, OuterRef, Q

from assemblies.calc.search import Term
from assemblies.queries.catalogue import revisions_fitting, spellings
from fleet.calc.keys import text_key


def reel_fits(terms: Iterable[Term]) -> Q:
    """Reels that fit every term: by code, layline or supplier, else by the hose on them."""
    return _all_of(_reel_term(term) for term in terms)


def line_fits(terms: Iterable[Term]) -> Q:
    """Lots and small parts that fit every term: by lot, name, supplier, else by the part."""
    return _all_of(_line_term(term) for term in terms)


def _all_of(each: Iterable[Q]) -> Q:
    fits = Q()
    for one in each:
        fits &= one
    return fits


def _reel_term(term: Term) -> Q:
    key = text_key(term.word)
    fits = Q(Exists(revisions_fitting("hose", term).filter(header=OuterRef("hose"))))
    if key:
        fits |= Q(code_key__contains=key) | Q(hose__code_key__contains=key)
    return fits | _texts(term, "supplier", "layline")


def _line_term(term: Term) -> Q:
    key = text_key(term.word)
    fits = Q(Exists(revisions_fitting("fitting", term).filter(header=OuterRef("fitting"))))
    fits |= Q(Exists(revisions_fitting("shell", term).filter(header=OuterRef("shell"))))
    if key:
        fits |= Q(name_key__contains=key)
        fits |= Q(fitting__code_key__contains=key) | Q(shell__code_key__contains=key)
    fits |= _texts(term, "name", "lot", "supplier")
    return fits


def _texts(term: Term, *names: str) -> Q:
    fits = Q()
    for spelling in spellings(term.word):
        for name in names:
            fits |= Q(**{f"{name}__icontains": spelling})
    return fits
