"""One position: its duty, the hose on it, and every hose that ever was."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from assemblies.models import Position, Stay
from assemblies.queries.unmatched import hurts_there, unmatched_among
from fleet.models import Person
from scheduling.calc.standing import Dates, Standing, standing, what_is_due
from scheduling.models import Due, Failure
from scheduling.queries.due_facts import dates_of, still_uncertain
from scheduling.queries.hose_page import StayLine, stay_line

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
    found = Position.objects.visible_to(person).filter(pk=position_id)
    position = found.select_related("machine__site", "required_spec").first()
    if position is None:
        return None
    stays = Stay.objects.filter(position=position).select_related("assembly__hose", "position")
    lines = [stay_line(stay, person) for stay in stays.order_by("-is_open", "-id")[:MOST]]
    held = next((line for line in lines if line.is_open), None)
    due = Due.objects.filter(assembly=held.hose_id).first() if held else None
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
        failures=_failures(lines),
        before_id=before_id,
        after_id=after_id,
        unmatched=unmatched_among([held.hose_id]).get(held.hose_id, "") if held else "",
        hurts=hurts_there(position),
    )


def _failures(lines: Sequence[StayLine]) -> tuple[Failure, ...]:
    """The latest of these stays. Put in order here: the database would walk all failures by day."""
    found = Failure.objects.filter(stay__in=[line.stay_id for line in lines])
    rows = found.select_related("assembly").order_by()
    return tuple(sorted(rows, key=lambda row: (row.failed_on, row.pk), reverse=True)[:20])


def _neighbours(position: Position) -> tuple[int | None, int | None]:
    """The positions before and after it on the walk round."""
    walk = Position.objects.filter(machine=position.machine_id, withdrawn_at=None)
    ids = list(walk.order_by("walk_order", "id").values_list("id", flat=True))
    if position.pk not in ids:
        return None, None
    at = ids.index(position.pk)
    return (ids[at - 1] if at else None, ids[at + 1] if at + 1 < len(ids) else None)
