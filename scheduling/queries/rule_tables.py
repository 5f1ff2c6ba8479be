"""Approved life rules and standing exemptions as tables of whole numbers."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from django.db import router
from django.db.models import BigIntegerField, Case, Expression, Q, QuerySet, Value, When

from assemblies.models import Stay
from scheduling.calc.calendar import Ints
from scheduling.calc.inputs import NONE, Exemptions, RuleTable, Trigger
from scheduling.models import Exemption, LifeRuleRevision
from scheduling.queries.fast_columns import Codes, Selection, Wanted, coded, read_rows, whole

_SCOPE: Final = (
    *("site_id", "machine_class_id", "machine_id"),
    *("circuit", "hose_type", "consequence", "exposure"),
)
_TEXTS: Final = ("circuit", "hose_type", "consequence", "exposure")
_RULE: Final = ("pk", *_SCOPE, *LifeRuleRevision.LIMITS)
_EXEMPTION: Final = ("assembly_id", "position_id", *_SCOPE, "triggers", "until_on")

_APPROVED: Final = Q(state="approved", header__withdrawn_at=None)

Row = tuple[Any, ...]


@dataclass(frozen=True)
class Rulebook:
    """All rules and exemptions, and the codes (`circuit:travel`, 2) of the texts they name."""

    rules: RuleTable
    exemptions: Exemptions
    texts: Codes = ()
    is_whole: bool = True  # False where exemptions are left out

    @property
    def counts_all_hours(self) -> bool:
        """Whether any rule limits hours over all stays."""
        return "total_tenths" in self.rules.limited

    def holds(self, approved: Ints) -> bool:
        """Whether these are the approved rules as the database has them, in any order."""
        return np.array_equal(approved[np.argsort(approved[:, 0])], self._numbers)

    @cached_property
    def _numbers(self) -> Ints:
        table = np.stack([getattr(self.rules, name) for name in self.rules.names()], axis=1)
        return table[np.argsort(self.rules.rule)]

    def exemptions_for(self, assemblies: Ints, positions: Ints) -> Exemptions:
        """Only those that can matter to these rows: of other hoses and positions there are many."""
        table = self.exemptions
        if not table.size:
            return table
        kept = (table.assembly == NONE) | np.isin(table.assembly, assemblies)
        kept &= (table.position == NONE) | np.isin(table.position, positions)
        return Exemptions(**{name: getattr(table, name)[kept] for name in table.names()})


def rulebook(drafts: Iterable[LifeRuleRevision] = ()) -> Rulebook:
    """The approved rules and the exemptions that have not been ended, as of now.

    `drafts` are to be tried: each takes the place of its header's approved revision.
    """
    read = read_rows(_approved, LifeRuleRevision), read_rows(_standing, Exemption)
    tried = list(drafts)
    if tried:
        return _made(*read, tried)
    using = router.db_for_read(LifeRuleRevision)
    last = _last.get(using)
    if last is None or last[0] != read:
        last = _last[using] = read, _made(*read)
        _keep(last[1])
    return last[1]


# By database, what was read last and the book made of it: made anew only where anything differs.
_last: dict[str, tuple[tuple[list[Row], list[Row]], Rulebook]] = {}


def _made(
    approved: list[Row], standing: list[Row], drafts: Sequence[LifeRuleRevision] = ()
) -> Rulebook:
    replaced = {draft.header_id for draft in drafts}
    rules = [row[1:] for row in approved if row[0] not in replaced]
    rules += [_as_row(draft) for draft in drafts]
    exemptions = [_with_bits(row) for row in standing]
    texts = _codes([(_RULE, rules), (_EXEMPTION, exemptions)])
    return Rulebook(
        RuleTable.from_rows(_numbers(_RULE, rules, texts)),
        Exemptions.from_rows(_numbers(_EXEMPTION, exemptions, texts)),
        tuple(sorted(texts.items())),
    )


_kept: dict[str, Rulebook] = {}  # by database


def kept_rulebook() -> Rulebook:
    """The rules this process read last, without exemptions: whoever uses them asks `holds` first.

    What is kept is never trusted, so that nobody need tell this process of a new rule, and a rule
    that was rolled back is gone with its numbers.
    """
    using = router.db_for_read(LifeRuleRevision)
    if using not in _kept:
        _keep(rulebook())
    return _kept[using]


def _keep(book: Rulebook) -> None:
    nobody = Exemptions.from_rows(np.array([], dtype=np.int64))
    using = router.db_for_read(LifeRuleRevision)
    _kept[using] = Rulebook(book.rules, nobody, book.texts, is_whole=False)


def approved_numbers(_wanted: Wanted, codes: Codes) -> Selection:
    """The approved rules as the columns of `RuleTable`; a text that has no code is 0."""
    columns = {f"r_{name}": _rule_number(name, codes) for name in _RULE}
    found = LifeRuleRevision.objects.filter(_APPROVED).annotate(**columns)
    return found, tuple(columns)


def exemptions_there(wanted: Wanted, _codes: Codes) -> Selection:
    """The standing exemptions that may speak of these hoses."""
    of_position = Stay.objects.filter(wanted.on("assembly_id"), is_open=True).values("position_id")
    hose = Q(assembly__isnull=True) | wanted.on("assembly_id")
    place = Q(position__isnull=True) | Q(position_id__in=of_position)
    return Exemption.objects.filter(hose & place, ended_at=None), ("pk",)


def _rule_number(name: str, codes: Codes) -> Expression:
    if name not in _TEXTS:
        return whole(name)
    own = tuple(
        (text.split(":", 1)[1], code) for text, code in codes if text.startswith(f"{name}:")
    )
    any_text = When(**{name: ""}, then=Value(NONE))
    return Case(any_text, default=coded(name, own), output_field=BigIntegerField())


def alone(exemption: Exemption, book: Rulebook) -> Exemptions:
    """One exemption as a table of its own, in the codes of a rulebook that has it."""
    fields = {field.attname: field for field in exemption._meta.concrete_fields}
    row = tuple(
        getattr(exemption, name)
        if name == "triggers"
        else fields[name].get_prep_value(getattr(exemption, name))
        for name in _EXEMPTION
    )
    return Exemptions.from_rows(_numbers(_EXEMPTION, [_with_bits(row)], dict(book.texts)))


def trigger_bits(names: Iterable[str]) -> int:
    """The triggers an exemption names, as a sum of 2**trigger; 0 for all of them.

    >>> trigger_bits(["made", "built"])
    6
    """
    return sum(1 << Trigger[name.upper()] for name in set(names))


def _approved() -> "QuerySet[LifeRuleRevision, Row]":
    approved = LifeRuleRevision.objects.filter(_APPROVED)
    return approved.order_by("pk").values_list("header_id", *_RULE)


def _standing() -> "QuerySet[Exemption, Row]":
    return Exemption.objects.filter(ended_at=None).order_by("pk").values_list(*_EXEMPTION)


def _as_row(draft: LifeRuleRevision) -> Row:
    """A draft's columns as the database would give them."""
    fields = {field.attname: field for field in draft._meta.concrete_fields}
    key = draft.pk or NONE - 1  # one that isn't saved comes last among equals
    return (key, *(fields[name].get_prep_value(getattr(draft, name)) for name in _RULE[1:]))


def _with_bits(row: Row) -> Row:
    named = row[_EXEMPTION.index("triggers")]
    named = json.loads(named) if isinstance(named, str) else named
    return (*row[:-2], trigger_bits(named), row[-1])


def _codes(tables: Iterable[tuple[tuple[str, ...], list[Row]]]) -> dict[str, int]:
    named = {
        f"{name}:{row[names.index(name)]}"
        for names, rows in tables
        for row in rows
        for name in _TEXTS
        if row[names.index(name)]
    }
    return {text: code for code, text in enumerate(sorted(named), 1)}


def _numbers(names: tuple[str, ...], rows: list[Row], texts: dict[str, int]) -> Ints:
    table = [
        [_number(name, value, texts) for name, value in zip(names, row, strict=True)]
        for row in rows
    ]
    return np.array(table, dtype=np.int64)


def _number(name: str, value: Any, texts: dict[str, int]) -> int:
    if name in _TEXTS:
        return texts[f"{name}:{value}"] if value else NONE
    return NONE if value is None else int(value)
