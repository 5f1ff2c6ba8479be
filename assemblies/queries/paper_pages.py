"""Papers about one hose or place laid out for a page: the same phrases as on the paper."""

from collections.abc import Iterator
from dataclasses import dataclass

from assemblies.calc.certificate import CertificateContent, CertifiedEnd
from assemblies.calc.certificate_words import (
    amendment_words,
    asked_words,
    basis_words,
    held_words,
    mean_words,
    readings_words,
    tool_words,
)
from assemblies.calc.fitting_sheet import FittingContent, HoseCard, Phase, PortLine
from assemblies.calc.fitting_words import (
    duty_words,
    labour_words,
    oil_words,
    pressure_words,
    radius_words,
    seal_words,
    torque_words,
)
from assemblies.calc.sheet_phrases import UNMATCHED, binding_words
from assemblies.calc.sheet_words import bars

Fact = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Block:
    """Facts under a heading; `warning` stands in large letters above them."""

    heading: str
    facts: tuple[Fact, ...]
    figure: str = ""
    warning: str = ""


@dataclass(frozen=True, slots=True)
class FittingPage:
    """The blocks of a fitting-up sheet's page; each phase with the number of its first step."""

    place: Block
    hoses: tuple[Block, Block]
    ends: tuple[Block, ...]
    phases: tuple[tuple[int, Phase], ...]
    card: Block


@dataclass(frozen=True, slots=True)
class CertificatePage:
    """The blocks of a certificate's page."""

    working_pressure: str
    proof: str
    what: Block
    ends: tuple[Block, ...]
    made: Block
    amendments: tuple[str, ...]


def fitting_page(content: FittingContent) -> FittingPage:
    """Lay a fitting-up sheet out for a page."""
    place, access = content.place, content.access
    facts = _stated(
        ("Machine", ", ".join(part for part in (place.machine, place.machine_facts) if part)),
        ("Site", place.site),
        ("Circuit", place.circuit),
        ("Position asks", duty_words(place)),
        ("Fluid", place.fluid),
        ("Oil", oil_words(place)),
        ("Bend radius", radius_words(content)),
        ("Hours, people", labour_words(access)),
        ("Lift, take off", access.lifting),
        ("With it", access.together),
        ("Guards on it", "; ".join(content.guards)),
        ("Note", access.note),
        ("Job", content.job),
    )
    return FittingPage(
        place=Block("Where", facts),
        hoses=(_hose("Old hose, comes off", content.old), _hose("New hose, goes on", content.new)),
        ends=tuple(_port(port) for port in content.ends),
        phases=tuple(_numbered(content.phases)),
        card=_card(content),
    )


def _numbered(phases: tuple[Phase, ...]) -> Iterator[tuple[int, Phase]]:
    first = 1
    for phase in phases:
        yield first, phase
        first += len(phase.steps)


def _hose(heading: str, card: HoseCard) -> Block:
    facts = _stated(
        ("Tag or mark", card.tag),
        ("Spec", card.spec),
        ("Hose", card.hose),
        ("Length", card.length),
        ("Pressure", pressure_words(card)),
        ("Built", card.built),
        ("Where it is", card.where),
        ("Crimped", card.basis),
    )
    return Block(heading, facts)


def _port(port: PortLine) -> Block:
    facts = _stated(
        ("Port", port.port),
        ("Fitting", port.fitting),
        ("Connection", port.connection),
        ("Seals, new ones", seal_words(port)),
    )
    return Block(f"End {port.label}", facts, figure=torque_words(port))


def _card(content: FittingContent) -> Block:
    pressure = duty_words(content.place) or pressure_words(content.new)
    facts = (
        ("Fluid", content.place.fluid or "not written down: take its data sheet along"),
        ("Pressure", pressure or "not known"),
        ("Oil", oil_words(content.place) or "not known"),
    )
    return Block("If fluid goes under the skin", facts)


def certificate_page(content: CertificateContent) -> CertificatePage:
    """Lay a certificate out for a page."""
    what = _stated(
        ("Specification", f"{content.spec_code} rev {content.spec_revision}, {content.title}"),
        ("Built", f"{content.built_on.isoformat()}, {content.site}, by sheet {content.sheet}"),
        ("Lowest of", binding_words(content.pressure)),
        ("Proof test", held_words(content.proof)),
        ("With", content.proof.medium),
        ("Pressure gauge", tool_words(content.proof.gauge, content.built_on)),
        ("Hose", content.hose),
        ("Cut from reel", content.reel),
        *((one.deed, f"{one.name}, {one.on.isoformat()}") for one in content.people),
        ("In doubt at signing", " ".join(content.doubts)),
        ("Note at signing", content.note),
        ("Instead of", content.replaces),
    )
    return CertificatePage(
        working_pressure=bars(content.pressure.working_bar),
        proof=bars(content.proof.held_bar),
        what=Block("What was built and tested", what),
        ends=tuple(_certified(content, end) for end in content.ends),
        made=Block("As it was made", _made(content)),
        amendments=tuple(amendment_words(line) for line in content.amendments),
    )


def _certified(content: CertificateContent, end: CertifiedEnd) -> Block:
    facts = _stated(
        ("Fitting", end.fitting),
        ("Connection", end.connection),
        ("Shell", end.shell),
        ("Lots", end.lots),
        ("Recipe", end.recipe),
        ("Basis", basis_words(end)),
        ("Passes", asked_words(end)),
        ("Readings, mm", readings_words(end)),
        ("Pin", end.pin),
        ("Mark", end.mark),
        ("Die", end.die),
        ("Measured with", tool_words(end.measured_with, content.built_on)),
    )
    warning = "" if end.matched else UNMATCHED
    return Block(f"End {end.label}", facts, figure=mean_words(end), warning=warning)


def _made(content: CertificateContent) -> tuple[Fact, ...]:
    return _stated(
        *((m.what, f"{m.made} (asked: {m.asked})" if m.asked else m.made) for m in content.made),
        ("Crimped on", tool_words(content.crimper, content.built_on)),
    )


def _stated(*facts: Fact) -> tuple[Fact, ...]:
    return tuple(fact for fact in facts if fact[1])
