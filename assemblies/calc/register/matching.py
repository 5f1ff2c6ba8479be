"""Rows set against what the register knows: which hose is meant, and what would become of it.

A hose is known by its own tag or its owner's mark at the site. Without either it is known by its
place: the machine, the place, and its ordinal among the file's rows of that place. A row that is
refused keeps its ordinal, so that mending it later moves no other row. Moves are recorded on the
machine, never by a register: it can't say when a hose went from one place to another.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from .entries import CellRefusal, LeftOut, ReadRow, RegisterEntry, RowRefused
from .facts import HOSE_FACTS, MACHINE_FACTS, POSITION_FACTS, STAY_FACTS, changes, scaled
from .keys import quick_key
from .known import Known, KnownHose, KnownPosition, PlaceKey
from .plans import MachinePlan, Outcome, ReadingPlan, RegisterPlan, RowPlan


@dataclass(slots=True)
class _Place:
    """The rows of one place: those that sit there already, and those that wait for a number."""

    taken: set[int] = field(default_factory=set)
    waiting: list[RowPlan] = field(default_factory=list)


def plan_register(rows: Sequence[ReadRow], known: Known) -> RegisterPlan:
    """Say of every row what it would do.

    Parameters: rows, in the order of the file; known, all that the register has of the tags,
    machines and places that the rows name. Returns a plan with one `RowPlan` for each row.
    The same rows and the same register give the same plan. Never raises.

    >>> sum(plan_register([], Known()).counts().values())
    0
    """
    return _Matching(known).plan(rows)


class _Matching:
    def __init__(self, known: Known) -> None:
        self.known = known
        self.machines: dict[str, MachinePlan] = {}
        self.places: dict[PlaceKey, _Place] = {}
        self.bins: dict[str, list[RowPlan]] = {}
        self.first_with: dict[str, int] = {}
        self.hours: dict[tuple[str, object], tuple[int, int]] = {}
        self.readings: dict[int, ReadingPlan] = {}
        self.keys: dict[str, str] = {}
        self.claimed: set[int] = set()
        self.told: set[tuple[str, ...]] = set()  # machine facts that an earlier row stated

    def plan(self, rows: Sequence[ReadRow]) -> RegisterPlan:
        plans = [self._begin(row) for row in rows]
        for (machine_key, place_key), place in self.places.items():
            self._number(machine_key, place_key, place)
        for key, waiting in self.bins.items():
            self._take_from_bin(key, waiting)
        for plan in plans:
            self._complete(plan)
        return RegisterPlan(plans, self.machines, self.readings)

    # -- what a row is about

    def _begin(self, row: ReadRow) -> RowPlan:
        if isinstance(row, LeftOut):
            return RowPlan(row.row_number, "left_out", label=row.found, reason=row.reason)
        plan = RowPlan(row.row_number, "new", label=_label(row))
        if row.tag:
            plan.own_tag = self.known.own_tags.get(row.tag, "")
            plan.mark_key = quick_key(row.tag)
        plan.machine_key, plan.place_key = self._key(row.machine), self._key(row.place)
        if isinstance(row, RowRefused):
            plan.outcome, plan.refusals = "refused", row.refusals
        else:
            plan.entry = row
        if plan.mark_key:
            self._once(plan, row)
        if plan.own_tag:
            self._own_tag(plan, row)
        if plan.machine_key:
            self._machine(plan, row)
        self._settle(plan, row)
        return plan

    def _key(self, text: str) -> str:
        key = self.keys.get(text)
        if key is None:
            key = self.keys[text] = quick_key(text)
        return key

    def _once(self, plan: RowPlan, row: RegisterEntry | RowRefused) -> None:
        """Of rows with one tag the first is taken; the others name it."""
        key = plan.own_tag or plan.mark_key
        first = self.first_with.setdefault(key, plan.row_number)
        if first != plan.row_number:
            _refuse(plan, f"Row {first} has the tag {row.tag} already: one hose, one tag.")
            # It keeps a number of its place, and is none of the hoses that are known.
            plan.own_tag = plan.mark_key = ""

    def _own_tag(self, plan: RowPlan, row: RegisterEntry | RowRefused) -> None:
        plan.hose = self.known.by_own_tag.get(plan.own_tag)
        if plan.hose is not None or plan.own_tag in self.known.free_tags:
            return
        if plan.own_tag in self.known.other_tags:
            _refuse(plan, f"{row.tag} is none of this site’s tags: look at the hose again.")
        plan.own_tag = ""  # an owner's mark that happens to look like one of our tags

    def _machine(self, plan: RowPlan, row: RegisterEntry | RowRefused) -> None:
        machine = self.machines.get(plan.machine_key)
        if machine is None:
            found = self.known.machines.get(plan.machine_key)
            machine = MachinePlan(plan.machine_key, found.number if found else row.machine, found)
            self.machines[plan.machine_key] = machine
        if machine.known is not None and machine.known.sold:
            _refuse(plan, f"Machine {machine.number} is sold: it carries no hoses of this site.")
        if plan.outcome != "refused" and isinstance(row, RegisterEntry):
            self._machine_facts(plan, machine, row)
            self._hours_now(plan, machine, row)

    def _machine_facts(self, plan: RowPlan, machine: MachinePlan, entry: RegisterEntry) -> None:
        """What the first row says of a machine is taken; a row that says otherwise is told."""
        said = _of_machine(machine.key, entry)
        if said in self.told:
            return
        agrees = True
        for fact in MACHINE_FACTS:
            values = fact.of(entry)
            if values is None:
                continue
            compared = self._key(str(values[0]))
            row_number, stated = machine.stated.setdefault(fact.label, (plan.row_number, compared))
            if stated != compared:
                agrees = False
                otherwise = f"“{fact.show(values)}” is not taken as the {fact.label}"
                plan.notes += (f"{otherwise} {machine.number}: row {row_number} says otherwise.",)
        if agrees:
            self.told.add(said)

    def _hours_now(self, plan: RowPlan, machine: MachinePlan, entry: RegisterEntry) -> None:
        if entry.hours_now is None or entry.hours_on is None:
            return
        tenths = scaled(entry.hours_now.value, 1)
        row_number, said = self.hours.setdefault(
            (machine.key, entry.hours_on), (plan.row_number, tenths)
        )
        if said != tenths:
            _refuse(
                plan,
                f"Row {row_number} says {said / 10:g} h of machine {machine.number} on "
                f"{entry.hours_on}, this one {tenths / 10:g} h.",
            )

    # -- where it belongs

    def _settle(self, plan: RowPlan, row: RegisterEntry | RowRefused) -> None:
        """Set a row at the place of its hose, or let it wait for a number there."""
        if plan.hose is None and plan.mark_key and not plan.own_tag:
            plan.hose = self.known.by_mark.get(plan.mark_key)
        if plan.hose is not None:
            self.claimed.add(plan.hose.id)
            self._known_hose(plan, row, plan.hose)
        elif plan.machine_key and plan.place_key:
            self._place(plan).waiting.append(plan)
        elif row.store:
            self.bins.setdefault(self._key(row.store), []).append(plan)

    def _place(self, plan: RowPlan) -> _Place:
        return self.places.setdefault((plan.machine_key, plan.place_key), _Place())

    def _known_hose(self, plan: RowPlan, row: RegisterEntry | RowRefused, hose: KnownHose) -> None:
        here = (plan.machine_key, plan.place_key)
        if plan.machine_key and hose.place == here:
            plan.position = self._position_of(hose, here)
            plan.place_no = plan.position.place_no if plan.position else 0
            self._place(plan).taken.add(plan.place_no)
            return
        if row.store and hose.store_key is not None and not hose.scrapped:
            return  # another shelf of the store is no move between machines
        if hose.scrapped:
            _refuse(
                plan, f"{hose.name} is scrapped: a hose that takes its place needs its own tag."
            )
        else:
            deed = "Record the move there, or correct the row."
            _refuse(plan, f"The register has {hose.name} {hose.where}. {deed}")
        if plan.machine_key and plan.place_key:
            self._place(plan).waiting.append(plan)

    def _position_of(self, hose: KnownHose, here: PlaceKey) -> KnownPosition | None:
        for position in self.known.positions.get(here, {}).values():
            if position.id == hose.position_id:
                return position
        return None

    def _number(self, machine_key: str, place_key: str, place: _Place) -> None:
        """Give the waiting rows of a place the lowest numbers that no row has, in order."""
        positions = self.known.positions.get((machine_key, place_key), {})
        number = 0
        for plan in place.waiting:
            number += 1
            while number in place.taken:
                number += 1
            plan.place_no = number
            if plan.outcome != "refused":
                self._sit(plan, positions.get(number))

    def _sit(self, plan: RowPlan, position: KnownPosition | None) -> None:
        plan.position = position
        if position is None:
            return
        held = self.known.on_position.get(position.id)
        if plan.mark_key:
            if held is not None:
                _refuse(
                    plan,
                    f"The register has {held.name} on this place. If it was changed, record the "
                    "swap on the machine; if they are two places, name them apart.",
                )
        elif held is not None and held.marked:
            _refuse(plan, f"The register has {held.name} on this place: give the row its tag.")
        elif position.had_others:
            _refuse(
                plan,
                "A hose was taken off this place since it was first registered: give the row the "
                "tag of the hose that is there now.",
            )
        else:
            plan.hose = held

    def _take_from_bin(self, key: str, waiting: list[RowPlan]) -> None:
        """Hoses in the store without a tag: first those that are just as a row says, then in turn.

        The store gives its hoses no numbers, so a row that is refused keeps none.
        """
        left = [hose for hose in self.known.in_store.get(key, []) if hose.id not in self.claimed]
        rows = [plan for plan in waiting if not plan.mark_key and plan.outcome != "refused"]
        for alike in (True, False):
            for plan in [plan for plan in rows if plan.hose is None]:
                found = next((hose for hose in left if not alike or _is_alike(plan, hose)), None)
                if found is not None:
                    left.remove(found)
                    self._lie(plan, found)
            rows = [plan for plan in rows if plan.outcome != "refused"]
            left = [hose for hose in left if not (hose.gone or hose.scrapped or hose.marked)]

    def _lie(self, plan: RowPlan, hose: KnownHose) -> None:
        if hose.gone or hose.scrapped:
            _refuse(plan, f"The hose that lay here is {hose.where} now: give the row its tag.")
        elif hose.marked:
            _refuse(plan, f"{hose.name} lies here: give the row its tag.")
        else:
            plan.hose = hose

    # -- what it would do

    def _complete(self, plan: RowPlan) -> None:
        entry = plan.entry
        if plan.outcome == "refused" or entry is None:
            return
        if plan.hose is not None:
            plan.hose_changes = changes(HOSE_FACTS, entry, plan.hose.facts)
            plan.stay_changes = changes(STAY_FACTS, entry, plan.hose.stay_facts)
        if plan.position is not None:
            self._position_changes(plan, entry)
        if entry.inspected is not None:
            last = plan.hose.inspected if plan.hose else None
            if last is None or entry.inspected > last:
                plan.inspected = entry.inspected
                plan.adds += (f"looked at on {entry.inspected}",)
        self._add_machine(plan, entry)
        plan.outcome = _outcome(plan)

    def _position_changes(self, plan: RowPlan, entry: RegisterEntry) -> None:
        assert plan.position is not None
        plan.position_changes = changes(POSITION_FACTS, entry, plan.position.facts)

    def _add_machine(self, plan: RowPlan, entry: RegisterEntry) -> None:
        machine = self.machines.get(plan.machine_key)
        if machine is None:
            return
        if machine.known is None and not machine.needed:
            plan.adds += (f"machine {machine.number}, new",)
        self._say_of_machine(plan, machine, entry)
        machine.needed = True
        if plan.position is None and machine.known is not None:
            number = f" ({plan.place_no})" if plan.place_no > 1 else ""
            plan.adds += (f"place “{entry.place}{number}”, new",)
        self._add_reading(plan, machine, entry)

    def _say_of_machine(self, plan: RowPlan, machine: MachinePlan, entry: RegisterEntry) -> None:
        """What a row to be written says of its machine, unless a row before it said the same."""
        said = ("written", *_of_machine(machine.key, entry))
        if said in self.told:
            return
        self.told.add(said)
        before = machine.known.facts if machine.known else [fact.nothing for fact in MACHINE_FACTS]
        for change in changes(MACHINE_FACTS, entry, before):
            stated = machine.stated.get(change.fact.label)
            if stated is None or stated[1] != self._key(str(change.after[0])):
                continue  # an earlier row said otherwise, and is taken
            if change.fact.label in {known.fact.label for known in machine.changes}:
                continue
            machine.changes.append(change)
            if machine.known is not None:
                label, old, new = change.in_words()
                plan.adds += (f"{label} {machine.number}: {old} → {new}",)

    def _add_reading(self, plan: RowPlan, machine: MachinePlan, entry: RegisterEntry) -> None:
        if entry.hours_now is None or entry.hours_on is None:
            return
        tenths = scaled(entry.hours_now.value, 1)
        seen = self.known.readings.setdefault((machine.key, entry.hours_on), set())
        if tenths not in seen:
            seen.add(tenths)
            reading = ReadingPlan(machine.key, entry.hours_on, tenths, entry.hours_now.typed)
            self.readings[plan.row_number] = reading
            plan.adds += (f"{tenths / 10:,g} h of machine {machine.number} on {entry.hours_on}",)


def _outcome(plan: RowPlan) -> Outcome:
    if plan.hose is None:
        return "new"
    changed = plan.hose_changes or plan.stay_changes or plan.position_changes or plan.adds
    return "changed" if changed else "same"


def _of_machine(key: str, entry: RegisterEntry) -> tuple[str, ...]:
    facts = (entry.machine_class, entry.machine_maker, entry.machine_model, entry.machine_serial)
    return (key, *facts)


def _is_alike(plan: RowPlan, hose: KnownHose) -> bool:
    entry = plan.entry
    return entry is not None and not (
        changes(HOSE_FACTS, entry, hose.facts) or changes(STAY_FACTS, entry, hose.stay_facts)
    )


def _refuse(plan: RowPlan, reason: str) -> None:
    """Refuse a row for what it is set against; a row refused before keeps its reasons."""
    if plan.outcome != "refused":
        plan.outcome = "refused"
        plan.refusals = (CellRefusal(f"row {plan.row_number}", "", "", reason),)


def _label(row: RegisterEntry | RowRefused) -> str:
    where = f"{row.machine}, {row.place}" if row.machine else row.store or row.place
    return f"{row.tag or 'no tag'} · {where}"[:200] if where else row.tag or "no tag"
