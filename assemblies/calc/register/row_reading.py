"""Rows read one after the other: cells, the answers given, and what stands above them."""

import dataclasses
import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.calc.keys import text_key
from fleet.tabular import BLANK, Cell, Row, cell_name

from .cell_reading import Problem, Reading, read_cell, size_within, type_within
from .columns import Column
from .entries import CellRefusal, Dated, LeftOut, ReadRow, RegisterEntry, RowRefused, Sized
from .fields import CARRIED_DOWN, FACTS, Field
from .header import Header
from .questions import A_DAY, Answers, Asked, Gathered
from .row_checks import contradictions
from .row_kinds import left_out
from .words import NO_TAG, NOTHING_KNOWN, SAME_AS_ABOVE

PLACE_NOT_STATED = "place not stated"
_NO_TAG_OR_NOTHING = NO_TAG | NOTHING_KNOWN
_KEPT = 50_000
_DATE_FIELDS = frozenset(f for f in Field if FACTS[f].kind == "day")
_JOIN = ", "


@dataclass(slots=True)
class _Slot:
    """One column that is read, with what its cells were read as before."""

    index: int
    header: str
    field: Field
    reading: Reading
    known: dict[int, tuple[Cell, object]] = dataclasses.field(default_factory=dict)
    last: Cell = BLANK


@dataclass(slots=True)
class RowReader:
    """Reads the rows below a header. Ask `gathered.questions()` when all are read.

    `read_as_blank` counts, by column, what was taken for "not known"; `unnamed` holds the
    columns with something in them and no name above.
    """

    header: Header
    columns: Sequence[Column]
    answers: Answers
    today: dt.date
    every_cell_named: bool = False  # CSV: more cells than names means a shifted row
    gathered: Gathered = dataclasses.field(default_factory=Gathered)
    read_as_blank: dict[int, Counter[str]] = dataclasses.field(default_factory=dict)
    unnamed: set[int] = dataclasses.field(default_factory=set)
    _slots: list[_Slot] = dataclasses.field(default_factory=list)
    _fields: dict[int, Field] = dataclasses.field(default_factory=dict)
    _heading: str = ""
    _open: set[Field] = dataclasses.field(default_factory=set)  # asked about in this row
    _dates: dict[int, "_DatesSeen"] = dataclasses.field(default_factory=dict)

    def __post_init__(self) -> None:
        for column in self.columns:
            if column.field is None:
                continue
            unit = column.unit
            reading = Reading(column.field, unit, self.answers, self.today)
            self._slots.append(_Slot(column.index, column.header, column.field, reading))
            self._fields[column.index] = column.field
            if column.field in _DATE_FIELDS:
                self._dates[column.index] = _DatesSeen()

    def read(self, row: Row) -> ReadRow:
        """Read one row below the header."""
        no_hose = left_out(row, self.header, self._fields)
        if no_hose is not None:
            self._note_heading(row, no_hose)
            return no_hose
        values: dict[Field, object] = {}
        self._open.clear()
        refusals = self._shifted(row)
        where: dict[Field, _Slot] = {}
        for slot in self._slots:
            cell = self._cell(row, slot)
            if cell.kind == "blank":
                continue
            slot.last = cell
            self._take(row, slot, cell, values, refusals)
            where.setdefault(slot.field, slot)
        self._forget_machine_above(where)
        self._carry(row, values)
        return self._finish(row, values, refusals, where)

    def finish(self) -> None:
        """Gather the questions that only all rows together raise. Call after the last row."""
        for slot in self._slots:
            seen = self._dates.get(slot.index)
            if seen is not None and seen.look_swapped and not slot.reading.answer("swapped"):
                asked = Asked("swapped", {"as_they_stand": "", "swap": ""})
                self.gathered.add(
                    slot.field, asked, f"{seen.real} real dates, such as {seen.example}"
                )

    def _cell(self, row: Row, slot: _Slot) -> Cell:
        """The cell of a column: its own, that of a block merged downwards, or the one above."""
        cell = row.cells[slot.index] if slot.index < len(row.cells) else BLANK
        if cell.kind == "blank":
            block = row.covered.get(slot.index)
            if block is not None and block.left == slot.index and block.top > self.header.last_row:
                return block.cell
            return BLANK
        if cell.kind != "text":
            return cell
        folded = cell.text.strip().casefold()
        if folded in SAME_AS_ABOVE:
            return slot.last
        nothing = _NO_TAG_OR_NOTHING if slot.field is Field.TAG else NOTHING_KNOWN
        if folded in nothing:
            self.read_as_blank.setdefault(slot.index, Counter())[cell.text.strip()] += 1
            return BLANK
        return cell

    def _take(
        self,
        row: Row,
        slot: _Slot,
        cell: Cell,
        values: dict[Field, object],
        refusals: list[CellRefusal],
    ) -> None:
        kept = slot.known.get(id(cell))
        if kept is not None and kept[0] is cell:
            value = kept[1]
        else:
            value = self._read(cell, slot)
            if len(slot.known) < _KEPT:
                slot.known[id(cell)] = cell, value
        if slot.index in self._dates:
            self._dates[slot.index].see(cell, value)
        if isinstance(value, Problem):
            refusals.append(_refusal(row, slot.index, slot.header, cell.text, str(value)))
        elif isinstance(value, Asked):
            self.gathered.add(slot.field, value, cell.text.strip())
            self._open.add(slot.field)
        elif FACTS[slot.field].several and slot.field in values:
            joined = f"{values[slot.field]}{_JOIN}{value}"
            longest = FACTS[slot.field].longest
            if len(joined) > longest:
                reason = f"Joined with the columns before, it has more than {longest} characters."
                refusals.append(_refusal(row, slot.index, slot.header, cell.text, reason))
            values[slot.field] = joined
        else:
            values[slot.field] = value
        if slot.field is Field.CIRCUIT and value == "other":
            values["circuit_typed"] = cell.text.strip()  # type: ignore[index]  # beside the field

    def _read(self, cell: Cell, slot: _Slot) -> object:
        try:
            return read_cell(cell, slot.reading)
        except (Problem, Asked) as found:
            found.__cause__ = found.__context__ = None  # kept in `known`: without its frames
            return found.with_traceback(None)

    def _shifted(self, row: Row) -> list[CellRefusal]:
        """A cell to the right of all names: in CSV a comma too many, elsewhere only noted."""
        named = len(self.header.texts)
        beyond = [at for at in range(named, len(row.cells)) if row.cells[at].kind != "blank"]
        self.unnamed.update(beyond)
        if not beyond or not self.every_cell_named:
            return []
        reason = (
            f"The row has {len(row.cells)} cells and the header {named}: a text with the delimiter "
            "in it needs quote marks."
        )
        return [_refusal(row, beyond[0], "", row.cells[beyond[0]].text, reason)]

    def _note_heading(self, row: Row, no_hose: LeftOut) -> None:
        for slot in self._slots:
            cell = row.cells[slot.index] if slot.index < len(row.cells) else BLANK
            if slot.field in CARRIED_DOWN and cell.kind != "blank" and "heading" in no_hose.reason:
                slot.last = cell
                return
        if "heading" in no_hose.reason:
            self._heading = no_hose.found

    def _forget_machine_above(self, where: Mapping[Field, _Slot]) -> None:
        """A row with a machine of its own ends what the rows above said of theirs."""
        if Field.MACHINE in where:
            for slot in self._slots:
                if slot.field in CARRIED_DOWN and slot.field not in where:
                    slot.last = BLANK

    def _carry(self, row: Row, values: dict[Field, object]) -> None:
        """Give a row without a machine the machine above it, where a person has said so."""
        if Field.MACHINE in values or Field.STORE in values:
            return
        above = next(
            (s for s in self._slots if s.field is Field.MACHINE and s.last is not BLANK), None
        )
        if above is not None:
            shown = f"row {row.number}, below “{above.last.text.strip()}”"
            if self._answered(Field.MACHINE, "blanks", ("above", "blank"), shown) == "above":
                for slot in self._slots:
                    if slot.field in CARRIED_DOWN and slot.field not in values:
                        self._carry_one(slot, values)
        elif self._heading:
            shown = f"row {row.number}, below “{self._heading}”"
            said = self._answered(Field.MACHINE, "headings", ("machine", "remark"), shown)
            if said == "machine":
                values[Field.MACHINE] = self._heading[: FACTS[Field.MACHINE].longest]

    def _carry_one(self, slot: _Slot, values: dict[Field, object]) -> None:
        if slot.last is BLANK:
            return
        value = self._read(slot.last, slot)
        if not isinstance(value, Problem | Asked):
            values[slot.field] = value

    def _answered(self, about: Field, matter: str, options: tuple[str, ...], shown: str) -> str:
        answer = self.answers.get(f"{about}.{matter}", "")
        if answer in options:
            return answer
        self.gathered.add(about, Asked(matter, dict.fromkeys(options, "")), shown)
        self._open.add(about)
        return ""

    def _finish(
        self,
        row: Row,
        values: dict[Field, object],
        refusals: list[CellRefusal],
        where: Mapping[Field, _Slot],
    ) -> ReadRow:
        self._complete(row, values)
        if not refusals:
            found = contradictions(values)
            refusals = [self._contradiction(row, where, *one) for one in found]
        if not refusals and not self._has_somewhere(values):
            reason = "It names neither a machine nor a place in the store: write one of them."
            refusals = [self._contradiction(row, where, Field.MACHINE, reason)]
        if refusals:
            texts = {f: str(values.get(f, "")) for f in _PLACING}
            return RowRefused(row.number, tuple(refusals), **texts)
        return RegisterEntry(row.number, **{str(name): value for name, value in values.items()})  # type: ignore[arg-type]  # each reader gives its field's type

    def _complete(self, row: Row, values: dict[Field, object]) -> None:
        for name in _KEYED:
            if name in values and not text_key(str(values[name])):
                del values[name]  # nothing but signs that can't be seen
        if Field.MACHINE in values and Field.PLACE not in values:
            values[Field.PLACE] = PLACE_NOT_STATED
        self._size_and_type(values)
        if Field.HOURS_NOW in values and Field.HOURS_ON not in values:
            self._date_hours(row, values)

    def _size_and_type(self, values: dict[Field, object]) -> None:
        size, hose_type = values.get(Field.SIZE), values.get(Field.HOSE_TYPE)
        if size is None and hose_type and Field.SIZE not in self._open:
            found = size_within(str(hose_type))
            if found is not None:
                values[Field.SIZE] = found
        elif isinstance(size, Sized) and not hose_type:
            found_type = type_within(size.typed)
            if found_type:
                values[Field.HOSE_TYPE] = found_type

    def _date_hours(self, row: Row, values: dict[Field, object]) -> None:
        """Hours without their day: the person says the day once, or leaves them out."""
        answer = self.answers.get(f"{Field.HOURS_NOW}.day", "")
        if answer == "leave_out":
            del values[Field.HOURS_NOW]
            return
        try:
            values[Field.HOURS_ON] = dt.date.fromisoformat(answer)
        except ValueError:
            asked = Asked("day", {A_DAY: "", "leave_out": ""})
            self.gathered.add(Field.HOURS_NOW, asked, f"row {row.number}")

    def _has_somewhere(self, values: Mapping[Field, object]) -> bool:
        known = Field.MACHINE in values or Field.STORE in values
        return known or Field.MACHINE in self._open

    def _contradiction(
        self, row: Row, where: Mapping[Field, _Slot], about: Field, reason: str
    ) -> CellRefusal:
        slot = where.get(about) or next((s for s in self._slots if s.field is about), None)
        if slot is None:
            return CellRefusal(f"row {row.number}", FACTS[about].label, "", reason)
        cell = self._cell(row, slot)
        return _refusal(row, slot.index, slot.header, cell.text, reason)


_PLACING = (Field.TAG, Field.MACHINE, Field.PLACE, Field.STORE)
_KEYED = (*_PLACING, Field.MACHINE_CLASS)


@dataclass(slots=True)
class _DatesSeen:
    """Real dates and typed ones of one column, to see whether a program swapped the real ones."""

    real: int = 0
    real_above_twelve: int = 0
    typed_above_twelve: int = 0
    example: str = ""

    def see(self, cell: Cell, value: object) -> None:
        if not isinstance(value, Dated) or value.precision != "day":
            return
        late = value.earliest.day > 12
        if isinstance(cell.value, dt.date):
            self.real += 1
            self.real_above_twelve += late
            self.example = self.example or cell.text
        elif cell.text[:1].isdigit() and not cell.text[:4].isdigit():
            self.typed_above_twelve += late

    @property
    def look_swapped(self) -> bool:
        return self.real >= 3 and not self.real_above_twelve and self.typed_above_twelve > 0


def _refusal(row: Row, column: int, header: str, found: str, reason: str) -> CellRefusal:
    shown = " ".join(found.split())
    shown = shown if len(shown) <= 60 else f"{shown[:60]}…"
    return CellRefusal(cell_name(column, row.number), header, shown, reason)
