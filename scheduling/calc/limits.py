"""The strictest limit of all matching rules, trigger by trigger."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from scheduling.calc.calendar import Ints, beside
from scheduling.calc.fingerprint import mixed
from scheduling.calc.inputs import LIMITS, NONE, DueInputs, RuleTable

_WIDEST: Final = 1 << 16  # joined scope values beyond this are renumbered before the next is joined
_TOO_WIDE: Final = 1 << 22  # beyond this a table of all keys costs more than sorting them
_FEW_NAMED: Final = 16  # scope values: so many make some thousands of keys at most
# Those that are worked out together stand next to each other.
_LAID: Final = tuple(sorted(LIMITS, key=lambda n: (n.endswith("_tenths"), n == "reel_age_months")))


@dataclass(frozen=True)
class MatchedLimits:
    """What the rules say of n rows: of each limit in `names` the lowest, and the rule behind it.

    `limit` and `rule` have shape (names, n), the others (n,): whether any rule matches, whether
    any limits hours, and all of it as one number. A limit that no rule sets is not among the names.
    """

    names: tuple[str, ...]
    limit: Ints
    rule: Ints
    any_rule: Ints
    counts_hours: Ints
    digest: Ints

    def of(self, name: str) -> tuple[Ints, Ints] | None:
        """One limit and the rule behind it for every row, shape (n,); None where none is set."""
        if name not in self.names:
            return None
        at = self.names.index(name)
        return self.limit[at], self.rule[at]

    def together(self, names: Sequence[str]) -> tuple[Ints, Ints]:
        """Likewise several that are set and stand next to each other, shape (names, n)."""
        first = self.names.index(names[0])
        some = slice(first, first + len(names))
        return self.limit[some], self.rule[some]


@dataclass(frozen=True)
class _Keys:
    """Every combination of the scope values that rules name, as a key: the sum of the weights of
    the values that a row has. `told` holds what the rules say of each, as `_told` gives it."""

    scopes: tuple[str, ...]
    values: Ints
    weights: Ints
    told: Ints

    def of(self, inputs: DueInputs) -> Ints:
        if not self.scopes:
            return np.zeros(inputs.size, dtype=np.int64)
        has = beside([getattr(inputs, scope) for scope in self.scopes]) == self.values
        return np.asarray(self.weights @ has)


def matching_limits(inputs: DueInputs, rules: RuleTable) -> MatchedLimits:
    """All rules whose whole scope fits a row apply; the lowest limit wins, then the lowest rule id.

    inputs: n rows; rules: few rows. Rows are first grouped by the scope values that some rule
    names, so that the work grows with groups × rules, not with rows × rules; where few are named
    every group is worked out once for all, as long as the rules are kept.

    >>> hose, six_years = DueInputs.of(known_from_on=9), RuleTable.of(rule=7, built_months=72)
    >>> limit, rule = matching_limits(hose, six_years).of("built_months") or ()
    >>> int(limit[0]), int(rule[0])
    (72, 7)
    """
    keys = _keys(rules)
    if keys is not None:
        told = keys.told.take(keys.of(inputs), axis=1)
    else:
        group, sample = _groups(inputs, rules)
        values = {scope: getattr(inputs, scope)[sample] for scope in rules.named}
        told = _told(rules, values, sample.size).take(group, axis=1)
    names = _names(rules)
    number = len(names)
    return MatchedLimits(names, told[:number], told[number : 2 * number], *told[2 * number :])


def _names(rules: RuleTable) -> tuple[str, ...]:
    return tuple(name for name in _LAID if name in rules.limited)


def _keys(rules: RuleTable) -> _Keys | None:
    """The keys of some rules, worked out once; None where they name too many values."""
    if "keys" not in rules.kept:
        few = sum(named.size for named in rules.named.values()) <= _FEW_NAMED
        rules.kept["keys"] = _all_keys(rules) if few else None
    found: _Keys | None = rules.kept["keys"]
    return found


def _all_keys(rules: RuleTable) -> _Keys:
    scopes: list[str] = []
    weights, width = [], 1
    for scope, named in rules.named.items():
        scopes += [scope] * named.size
        weights += [at * width for at in range(1, named.size + 1)]
        width *= named.size + 1
    keys, told, stride = np.arange(width), {}, 1
    for scope, named in rules.named.items():
        told[scope] = np.concatenate([[NONE], named])[keys // stride % (named.size + 1)]
        stride *= named.size + 1
    values = np.array([v for named in rules.named.values() for v in named.tolist()])[:, None]
    return _Keys(tuple(scopes), values, np.array(weights), _told(rules, told, width))


def _told(rules: RuleTable, values: dict[str, Ints], groups: int) -> Ints:
    """Per group of rows with the same scope values: the limits, their rules, and the rest of
    `MatchedLimits`, shape (…, groups)."""
    order, names = rules.in_order, _names(rules)
    matches = np.ones((rules.size, groups), dtype=bool)
    for scope, own in values.items():
        wanted = getattr(rules, scope)[order][:, None]
        matches &= (wanted == NONE) | (wanted == own)
    ids = rules.rule[order]
    found = {name: _strictest(getattr(rules, name)[order], ids, matches) for name in names}
    any_rule = np.asarray(matches.any(axis=0), dtype=np.int64)
    hours = np.zeros(groups, dtype=np.int64)
    for name in names:
        if name.endswith("_tenths"):
            hours |= found[name][0] != NONE
    limits, setting = ([found[name][at] for name in names] for at in (0, 1))
    return beside([*limits, *setting, any_rule, hours, _digest(any_rule, found)])


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


def _digest(any_rule: Ints, found: dict[str, tuple[Ints, Ints]]) -> Ints:
    """The limits of each group as one number, for the fingerprint."""
    absent = np.full_like(any_rule, NONE)
    told = [column for name in LIMITS for column in found.get(name, (absent, absent))]
    return mixed(beside([any_rule, *told])).view(np.int64)
