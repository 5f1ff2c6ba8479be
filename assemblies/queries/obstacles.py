"""What stands in the way of a spec: what no draft may have, and what approval must wait for."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Q

from assemblies.models import AssemblySpec, Position, SpecRevision
from assemblies.queries.parts import EndParts, SpecParts, parts_of
from assemblies.queries.ratings import RatingFacts, rating_of
from assemblies.queries.spec_lengths import length_facts, points_somewhere
from fleet.models import Person


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One thing that stands in the way: a word, a sentence, and the field it speaks of."""

    code: str
    sentence: str
    field: str = ""


@dataclass(frozen=True, slots=True)
class Duty:
    """A position that requires the spec, and what it asks of it."""

    position_id: int
    machine_id: int
    name: str
    pressure_bar: Decimal | None
    surge_bar: Decimal | None
    oil_temperature_c: int | None


def draft_obstacles(parts: SpecParts) -> Iterator[Obstacle]:
    """What no draft of a spec may have: parts that can't go together, angles that mean nothing."""
    for end in parts.ends:
        yield from _misfits(end, parts)
    yield from _angle_without_meaning(parts)
    spec = parts.spec
    if (spec.tolerance_plus_mm is None) != (spec.tolerance_minus_mm is None):
        yield Obstacle(
            "tolerance_half",
            "A tolerance of the spec's own has both a plus and a minus.",
            "tolerance_plus_mm",
        )


def approval_obstacles(parts: SpecParts, person: Person | None) -> Iterator[Obstacle]:
    """All that stands in the way of approving a spec. Positions are named to who may see them."""
    yield from draft_obstacles(parts)
    yield from _unapproved(parts)
    facts = rating_of(parts)
    if facts.rating is None:
        yield Obstacle("rating_unknown", facts.problem)
    yield from _length_unknown(parts)
    yield from _angle_missing(parts)
    yield from _test_out_of_range(parts, facts)
    yield from below_duty(parts.spec.header_id, facts, person)


def below_duty(spec_id: int, facts: RatingFacts, person: Person | None) -> Iterator[Obstacle]:
    """The positions that ask more of the spec than it bears."""
    bar = facts.working_pressure_bar
    if bar is None:
        return
    asks_more = Q(pressure_bar__gt=bar) | Q(surge_bar__gt=bar)
    hottest = facts.rating.max_temperature_c if facts.rating else None
    if hottest is not None:
        asks_more |= Q(oil_temperature_c__gt=int(hottest))
    asking = Position.objects.filter(asks_more, required_spec_id=spec_id, withdrawn_at=None)
    seen = asking if person is None else asking.visible_to(person)
    named = [duty_of(row) for row in seen.select_related("machine").order_by("id")[:3]]
    unnamed = asking.exclude(pk__in=[duty.position_id for duty in named]).values("pk")[:100]
    if named or unnamed:
        yield Obstacle("below_duty", _duty_sentence(named, len(unnamed), bar, hottest))


def asks_too_much(position: Position, spec: AssemblySpec) -> Obstacle | None:
    """Whether a position asks more than a spec's approved revision bears; None while none is."""
    approved = SpecRevision.objects.select_related("hose").filter(header=spec, state="approved")
    revision = approved.first()
    facts = rating_of(parts_of([revision])[revision.pk]) if revision else None
    bar = facts.working_pressure_bar if facts else None
    if facts is None or bar is None:
        return None
    hottest = facts.rating.max_temperature_c if facts.rating else None
    duty = duty_of(position)
    pressures = [one for one in (duty.pressure_bar, duty.surge_bar) if one is not None]
    too_hot = hottest is not None and (duty.oil_temperature_c or hottest) > hottest
    if max(pressures, default=bar) <= bar and not too_hot:
        return None
    return Obstacle("below_duty", _duty_sentence([duty], 0, bar, hottest), "required_spec")


def duty_of(position: Position) -> Duty:
    return Duty(
        position.pk,
        position.machine_id,
        f"{position.machine}, {position}",
        position.pressure_bar,
        position.surge_bar,
        position.oil_temperature_c,
    )


def _misfits(end: EndParts, parts: SpecParts) -> Iterator[Obstacle]:
    where, field = f"End {end.end.which}", f"end_{end.end.which.lower()}"
    fitting, shell, hose = end.fitting, end.shell, parts.hose
    if fitting is not None and hose is not None and fitting.tail_dn != hose.size_dn:
        yield Obstacle(
            "tail_differs",
            f"{where}: the tail of {fitting.header} is DN{fitting.tail_dn}, "
            f"the hose {hose.header} is DN{hose.size_dn}.",
            f"{field}_fitting",
        )
    if shell is not None and hose is not None and shell.tail_dn != hose.size_dn:
        yield Obstacle(
            "shell_differs",
            f"{where}: the shell {shell.header} is for DN{shell.tail_dn}, "
            f"the hose {hose.header} is DN{hose.size_dn}.",
            f"{field}_shell",
        )
    if fitting is not None and fitting.one_piece and end.end.shell_id is not None:
        yield Obstacle(
            "shell_too_many",
            f"{where}: {fitting.header} is one piece and has its own shell.",
            f"{field}_shell",
        )


def _angle_without_meaning(parts: SpecParts) -> Iterator[Obstacle]:
    if parts.spec.orientation_deg is None:
        return
    for end in parts.ends:
        if end.fitting is not None and not points_somewhere(end.fitting):
            kind = f"{end.fitting.get_form_display()}, {end.fitting.get_turns_display()}"
            yield Obstacle(
                "angle_meaningless",
                f"End {end.end.which} ({end.fitting.header}: {kind}) points nowhere: an angle "
                "between the ends means nothing here. Leave it empty.",
                "orientation_deg",
            )


def _angle_missing(parts: SpecParts) -> Iterator[Obstacle]:
    fittings = [end.fitting for end in parts.ends if end.fitting is not None]
    pointing = [fitting for fitting in fittings if points_somewhere(fitting)]
    if parts.spec.orientation_deg is None and len(pointing) == 2:
        yield Obstacle(
            "angle_missing",
            "Both ends point somewhere: state the angle between them (0 to 359 degrees).",
            "orientation_deg",
        )


def _unapproved(parts: SpecParts) -> Iterator[Obstacle]:
    if len(parts.ends) < 2:
        yield Obstacle("end_missing", "A spec has two ends.", "end_a_fitting")
    yield from _part(parts.hose, f"The hose {parts.spec.hose}", "hose")
    for end in parts.ends:
        where, field = f"End {end.end.which}", f"end_{end.end.which.lower()}"
        yield from _part(end.fitting, f"{where}: the fitting {end.end.fitting}", f"{field}_fitting")
        if end.end.shell_id is not None:
            yield from _part(end.shell, f"{where}: the shell {end.end.shell}", f"{field}_shell")
        elif end.needs_shell:
            yield Obstacle(
                "shell_missing",
                f"{where}: {end.end.fitting} has no shell of its own: name one.",
                f"{field}_shell",
            )


def _part(revision: Any, name: str, field: str) -> Iterator[Obstacle]:
    if revision is None or revision.state != "approved":
        yield Obstacle("part_not_approved", f"{name} has no approved revision.", field)


def _length_unknown(parts: SpecParts) -> Iterator[Obstacle]:
    facts = length_facts(parts)
    if facts.cut_mm is None:
        yield Obstacle(facts.cut_code, facts.cut_problem, "length_mm")
    if facts.tolerance is None and parts.hose is not None:
        yield Obstacle("tolerance_unknown", facts.tolerance_problem, "tolerance_plus_mm")
    for sleeve in parts.spec.sleeves.all():
        if max(sleeve.from_mm, sleeve.to_mm or 0) > parts.spec.length_mm:
            yield Obstacle(
                "sleeve_too_long",
                f"The {sleeve.kind} (no. {sleeve.number}) runs past the end of the hose.",
                "sleeves",
            )


def _test_out_of_range(parts: SpecParts, facts: RatingFacts) -> Iterator[Obstacle]:
    test, rating = parts.spec.test_pressure_bar, facts.rating
    if test is None or rating is None:
        return
    if not rating.working_pressure_bar <= test < rating.burst_min_bar:
        yield Obstacle(
            "test_out_of_range",
            f"A test at {_bar(test)} bar is not between the working pressure "
            f"({_bar(rating.working_pressure_bar)} bar) and the least burst pressure "
            f"({_bar(rating.burst_min_bar)} bar). Usual is {_bar(rating.proof_bar)} bar.",
            "test_pressure_bar",
        )


def _duty_sentence(named: list[Duty], unnamed: int, bar: Decimal, hottest: Decimal | None) -> str:
    heat = f" and {_bar(hottest)} °C" if hottest is not None else ""
    asks = [f"{duty.name} asks {_asks(duty)}" for duty in named]
    more = f"{unnamed} more position{'s' * (unnamed != 1)} ask{'s' * (unnamed == 1)} more too"
    listed = "; ".join([*asks, *([more] if unnamed else [])])
    return f"This spec bears {_bar(bar)} bar{heat}: {listed}."


def _asks(duty: Duty) -> str:
    found = [
        f"{_bar(duty.pressure_bar)} bar" if duty.pressure_bar is not None else "",
        f"surges to {_bar(duty.surge_bar)} bar" if duty.surge_bar is not None else "",
        f"oil at {duty.oil_temperature_c} °C" if duty.oil_temperature_c is not None else "",
    ]
    return ", ".join(text for text in found if text)


def _bar(number: Decimal) -> str:
    return f"{number.normalize():f}"
