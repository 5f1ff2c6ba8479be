"""One hose as papers show it: what it is, what it bears, how old, where, how it was crimped."""

import datetime as dt

from assemblies.calc.fitting_sheet import HoseCard
from assemblies.calc.sheet_words import millimetres, tag_in_groups
from assemblies.models import Assembly, Stay
from assemblies.queries.parts import parts_of
from assemblies.queries.ratings import RatingFacts, assembly_rating_of
from assemblies.queries.unmatched import why_unmatched


def hose_card(hose: Assembly | None) -> HoseCard:
    """A hose for a paper; an empty card where there is none, for the pen."""
    if hose is None:
        return HoseCard()
    rating = assembly_rating_of(hose)
    spec = hose.spec
    length = hose.length_mm or (spec.length_mm if spec else None)
    return HoseCard(
        tag=_mark(hose),
        spec=f"{spec.header.code} rev {spec.number}" if spec else "",
        hose=_hose_words(hose),
        length=millimetres(length) if length else "",
        working_bar=rating.working_pressure_bar,
        pressure_from=_pressure_from(rating),
        built=day_span(hose.built_earliest_on, hose.built_latest_on),
        where=_where(hose),
        basis=basis_of(hose),
    )


def _mark(hose: Assembly) -> str:
    if hose.tag_id is None:
        return hose.owner_mark
    tag = tag_in_groups(str(hose.tag_id))
    return f"{tag} ({hose.owner_mark})" if hose.owner_mark else tag


def _hose_words(hose: Assembly) -> str:
    parts = parts_of([hose.spec])[hose.spec.pk] if hose.spec else None
    item = parts.hose if parts else None
    if item is not None:
        named = (item.maker, item.product, item.standard_type, f"DN{item.size_dn}")
        return ", ".join(part for part in named if part)
    size = f"DN{hose.size_dn}" if hose.size_dn else hose.size_typed
    return " ".join(part for part in (hose.hose_type, size) if part)


def _pressure_from(rating: RatingFacts) -> str:
    if rating.rating is not None:
        return f"set by {' and '.join(part.name for part in rating.rating.binding)}"
    if rating.stated_bar is not None:
        return "as the register states it"
    return ""


def day_span(first: dt.date | None, last: dt.date | None) -> str:
    """A day as it is known: to the day, between two days, or not.

    >>> day_span(dt.date(2026, 3, 9), dt.date(2026, 3, 9)), day_span(None, None)
    ('2026-03-09', '')
    """
    if first is None:
        return f"not after {last.isoformat()}" if last else ""
    if last is None or first == last:
        return first.isoformat()
    return f"{first.isoformat()} … {last.isoformat()}"


def _where(hose: Assembly) -> str:
    stay = Stay.objects.filter(assembly=hose, is_open=True).select_related("position").first()
    if stay is None:
        return ""
    since = day_span(stay.from_earliest_on, stay.from_latest_on)
    place = str(stay.position) if stay.position else stay.get_place_display()
    at = f", {stay.store_place}" if stay.store_place else ""
    return f"{place}{at}{f' since {since}' if since else ''}"


def basis_of(hose: Assembly) -> str:
    """How a hose is crimped, in words; unmatched parts are said plainly."""
    why = why_unmatched(hose)
    if why:
        return f"UNMATCHED: {why}, no published chart names these parts together"
    build = getattr(hose, "build", None)
    if build is not None and build.ends.exists():
        return "by published charts at both ends"
    return "not in the register"
