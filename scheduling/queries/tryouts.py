"""Trying a rule before it counts: both sets of dates by the same engine, nothing written."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
from django.db.models import QuerySet

from assemblies.models import Assembly, Stay
from fleet.models import Person, Site
from fleet.models.fields import EPOCH
from scheduling.calc.due import due_dates
from scheduling.calc.inputs import NONE, DueInputs
from scheduling.calc.tryout import (
    NO_EFFECT,
    Effect,
    Floats,
    Moved,
    Side,
    effect_of,
    first_of,
    hoses_a_year,
    soonest,
)
from scheduling.models import LifeRuleRevision
from scheduling.queries.due_columns import Some, due_inputs
from scheduling.queries.due_facts import hose_label
from scheduling.queries.fast_columns import Codes, Wanted, read_columns, whole
from scheduling.queries.rule_tables import Rulebook, rulebook

CHUNK: Final = 20_000
MOST_FIRST: Final = 12
SMALL: Final = 4_000  # hoses that are worked through while the person waits


@dataclass(frozen=True, slots=True)
class Tryout:
    """What a draft would change, by site and in all, and the first days that come sooner."""

    today: dt.date
    sites: tuple[tuple[int, Effect], ...]
    first: tuple[Moved, ...]

    @property
    def total(self) -> Effect:
        return sum((effect for _, effect in self.sites), NO_EFFECT)


@dataclass(frozen=True, slots=True)
class SiteEffect:
    """What changes at one site, by its name."""

    site: str
    effect: Effect


@dataclass(frozen=True, slots=True)
class FirstMoved:
    """A hose whose day comes sooner, as the page names it."""

    hose_id: int
    label: str
    now_on: dt.date | None
    then_on: dt.date


@dataclass(frozen=True, slots=True)
class TryoutPage:
    """A try-out as the page shows it."""

    today: dt.date
    total: Effect
    sites: tuple[SiteEffect, ...]
    first: tuple[FirstMoved, ...]


def sites_touched(person: Person, draft: LifeRuleRevision) -> list[int]:
    """The sites that a draft, or what it replaces, speaks of, as far as the person sees them."""
    seen = list(Site.objects.visible_to(person).order_by("pk").values_list("pk", flat=True))
    former = LifeRuleRevision.objects.filter(header=draft.header_id, state="approved")
    spoken = {_site_of(one) for one in (draft, *former.select_related("machine"))}
    return seen if None in spoken else [pk for pk in seen if pk in spoken]


def is_small(sites: Sequence[int]) -> bool:
    """Whether so few hoses are touched that the person may wait for it."""
    return len(_ids(sites)[: SMALL + 1]) <= SMALL


def try_draft(
    draft: LifeRuleRevision,
    sites: Sequence[int],
    *,
    today: dt.date,
    chunk: int = CHUNK,
    progress: Callable[[int, int], None] | None = None,
) -> Tryout:
    """Both sets of dates for the hoses of some sites, run by run. Nothing is written.

    The dates are those of the bulk run: `due_inputs` and `due_dates`, the draft in the place of
    what its approval would replace.
    """
    now, tried = rulebook(), rulebook([draft])
    by_site: defaultdict[int, Effect] = defaultdict(lambda: NO_EFFECT)
    first: tuple[Moved, ...] = ()
    runs = list(_runs(sites, chunk))
    day = (today - EPOCH).days
    for done, some in enumerate(runs, 1):
        effects, moved = _effects(some, now, tried, sites=sites, today=day)
        for site_id, effect in effects.items():
            by_site[site_id] += effect
        first = first_of((*first, *moved), MOST_FIRST)
        if progress:
            progress(done, len(runs))
    return Tryout(today, tuple(sorted(by_site.items())), first)


def tryout_page(person: Person, found: Tryout) -> TryoutPage:
    """A try-out with names, only of sites and hoses that the person may see."""
    names = dict(Site.objects.visible_to(person).values_list("pk", "name"))
    ids = [one.hose_id for one in found.first]
    hoses = Assembly.objects.visible_to(person).filter(pk__in=ids).select_related("tag")
    labels = {hose.pk: hose_label(hose) for hose in hoses}
    return TryoutPage(
        found.today,
        found.total,
        tuple(SiteEffect(names[pk], effect) for pk, effect in found.sites if pk in names),
        tuple(_named(one, labels) for one in found.first if one.hose_id in labels),
    )


def as_plain(found: Tryout) -> dict[str, Any]:
    """A try-out as an errand keeps it."""
    return {
        "today": found.today.isoformat(),
        "sites": [[pk, asdict(effect)] for pk, effect in found.sites],
        "first": [asdict(one) for one in found.first],
    }


def from_plain(kept: Mapping[str, Any]) -> Tryout:
    """A try-out that an errand kept."""
    return Tryout(
        dt.date.fromisoformat(kept["today"]),
        tuple((pk, _effect(effect)) for pk, effect in kept["sites"]),
        tuple(Moved(**one) for one in kept["first"]),
    )


def _effect(kept: Mapping[str, Any]) -> Effect:
    sides = {
        name: Side(**{**kept[name], "by_year": tuple(kept[name]["by_year"])})
        for name in ("now", "tried")
    }
    return Effect(**{**kept, **sides})


def _effects(
    some: Some, now: Rulebook, tried: Rulebook, *, sites: Sequence[int], today: int
) -> tuple[dict[int, Effect], list[Moved]]:
    """One run of ids. Each rulebook codes its own texts, so each has inputs of its own."""
    sides = []
    for book in (now, tried):
        inputs = due_inputs(some, book)
        exempt = book.exemptions_for(inputs.assembly, inputs.position)
        often = hoses_a_year(inputs, book.rules, exempt)
        sides.append((inputs, due_dates(inputs, book.rules, exempt), often))
    (inputs, before, often), (_, after, often_then) = sides
    cost = _cost_minor(inputs, some)
    effects = {}
    for site_id in np.unique(inputs.site[np.isin(inputs.site, sites)]).tolist():
        among = inputs.site == site_id
        effects[site_id] = effect_of(
            before,
            after,
            a_year=(often, often_then),
            cost_minor=cost,
            among=among,
            today=today,
        )
    here = np.isin(inputs.site, sites)
    return effects, soonest(inputs.assembly, before, after, here, MOST_FIRST)


def _cost_minor(inputs: DueInputs, some: Some) -> Floats:
    """What one change costs in machine time, where its work and an hour down have figures."""
    rows = read_columns(_costs, some)
    cost = np.full(inputs.size, np.nan)
    if not rows.size:
        return cost
    an_hour = np.where(rows[:, 2] == NONE, rows[:, 3], rows[:, 2])
    known = (rows[:, 1] != NONE) & (an_hour != NONE) & (an_hour > 0)
    ids, worth = rows[known, 0], rows[known, 1] * an_hour[known] / 100.0
    at = np.searchsorted(inputs.assembly, ids)
    fits = at < inputs.size
    fits[fits] = inputs.assembly[at[fits]] == ids[fits]
    cost[at[fits]] = worth[fits]
    return cost


def _costs(wanted: Wanted, _codes: Codes) -> tuple["QuerySet[Any, Any]", tuple[str, ...]]:
    """Hose, hours of work in hundredths, what an hour down costs: the machine's, its class's."""
    machine = "position__machine"
    columns = {
        "hose": whole("assembly_id"),
        "labour": whole("position__labour_h"),
        "own": whole(f"{machine}__down_cost_per_hour_minor"),
        "usual": whole(f"{machine}__machine_class__down_cost_per_hour_minor"),
    }
    held = Stay.objects.filter(wanted.on("assembly_id"), is_open=True, place="position")
    return held.annotate(**columns), tuple(columns)


def _ids(sites: Sequence[int]) -> "QuerySet[Assembly, int]":
    found = Assembly.objects.filter(site__in=sites, withdrawn_at=None)
    return found.order_by("pk").values_list("pk", flat=True)


def _runs(sites: Sequence[int], chunk: int) -> Iterator[Some]:
    ids = _ids(sites)
    low = -1
    while True:
        last = list(ids.filter(pk__gt=low)[chunk - 1 : chunk])
        high = last[0] if last else ids.filter(pk__gt=low).reverse().first()
        if high is None:
            return
        yield Some(low=low, high=high)
        low = high


def _site_of(rule: LifeRuleRevision) -> int | None:
    return int(rule.machine.site_id) if rule.machine is not None else rule.site_id


def _named(one: Moved, labels: Mapping[int, str]) -> FirstMoved:
    return FirstMoved(
        one.hose_id, labels[one.hose_id], _day(one.now_on), EPOCH + _days(one.then_on)
    )


def _day(day: int | None) -> dt.date | None:
    return None if day is None else EPOCH + _days(day)


def _days(days: int) -> dt.timedelta:
    return dt.timedelta(days=days)
