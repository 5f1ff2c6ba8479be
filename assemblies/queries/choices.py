"""What can be chosen when a hose is fitted."""

from dataclasses import dataclass

from django.db.models import Case, IntegerField, Q, Value, When

from assemblies.calc.tags import NotATag, check_tag
from assemblies.models import Assembly, Position, Stay
from assemblies.queries.unmatched import unmatched_among
from fleet.calc.keys import text_key
from fleet.models import Person

MOST = 24


@dataclass(frozen=True, slots=True)
class HoseChoice:
    """A hose in store or on the bench that may be fitted."""

    hose_id: int
    words: str
    suits: bool


def position_for(person: Person, position_id: int) -> Position | None:
    """The position, where the person may see it."""
    found = Position.objects.visible_to(person).filter(pk=position_id)
    position: Position | None = found.select_related("machine__site", "required_spec").first()
    return position


def hose_for(person: Person, hose_id: int) -> Assembly | None:
    """The hose, where the person may see it."""
    found = Assembly.objects.visible_to(person).filter(pk=hose_id)
    hose: Assembly | None = found.select_related("site", "tag").first()
    return hose


def held_by(position: Position) -> Assembly | None:
    """The hose that a position holds now."""
    stay = Stay.objects.filter(position=position, is_open=True).select_related("assembly").first()
    return stay.assembly if stay else None


def hose_named(person: Person, typed: str) -> Assembly | None:
    """The one hose that the person may see with this own tag, or this owner's mark."""
    seen = Assembly.objects.visible_to(person).filter(withdrawn_at=None)
    try:
        by_tag: Assembly | None = seen.filter(tag=check_tag(typed.rsplit("/t/", 1)[-1])).first()
    except NotATag:
        by_tag = None
    if by_tag is not None:
        return by_tag
    key = text_key(typed)
    marked = list(seen.filter(owner_mark_key=key)[:2]) if key else []
    return marked[0] if len(marked) == 1 else None


def hoses_to_fit(position: Position) -> list[HoseChoice]:
    """Hoses in store or on the bench at the position's site, those that suit first.

    Usable ones, and held ones that were released conditionally.
    """
    spec = position.required_spec_id
    suits = Q(spec__header=spec) if spec else Q(pk__in=[])
    released = Q(condition=Assembly.Condition.HELD, releases__isnull=False)
    found = Assembly.objects.filter(
        Q(condition=Assembly.Condition.USABLE) | released,
        site=position.machine.site_id,
        withdrawn_at=None,
        stays__is_open=True,
        stays__place__in=[Stay.Place.STORE, Stay.Place.BENCH],
    ).annotate(
        fit_rank=Case(When(suits, then=Value(0)), default=Value(1), output_field=IntegerField())
    )
    rows = list(found.select_related("spec__header").order_by("fit_rank", "id").distinct()[:MOST])
    unmatched = unmatched_among([hose.pk for hose in rows])
    return [
        HoseChoice(hose.pk, _words(hose, hose.pk in unmatched), hose.fit_rank == 0) for hose in rows
    ]


def _words(hose: Assembly, unmatched: bool) -> str:
    size = f"DN{hose.size_dn}" if hose.size_dn else hose.size_typed
    length = f"{hose.length_mm:f}".removesuffix(".0") + " mm" if hose.length_mm else ""
    facts = " ".join(part for part in (hose.hose_type, size, length) if part)
    spec = f", spec {hose.spec.header.code}" if hose.spec else ""
    held = ", released conditionally" if hose.condition == Assembly.Condition.HELD else ""
    return f"{hose}{': ' + facts if facts else ''}{spec}{', unmatched' * unmatched}{held}"
