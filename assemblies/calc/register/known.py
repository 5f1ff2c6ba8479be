"""What the register knows already, as far as a file touches it. Filled by whoever reads it."""

import datetime as dt
from dataclasses import dataclass, field

from .facts import Values

MachineKey = str
PlaceKey = tuple[MachineKey, str]


@dataclass(frozen=True, slots=True)
class KnownMachine:
    """A machine of the site; `facts` follow `MACHINE_FACTS`."""

    id: int
    number: str
    facts: tuple[Values, ...]
    sold: bool = False


@dataclass(frozen=True, slots=True)
class KnownPosition:
    """A position; `facts` follow `POSITION_FACTS`. `had_others`: hoses were taken off here."""

    id: int
    place_no: int
    facts: tuple[Values, ...]
    had_others: bool = False


@dataclass(frozen=True, slots=True)
class KnownHose:
    """An assembly and its open stay; the facts follow `HOSE_FACTS` and `STAY_FACTS`.

    `where` says in words where it is. `place` is the machine's and the place's key where it is
    on a position. `gone` marks one that was in the store once and is elsewhere now.
    """

    id: int
    name: str
    marked: bool
    where: str
    stay_id: int = 0
    position_id: int = 0
    place: PlaceKey | None = None
    store_key: str | None = None
    facts: tuple[Values, ...] = ()
    stay_facts: tuple[Values, ...] = ()
    inspected: dt.date | None = None
    scrapped: bool = False
    gone: bool = False


@dataclass(slots=True)
class Known:
    """The known machines, positions and hoses of one site, by the keys that rows have."""

    machines: dict[MachineKey, KnownMachine] = field(default_factory=dict)
    positions: dict[PlaceKey, dict[int, KnownPosition]] = field(default_factory=dict)
    by_mark: dict[str, KnownHose] = field(default_factory=dict)
    by_own_tag: dict[str, KnownHose] = field(default_factory=dict)
    on_position: dict[int, KnownHose] = field(default_factory=dict)
    in_store: dict[str, list[KnownHose]] = field(default_factory=dict)
    own_tags: dict[str, str] = field(default_factory=dict)  # rows' tags that are own tags
    free_tags: set[str] = field(default_factory=set)
    other_tags: set[str] = field(default_factory=set)
    readings: dict[tuple[MachineKey, dt.date], set[int]] = field(default_factory=dict)
