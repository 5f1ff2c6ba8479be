"""One position: its duty, the hose on it, and every hose that ever was."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import QuerySet

from assemblies.models import Position, Stay
from assemblies.queries.unmatched import hurts_there, unmatched_among
from fleet.models import Person
from fleet.models.compiled import compiled
from scheduling.calc.standing import Dates, Standing, standing, what_is_due
from scheduling.models import Failure
from scheduling.queries.due_facts import HOSE_SHOWN, dates_of, due_of, still_uncertain
from scheduling.queries.hose_page import STAY_SHOWN, StayLine, stay_line

MOST = 100


@dataclass(frozen=True, slots=True)
class PositionPage:
    """All that the page of one position shows."""

    position: Position
    held: StayLine | None
    standing: Standing | None
    dates: Dates | None
    due_what: str
    uncertain: bool
    earlier: tuple[StayLine, ...]
    failures: tuple[Failure, ...]
    before_id: int | None
    after_id: int | None
    unmatched: str
    hurts: bool


def position_page(person: Person, position_id: int, *, today: dt.date) -> PositionPage | None:
    """The page of a position that the person may see. A fixed number of queries."""
    position = _position.first(person, position_id)
    if position is None:
        return None
    lines = [
        stay_line(stay, person, hose=stay.assembly, position=position)
        for stay in _stays(position_id)
    ]
    held = next((line for line in lines if line.is_open), None)
    due = due_of(held.hose_id) if held else None
    dates = dates_of(due)
    before_id, after_id = _neighbours(position)
    return PositionPage(
        position=position,
        held=held,
        standing=standing(dates, today) if held else None,
        dates=dates,
        due_what=what_is_due(dates) if dates else "",
        uncertain=still_uncertain(due),
        earlier=tuple(line for line in lines if not line.is_open),
        failures=_latest_failures(position_id),
        before_id=before_id,
        after_id=after_id,
        unmatched=unmatched_among([held.hose_id]).get(held.hose_id, "") if held else "",
        hurts=hurts_there(position),
    )


def _latest_failures(position_id: int) -> tuple[Failure, ...]:
    """Put in order here: the database would walk all failures by day."""
    rows = _failures(position_id)
    return tuple(sorted(rows, key=lambda row: (row.failed_on, row.pk), reverse=True)[:20])


def _neighbours(position: Position) -> tuple[int | None, int | None]:
    """The positions before and after it on the walk round."""
    ids = _walk(position.machine_id)
    if position.pk not in ids:
        return None, None
    at = ids.index(position.pk)
    return (ids[at - 1] if at else None, ids[at + 1] if at + 1 < len(ids) else None)


@compiled
def _position(person: Person, position_id: int) -> "QuerySet[Position]":
    seen = Position.objects.visible_to(person).filter(pk=position_id)
    return seen.select_related("machine__site", "required_spec")


@compiled
def _stays(position_id: int) -> "QuerySet[Stay]":
    """The stays on it, the present one first, then the latest."""
    found = Stay.objects.filter(position=position_id).select_related("assembly__hose")
    hose = (f"assembly__{name}" for name in (*HOSE_SHOWN, "site_id"))
    return found.only(*STAY_SHOWN, *hose).order_by("-is_open", "-id")[:MOST]


@compiled
def _failures(position_id: int) -> "QuerySet[Failure]":
    found = Failure.objects.filter(stay__position=position_id).order_by()
    return found.only("failed_on", "mode", "cause", "machine_h")


@compiled
def _walk(machine_id: int) -> "QuerySet[Position, int]":
    current = Position.objects.filter(machine=machine_id, withdrawn_at=None)
    return current.order_by("walk_order", "id").values_list("id", flat=True)
