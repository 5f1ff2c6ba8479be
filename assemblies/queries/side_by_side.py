"""Revisions side by side: who made and approved each, and what they say, fact by fact."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assemblies.calc.sizes import SizeError, size_by_dn

NOT_SHOWN = frozenset(
    {"id", "header", "number", "state", "made_by", "made_at", "approved_by", "approved_at"}
    | {"withdrawn_at", "withdrawn_by", "withdrawal_reason", "change_note"}
)


@dataclass(frozen=True, slots=True)
class RevisionHead:
    """Who made and who approved a revision, and when."""

    revision_id: int
    number: int
    state: str
    made_by: str
    made_at: dt.datetime
    approved_by: str
    approved_at: dt.datetime | None
    withdrawn_by: str
    withdrawal_reason: str
    change_note: str

    @property
    def mark(self) -> str:
        """The mark of its state: a provisional recipe is held for its second trial."""
        return "held" if self.state == "provisional" else self.state

    @property
    def may_be_withdrawn(self) -> bool:
        return self.state in ("approved", "provisional")


@dataclass(frozen=True, slots=True)
class FactCell:
    """What one revision says of a fact."""

    number: int
    text: str


@dataclass(frozen=True, slots=True)
class FactRow:
    """One fact across all revisions, the newest first; whether the last change changed it."""

    label: str
    cells: tuple[FactCell, ...]
    differs: bool


def head_of(revision: Any) -> RevisionHead:
    """Who made and approved a revision."""
    return RevisionHead(
        revision.pk,
        revision.number,
        revision.state,
        str(revision.made_by or "the register"),
        revision.made_at,
        str(revision.approved_by or ""),
        revision.approved_at,
        str(revision.withdrawn_by or ""),
        revision.withdrawal_reason,
        revision.change_note,
    )


def fact_rows(
    revisions: Sequence[Any], not_shown: Iterable[str] = NOT_SHOWN
) -> tuple[FactRow, ...]:
    """The facts of revisions side by side; what is empty in all of them is left out."""
    if not revisions:
        return ()
    hidden = set(not_shown)
    fields = [field for field in revisions[0]._meta.fields if field.name not in hidden]
    rows = (row_of(_label(field), _cells(revisions, field)) for field in fields)
    return tuple(row for row in rows if any(cell.text for cell in row.cells))


def row_of(label: str, cells: tuple[FactCell, ...]) -> FactRow:
    """A row that knows whether the newest revision says something else than the one before."""
    return FactRow(label, cells, len(cells) > 1 and cells[0].text != cells[1].text)


def _cells(revisions: Sequence[Any], field: Any) -> tuple[FactCell, ...]:
    return tuple(FactCell(one.number, _shown(one, field)) for one in revisions)


_UNITS = {"bar": "bar", "mm": "mm", "c": "°C", "nm": "Nm", "deg": "°", "s": "s"}
_WORDS = {
    "rating_source": "Source of the pressure",
    "printed_pressure": "As printed",
    "temperature_low_c": "Coldest",
    "temperature_high_c": "Hottest",
    "bend_radius_mm": "Smallest bend radius",
    "tube_material": "Tube",
    "outside_diameter_mm": "Outside",
    "inside_diameter_mm": "Inside",
    "reinforcement_diameter_mm": "Over the reinforcement",
    "allowance_mm": "Cut-off allowance",
    "allowance_counts_from": "The allowance counts",
    "orientation_deg": "Angle between the ends",
    "length_basis": "Measured",
    "chart_source": "The maker's chart",
    "external_skive": "Cover at the end",
    "external_skive_mm": "Skived cover",
    "internal_skive": "Tube at the end",
    "internal_skive_mm": "Skived tube",
    "crimp_od_mm": "Crimp OD",
    "ovality_max_mm": "Most ovality",
    "pin_from": "Pin enters from",
    "must_pass_pin_mm": "Pin that must still pass",
    "closing_allowed": "Oversize may be closed",
    "size_dn": "Size",
    "tail_dn": "Size of the tail",
    "standard_type": "Type",
    "one_piece": "One piece",
    "layers_made_for": "Layers it is made for",
}


def _label(field: Any) -> str:
    stem, _, unit = field.name.rpartition("_")
    name = stem if unit in _UNITS else field.name
    return str(_WORDS.get(field.name, name.replace("_", " ").capitalize()))


def _shown(revision: Any, field: Any) -> str:
    value = getattr(revision, field.name)
    if value is None or value == "":
        return ""
    if field.name.endswith("_dn"):
        return size_words(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if field.choices:
        return f"{getattr(revision, f'get_{field.name}_display')()}"
    text = f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)
    unit = _UNITS.get(field.name.rpartition("_")[2], "")
    return f"{text} {unit}".strip() if not isinstance(value, str) else text


def size_words(dn: int) -> str:
    """A size in the trade's notations; a DN that no table knows stands alone."""
    try:
        size = size_by_dn(dn)
    except SizeError:
        return f"DN{dn}"
    return str(size) if size.dn == dn else f"DN{dn}"
