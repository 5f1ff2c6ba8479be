"""The strictest limit of all matching rules, trigger by trigger."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from scheduling.calc.calendar import Ints
from scheduling.calc.fingerprint import mixed
from scheduling.calc.inputs import LIMITS, NONE, DueInputs, RuleTable

_WIDEST: Final = 1 << 16  # joined scope values beyond this are renumbered before the next is joined
_TOO_WIDE: Final = 1 << 22  # beyond this a table of all keys costs more than sorting them


@dataclass(frozen=True)
class MatchedLimits:
    """Limits per group of rows that no rule tells apart; `group` is each row's, shape (n,).

    `limit[name]` and `rule[name]` have shape (groups,) and are missing where no rule sets one.
    """

    group: Ints
    any_rule: Ints
    limit: dict[str, Ints]
    rule: dict[str, Ints]
    digest: Ints

    def of(self, name: str) -> tuple[Ints, Ints] | None:
        """One limit and the rule behind it for every row, shape (n,); None where none is set."""
        if name not in self.limit:
            return None
        return self.limit[name][self.group], self.rule[name][self.group]


def matching_limits(inputs: DueInputs, rules: RuleTable) -> MatchedLimits:
    """All rules whose whole scope fits a row apply; the lowest limit wins, then the lowest rule id.

    inputs: n rows; rules: few rows. Rows are first grouped by the scope values that some rule
    names, so that the work grows with groups × rules, not with rows × rules.

    >>> hose, six_years = DueInputs.of(known_from_on=9), RuleTable.of(rule=7, built_months=72)
    >>> limit, rule = matching_limits(hose, six_years).of("built_months") or ()
    >>> int(limit[0]), int(rule[0])
    (72, 7)
    """
    group, sample = _groups(inputs, rules)
    order = rules.in_order
    matches = np.ones((rules.size, sample.size), dtype=bool)
    for scope in rules.named:
        wanted = getattr(rules, scope)[order][:, None]
        matches &= (wanted == NONE) | (wanted == getattr(inputs, scope)[sample])
    limit, rule, ids = {}, {}, rules.rule[order]
    for name in rules.limited:
        limit[name], rule[name] = _strictest(getattr(rules, name)[order], ids, matches)
    any_rule: Ints = np.asarray(matches.any(axis=0), dtype=np.int64)
    return MatchedLimits(group, any_rule, limit, rule, _digest(any_rule, limit, rule))


def _groups(inputs: DueInputs, rules: RuleTable) -> tuple[Ints, Ints]:
    """Each row's group, and one row that stands for each group."""
    key, width = np.zeros(inputs.size, dtype=np.int64), 1
    for scope, named in rules.named.items():
        key = key * (named.size + 1) + _place_among(named, getattr(inputs, scope))
        width *= named.size + 1
        if width > _WIDEST:
            key, sample = _renumbered(key, width)
            width = sample.size
    return _renumbered(key, width)


def _place_among(named: Ints, column: Ints) -> Ints:
    """1, 2, 3 … where a value is one of the sorted `named`, else 0."""
    at = np.minimum(np.searchsorted(named, column), named.size - 1)
    return np.where(named[at] == column, at + 1, 0)


def _renumbered(key: Ints, width: int) -> tuple[Ints, Ints]:
    """Keys below `width` as 0, 1, 2 … without gaps, and a row for each; rows are rarely sorted."""
    if width > _TOO_WIDE:
        _, first, number = np.unique(key, return_index=True, return_inverse=True)
        return number.astype(np.int64), first.astype(np.int64)
    seen_at = np.full(width, -1, dtype=np.int64)
    seen_at[key] = np.arange(key.size)
    used = np.flatnonzero(seen_at >= 0)
    number_of = np.zeros(width, dtype=np.int64)
    number_of[used] = np.arange(used.size)
    return number_of[key], seen_at[used]


def _strictest(limits: Ints, rules: Ints, matches: npt.NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Over rules in the order of their ids: the lowest limit and the first rule that sets it."""
    offered = np.where(matches, limits[:, None], NONE)
    lowest = offered.min(axis=0)
    return lowest, np.where(lowest == NONE, NONE, rules[offered.argmin(axis=0)])


def _digest(any_rule: Ints, limit: dict[str, Ints], rule: dict[str, Ints]) -> Ints:
    """The limits of each group as one number, for the fingerprint."""
    absent = np.broadcast_to(np.int64(NONE), any_rule.shape)
    told = [column.get(name, absent) for name in LIMITS for column in (limit, rule)]
    return mixed([any_rule, *told]).view(np.int64)
