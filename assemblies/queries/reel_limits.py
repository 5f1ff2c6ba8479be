"""The ages up to which hose may be built in, wherever they are kept.

Life rules stand above this app: whoever keeps them says so here. Without one, the published
figures are told, and that no rule of the site has chosen among them.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from assemblies.calc.reel_age import ReelLimit
from assemblies.standards import tables

_MONTHS_IN = {"months": 1, "quarters": 3, "years": 12}
_SHELF = frozenset({("reel_age_at_build", "hose_made"), ("storage", "hose_made")})


@dataclass(frozen=True, slots=True)
class KeptLimit:
    """A limit as it is kept: for one site or all (None), one hose type or all (empty)."""

    limit: ReelLimit
    site_id: int | None = None
    hose_type: str = ""


Keeper = Callable[[], Iterable[KeptLimit]]
_keepers: dict[str, Keeper] = {}


def keep_reel_limits(name: str, keeper: Keeper) -> None:
    """Say who keeps limits of reel age; the same name again replaces the first."""
    _keepers[name] = keeper


@dataclass(frozen=True, slots=True)
class ReelLimits:
    """All limits, read once for a page."""

    kept: tuple[KeptLimit, ...]

    def of(self, site_id: int, hose_type: str) -> tuple[ReelLimit, ...]:
        """Those that speak of hose of this type at this site."""
        return tuple(
            one.limit
            for one in self.kept
            if one.site_id in (None, site_id) and one.hose_type in ("", hose_type)
        )


def reel_limits() -> ReelLimits:
    """The limits as they stand now; as many queries as there are keepers."""
    return ReelLimits(tuple(limit for keeper in _keepers.values() for limit in keeper()))


def published_limits() -> tuple[str, ...]:
    """What the documents say of reel age, in words; they differ, and a site chooses."""
    rows = (row for row in tables.age_presets() if (row.limit, row.counts_from) in _SHELF)
    limits = (ReelLimit(row.value * _MONTHS_IN[row.unit], str(row.source)) for row in rows)
    return tuple(dict.fromkeys(limit.words for limit in limits))
