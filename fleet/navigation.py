"""Where pages stand: the masthead's entries, the page of a thing, the buttons on it, its alarms.

An app below never names a route of an app above. It asks here for the page of a machine or a
hose; the app that has that page says so in its `urls`. Likewise what must stand on every page and
paper of a machine: the app that knows of it says so when it is ready.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from django.http import HttpRequest
from django.urls import get_script_prefix, get_urlconf, reverse

from fleet.models import Person
from fleet.permissions import may


@dataclass(frozen=True)
class Entry:
    """One page of the masthead: where it stands, what it is called, who has use for it."""

    rank: int
    words: str
    route: str
    shape: str
    capability: str = "read_register"
    on_phone: bool = True


@dataclass(frozen=True)
class Deed:
    """A button on the page of a thing; the route takes the thing's id."""

    rank: int
    words: str
    route: str
    capability: str = "read_register"
    grave: bool = False


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something of one hose that must stand on every page and paper of the machine it is on.

    `kind` is "out" or "released"; the lower rank stands first. A hose that is not fitted has
    neither machine nor place. `finding_id` is what is settled when it is dealt with.
    """

    rank: int
    kind: str
    title: str
    sentence: str
    on_paper: str
    hose_id: int
    hose: str
    machine_id: int | None = None
    machine: str = ""
    place: str = ""
    by_on: dt.date | None = None
    finding_id: int | None = None


@dataclass(frozen=True, slots=True)
class About:
    """The machines and hoses that a page is about."""

    machines: frozenset[int] = frozenset()
    hoses: frozenset[int] = frozenset()

    def __or__(self, other: "About") -> "About":
        return About(self.machines | other.machines, self.hoses | other.hoses)


# A phone's bar has room for so many words beside “All”; the first by rank stand there.
MOST_ON_PHONE, MOST_ON_DESK = 5, 8
_ODD = 907_060_504_030_201  # a number that stands in no address of its own

AlarmSource = Callable[[About], Iterable[Alarm]]
Way = Callable[[Person, Mapping[str, Any]], About]

_entries: dict[str, Entry] = {}
_pages: dict[str, str] = {}
_deeds: defaultdict[str, dict[str, Deed]] = defaultdict(dict)
_alarms: dict[str, AlarmSource] = {}
_ways: dict[tuple[str, ...], Way] = {}


def add_entries(*entries: Entry) -> None:
    """Add pages to the masthead; the same route again replaces the first."""
    _entries.update({entry.route: entry for entry in entries})
    _shown_to.cache_clear()


def stand_at(**routes: str) -> None:
    """Say which route shows a kind of thing: `stand_at(machine="scheduling:machine")`."""
    _pages.update(routes)


def add_deeds(kind: str, *deeds: Deed) -> None:
    """Add buttons to the page of a kind of thing; the same route again replaces the first."""
    _deeds[kind].update({deed.route: deed for deed in deeds})


def add_alarms(name: str, source: AlarmSource) -> None:
    """Say where alarms of a kind are read; the same name again replaces the first."""
    _alarms[name] = source


def alarms_about(about: About) -> tuple[Alarm, ...]:
    """What must stand on every page about some machines and hoses, the gravest first."""
    if not about.machines and not about.hoses:
        return ()
    found = {alarm for source in _alarms.values() for alarm in source(about)}
    return tuple(sorted(found, key=lambda one: (one.rank, one.machine, one.place, one.sentence)))


def alarms_for(machine_id: int) -> tuple[Alarm, ...]:
    """What must stand on every page and paper of a machine, the gravest first."""
    return alarms_about(About(machines=frozenset([machine_id])))


def lead_by(*names: str, way: Way) -> None:
    """Say how those parts of an address lead to what its page is about."""
    _ways[names] = way


def led_by() -> frozenset[tuple[str, ...]]:
    """The parts of addresses that lead to a machine or a hose."""
    return frozenset(_ways)


def about_address(person: Person, parts: Mapping[str, Any]) -> About:
    """What the page at an address is about. Not yet narrowed to what the person may see."""
    found = About()
    for names, way in _ways.items():
        if all(name in parts for name in names):
            found |= way(person, parts)
    return found


def address_of(kind: str, thing_id: int | None = None) -> str:
    """The address of the page of a thing, or of a page that stands for itself; else empty."""
    if kind not in _pages:
        return ""
    route = _pages[kind]
    return reverse(route) if thing_id is None else address_of_row(route, thing_id)


def address_of_row(route: str, row_id: int) -> str:
    """The address of a route that takes the number of a row and nothing else."""
    before, after = around_number(route)
    return f"{before}{row_id}{after}"


def around_number(route: str) -> tuple[str, str]:
    """What stands before and after the number in such an address, for a list of many rows."""
    return _around_number(route, get_urlconf(), get_script_prefix())


@lru_cache(maxsize=256)
def _around_number(route: str, *_where: str | None) -> tuple[str, str]:
    before, after = reverse(route, args=[_ODD]).split(str(_ODD))
    return before, after


def deeds_for(
    kind: str, thing_id: int, *, person: Person, site_id: int, but_not: Sequence[str] = ()
) -> list[dict[str, Any]]:
    """The buttons that this person may press on a thing at a site, in order."""
    found = sorted(_deeds[kind].values(), key=lambda deed: deed.rank)
    return [
        {
            "words": deed.words,
            "url": address_of_row(deed.route, thing_id),
            "grave": deed.grave,
            "rank": deed.rank,
        }
        for deed in found
        if may(person, deed.capability, site_id) and deed.route not in but_not
    ]


class Shown(NamedTuple):
    """An entry as one page shows it to one person."""

    words: str
    url: str
    shape: str
    on_phone: bool
    on_desk: bool
    current: bool = False


def masthead(request: HttpRequest | None) -> tuple[Person | None, tuple[Shown, ...]]:
    """Who has the page before them, and the entries that they may use, the present one marked."""
    person = getattr(request, "user", None)
    if request is None or not isinstance(person, Person) or not person.is_authenticated:
        return None, ()
    able = person.capabilities_somewhere if person.is_active else frozenset()
    path = request.path
    return person, tuple(
        one._replace(current=True) if _leads_to(one.url, path) else one
        for one in _shown_to(able, get_urlconf(), get_script_prefix())
    )


@lru_cache(maxsize=64)
def _shown_to(able: frozenset[str], *_where: str | None) -> tuple[Shown, ...]:
    """The entries for who is able to do so much; the addresses hang on where the site stands."""
    allowed = [entry for entry in _entries.values() if entry.capability in able]
    shown = sorted(allowed, key=lambda entry: entry.rank)
    on_phone = {entry.route for entry in [e for e in shown if e.on_phone][:MOST_ON_PHONE]}
    on_desk = {entry.route for entry in shown[:MOST_ON_DESK]}
    return tuple(
        Shown(
            entry.words,
            reverse(entry.route),
            entry.shape,
            entry.route in on_phone,
            entry.route in on_desk,
        )
        for entry in shown
    )


def _leads_to(url: str, path: str) -> bool:
    return path == url or (url != "/" and path.startswith(url))
