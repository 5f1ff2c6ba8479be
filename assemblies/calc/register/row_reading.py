"""Rows read one after the other: cells, the answers given, and what stands above them."""

import dataclasses
import datetime as dt
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.tabular import BLANK, Cell, Row, cell_name

from .cell_reading import Problem, Reading, read_cell
from .columns import Column
from .entries import CellRefusal, Dated, LeftOut, ReadRow, RegisterEntry, RowRefused, Sized
from .fields import CARRIED_DOWN, FACTS, Field
from .header import Header
from .hose_words import size_within, sized_by_tube, type_within
from .keys import quick_key
from .questions import A_DAY, Answers, Asked, Gathered
from .row_checks import contradictions
from .row_kinds import left_out
from .words import NO_TAG, NOTHING_KNOWN, SAME_AS_ABOVE

PLACE_NOT_STATED = "place not stated"
_NO_TAG_OR_NOTHING = NO_TAG | NOTHING_KNOWN
_KEPT = 50_000
_LONGEST_SIGN = 20 + max(map(len, _NO_TAG_OR_NOTHING | SAME_AS_ABOVE))
_DATE_FIELDS = frozenset(f for f in Field if FACTS[f].kind == "day")
_JOIN = ", "
# Hose whose dash is that of the tube it replaces (SAE 100R5 and 100R14).
_NAMED_BY_TUBE = re.compile(r"\bR(?:5|14)\b|100R(?:5|14)\b", re.IGNORECASE)


# A cell, what it was read as, and whether that may be taken without another look.
_Kept = tuple[Cell, object, bool]


@dataclass(slots=True)
class _Slot:
    """One column that is read, with what its cells were read as before."""

    index: int
    header: str
    field: Field
    reading: Reading
    plain: bool  # the only column of its field, and none of real dates
    known: dict[int, _Kept] = dataclasses.field(default_factory=dict)
    last: Cell = BLANK
    dates: "_DatesSeen | None" = None


class _Sign:
    """What a cell says instead of a value."""


_NOTHING, _AS_ABOVE = _Sign(), _Sign()


@dataclass(slots=True)
class RowReader:
    """Reads the rows below a header. Ask `gathered.questions()` when all are read.

    `read_as_blank` counts, by column, what was taken for "not known"; `unnamed` holds the
    columns with something in them and no name above.

    >>> from assemblies.calc.register.columns import match_columns
    >>> from fleet.tabular import open_table
    >>> head, hose = open_table(b"Machine,Place,Size\\nEX-01,Boom,1/2\\n", name="a.csv").rows()
    >>> header = Header(1, 1, tuple(cell.text for cell in head.cells))
    >>> reader = RowReader(header, match_columns(header.texts), {}, dt.date(2026, 3, 9))
    >>> entry = reader.read(hose)
    >>> entry.machine, entry.size.size.dn
    ('EX-01', 12)
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
    _carried: list[_Slot] = dataclasses.field(default_factory=list)
    _heading: str = ""
    _open: set[Field] = dataclasses.field(default_factory=set)  # asked about in this row

    def __post_init__(self) -> None:
        for column in self.columns:
            if column.field is None:
                continue
            unit = column.unit
            reading = Reading(column.field, unit, self.answers, self.today)
            alone = sum(other.field is column.field for other in self.columns) == 1
            dated = column.field in _DATE_FIELDS and not self.every_cell_named
            slot = _Slot(column.index, column.header, column.field, reading, alone and not dated)
            slot.dates = _DatesSeen() if dated else None
            self._slots.append(slot)
            self._fields[column.index] = column.field
            if column.field in CARRIED_DOWN and column.field is not Field.MACHINE:
                self._carried.append(slot)

    def read(self, row: Row) -> ReadRow:
        """Read one row below the header.

        >>> from fleet.tabular import open_table
        >>> from assemblies.calc.register.understanding import Chosen, read_register, understand
        >>> table = open_table(b"Machine;Place;Size\\nEX-01;Boom;1/2\\n", name="register.csv")
        >>> found = understand(table, Chosen())
        >>> read_register(table, found, {}, dt.date(2026, 3, 9)).rows[0].row_number
        2
        """
        no_hose = left_out(row, self.header, self._fields)
        if no_hose is not None:
            self._note_heading(row, no_hose)
            return no_hose
        values: dict[Field, object] = {}
        self._open.clear()
        refusals = self._shifted(row)
        cells, width, covered = row.cells, len(row.cells), row.covered
        for slot in self._slots:
            cell = cells[slot.index] if slot.index < width else BLANK
            if cell.kind == "blank":
                if not covered:
                    continue
                cell = self._covering(row, slot)
            kept = slot.known.get(id(cell))
            if kept is None or kept[0] is not cell:
                kept = self._learn(cell, slot)
            if kept[2]:
                slot.last = cell
                values[slot.field] = kept[1]
            else:
                self._take(row, slot, cell, kept[1], values=values, refusals=refusals)
        if self._carried and Field.MACHINE in values:
            self._forget_machine_above(values)
        self._carry(row, values)
        return self._finish(row, values, refusals)

    def finish(self) -> None:
        """Gather the questions that only all rows together raise. Call after the last row."""
        for slot in self._slots:
            seen = slot.dates
            if seen is not None and seen.look_swapped and not slot.reading.answer("swapped"):
                asked = Asked("swapped", {"as_they_stand": "", "swap": ""})
                self.gathered.add(
                    slot.field, asked, f"{seen.real} real dates, such as {seen.example}"
                )

    def _covering(self, row: Row, slot: _Slot) -> Cell:
        """The cell of a block that is merged downwards over this one; blank where none is."""
        block = row.covered.get(slot.index)
        below = block is not None and block.left == slot.index and block.top > self.header.last_row
        return block.cell if block is not None and below else BLANK

    def _learn(self, cell: Cell, slot: _Slot) -> _Kept:
        """Read a cell, and keep what it was read as for the next of its kind."""
        value = self._meaning(cell, slot)
        open_ended = isinstance(value, _Sign | Problem | Asked) or value == "other"
        kept = cell, value, slot.plain and not open_ended
        if len(slot.known) < _KEPT:
            slot.known[id(cell)] = kept
        return kept

    def _meaning(self, cell: Cell, slot: _Slot) -> object:
        if cell.kind == "blank":
            return _NOTHING
        if cell.kind == "text" and len(cell.text) <= _LONGEST_SIGN:
            folded = cell.text.strip().casefold()
            if folded in SAME_AS_ABOVE:
                return _AS_ABOVE
            if folded in (_NO_TAG_OR_NOTHING if slot.field is Field.TAG else NOTHING_KNOWN):
                return _NOTHING
        if slot.field in _KEYED and not cell.text.isascii() and not quick_key(cell.text):
            return _NOTHING  # nothing but signs that can't be seen
        return self._read(cell, slot)

    def _note_nothing(self, cell: Cell, slot: _Slot) -> None:
        if cell.kind != "blank":
            self.read_as_blank.setdefault(slot.index, Counter())[cell.text.strip()] += 1

    def _take(
        self,
        row: Row,
        slot: _Slot,
        cell: Cell,
        value: object,
        *,
        values: dict[Field, object],
        refusals: list[CellRefusal],
    ) -> None:
        if value is _AS_ABOVE:
            cell = slot.last
            value = self._learn(cell, slot)[1]
        if value is _NOTHING:
            self._note_nothing(cell, slot)
            return
        slot.last = cell
        if slot.dates is not None:
            slot.dates.see(cell, value)
        if isinstance(value, Exception):
            self._hold(row, slot, cell, value, refusals=refusals)
        elif slot.field in values and FACTS[slot.field].several:
            joined = f"{values[slot.field]}{_JOIN}{value}"
            longest = FACTS[slot.field].longest
            if len(joined) > longest:
                reason = f"Joined with the columns before, it has more than {longest} characters."
                refusals.append(_refusal(row, slot.index, slot.header, cell.text, reason))
            values[slot.field] = joined
        else:
            values[slot.field] = value
            if value == "other" and slot.field is Field.CIRCUIT:
                values["circuit_typed"] = cell.text.strip()  # type: ignore[index]  # beside the field

    def _hold(
        self,
        row: Row,
        slot: _Slot,
        cell: Cell,
        found: Exception,
        *,
        refusals: list[CellRefusal],
    ) -> None:
        """A cell that can't be read, or that its column must be asked about."""
        if isinstance(found, Asked):
            self.gathered.add(slot.field, found, cell.text.strip())
            self._open.add(slot.field)
        else:
            refusals.append(_refusal(row, slot.index, slot.header, cell.text, str(found)))

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

    def _forget_machine_above(self, values: Mapping[Field, object]) -> None:
        """A row with a machine of its own ends what the rows above said of theirs."""
        for slot in self._carried:
            if slot.field not in values:
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
        self, row: Row, values: dict[Field, object], refusals: list[CellRefusal]
    ) -> ReadRow:
        self._complete(row, values)
        if not refusals:
            refusals = [self._contradiction(row, *one) for one in contradictions(values)]
        if not refusals and not self._has_somewhere(values):
            reason = "It names neither a machine nor a place in the store: write one of them."
            refusals = [self._contradiction(row, Field.MACHINE, reason)]
        if refusals:
            texts = {f: str(values.get(f, "")) for f in _PLACING}
            return RowRefused(row.number, tuple(refusals), **texts)
        return RegisterEntry(row.number, **values)  # type: ignore[arg-type]  # as its readers give it

    def _complete(self, row: Row, values: dict[Field, object]) -> None:
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
        elif isinstance(size, Sized) and _NAMED_BY_TUBE.search(str(hose_type)):
            said = next(
                slot.reading.said_of_size for slot in self._slots if slot.field is Field.SIZE
            )
            values[Field.SIZE] = sized_by_tube(size, said)

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

    def _contradiction(self, row: Row, about: Field, reason: str) -> CellRefusal:
        slots = [slot for slot in self._slots if slot.field is about]
        if not slots:
            return CellRefusal(f"row {row.number}", FACTS[about].label, "", reason)
        texts = [row.cells[s.index].text if s.index < len(row.cells) else "" for s in slots]
        slot, text = next(
            (pair for pair in zip(slots, texts, strict=True) if pair[1]), (slots[0], "")
        )
        return _refusal(row, slot.index, slot.header, text, reason)


_PLACING = (Field.TAG, Field.MACHINE, Field.PLACE, Field.STORE)
_KEYED = frozenset({*_PLACING, Field.MACHINE_CLASS})


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
