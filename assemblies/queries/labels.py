"""What the tag labels say: of hoses that stand in the register, and of blank tags."""

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal

from assemblies.calc.sheet_words import bars, millimetres
from assemblies.models import Assembly, TagLot
from assemblies.pdf.labels import Label
from assemblies.queries.ratings import assembly_ratings
from assemblies.queries.unmatched import unmatched_among
from fleet.models import Machine, Person, Site
from fleet.navigation import About, alarms_about

_TO_THE_MONTH = frozenset({"day", "week", "month"})


def hose_labels(hoses: Iterable[Assembly], *, address: str) -> tuple[Label, ...]:
    """A label for each tagged hose; the number of queries doesn't grow with them."""
    tagged = [hose for hose in hoses if hose.tag_id is not None]
    ratings, warnings = assembly_ratings(tagged), _warnings(tagged)
    return tuple(
        Label(
            tag=str(hose.tag_id),
            link=_link(address, str(hose.tag_id)),
            mark=_mark(hose.site),
            pressure=_pressure(ratings[hose.pk].working_pressure_bar),
            built=built_words(hose),
            length=millimetres(hose.length_mm) if hose.length_mm else "",
            warnings=warnings[hose.pk],
        )
        for hose in tagged
    )


def _warnings(hoses: Sequence[Assembly]) -> dict[int, tuple[str, ...]]:
    """What must stand on a hose itself: that its parts are unmatched, by when it must go."""
    ids = frozenset(hose.pk for hose in hoses)
    unmatched = unmatched_among(ids)
    by_day = {
        alarm.hose_id: alarm.by_on
        for alarm in alarms_about(About(hoses=ids))
        if alarm.kind == "released" and alarm.by_on is not None
    }
    return {
        pk: (
            *(["UNMATCHED"] if pk in unmatched else []),
            *(["REPLACE BY", by_day[pk].isoformat()] if pk in by_day else []),
        )
        for pk in ids
    }


def blank_labels(lot: TagLot, *, address: str) -> tuple[Label, ...]:
    """A label for each tag of a lot, with what is known before the hose: tag and mark."""
    codes = lot.tags.filter(spoiled_at=None).order_by("pk").values_list("code", flat=True)
    mark = _mark(lot.site)
    return tuple(Label(code, _link(address, code), mark) for code in codes)


def built_words(hose: Assembly) -> str:
    """Year and month of the build as they are stamped (2611), where the month is sure."""
    first, last = hose.built_earliest_on, hose.built_latest_on
    if first is None or hose.built_precision not in _TO_THE_MONTH:
        return ""
    return _stamped(first) if last is None or _stamped(first) == _stamped(last) else ""


def tagged_on(machine: Machine) -> Sequence[Assembly]:
    """The tagged hoses on a machine, in walk-round order."""
    found = Assembly.objects.filter(
        stays__is_open=True, stays__position__machine=machine, tag__isnull=False
    )
    return list(
        found.select_related("site", "spec__header", "spec__hose").order_by(
            "stays__position__walk_order", "id"
        )
    )


def lots_of(person: Person, *, most: int = 20) -> list[TagLot]:
    """The last lots of blank tags of the person's sites."""
    found = TagLot.objects.visible_to(person).select_related("site", "drawn_by")
    return list(found.order_by("-drawn_at", "-id")[:most])


def lot_for(person: Person, lot_id: int) -> TagLot | None:
    """The lot, where the person may see it."""
    found = TagLot.objects.visible_to(person).filter(pk=lot_id)
    lot: TagLot | None = found.select_related("site").first()
    return lot


def _pressure(bar: Decimal | None) -> str:
    return "" if bar is None else bars(bar)


def _mark(site: Site) -> str:
    return site.assembler_mark or site.code


def _link(address: str, tag: str) -> str:
    return f"{address}/T/{tag}"


def _stamped(day: dt.date) -> str:
    return f"{day:%y%m}"
