"""The places of a round in walking order, and what was not seen of them."""

from collections.abc import Iterator

from django.db.models import QuerySet

from assemblies.models import Position, Stay
from fleet.models import Machine
from scheduling.models import Inspection, Round

NOT_LOOKED_AT = "not looked at"
NOT_SEEN = "could not be seen"
NOTHING_TOLD = "nothing told"


def round_machines(machine: Machine) -> tuple[Machine, ...]:
    """The machine, and what rides on it at its site: one walk takes them all in."""
    riders = Machine.objects.filter(mounts__carrier=machine, mounts__to_on=None)
    riders = riders.filter(site=machine.site_id, withdrawn_at=None)
    return (machine, *riders.order_by("number_key", "id"))


def places_of(machine: Machine) -> "QuerySet[Position]":
    """The positions of the machine and of what rides on it."""
    machines = [one.pk for one in round_machines(machine)]
    return Position.objects.filter(machine__in=machines, withdrawn_at=None)


def places_in_order(machine: Machine) -> list[Position]:
    """Those positions in the order one walks: the machine's own first."""
    rank = {one.pk: place for place, one in enumerate(round_machines(machine))}
    found = places_of(machine).select_related("machine").order_by("walk_order", "id")
    return sorted(found, key=lambda place: rank.get(place.machine_id, 0))


def answers_of(round_: Round) -> dict[int, Inspection]:
    """The last look that counts of each hose in the round, by the hose's id."""
    looks = Inspection.objects.filter(round=round_, taken_back_at=None).order_by("id")
    return {look.assembly_id: look for look in looks.select_related("inspected_by")}


def left_out_of(round_: Round) -> Iterator[str]:
    """What was not seen, place by place, in words."""
    answers, held = answers_of(round_), _held(round_)
    empty = set(round_.told_empty)
    for number, place in enumerate(places_in_order(round_.machine), 1):
        why = _why(round_, place.pk, held.get(place.pk), answers, empty)
        if why:
            yield f"{number}. {place}: {why}"


def _held(round_: Round) -> dict[int, int]:
    stays = Stay.objects.filter(position__in=places_of(round_.machine), is_open=True)
    return {place: hose for place, hose in stays.values_list("position_id", "assembly_id") if place}


def _why(
    round_: Round, place: int, hose: int | None, answers: dict[int, Inspection], empty: set[int]
) -> str:
    if hose is None:
        registering = round_.purpose == Round.Purpose.REGISTER
        return NOTHING_TOLD if registering and place not in empty else ""
    look = answers.get(hose)
    if look is None:
        return NOT_LOOKED_AT
    if look.not_seen:
        return NOT_SEEN + (f" ({look.note})" if look.note else "")
    return ""
