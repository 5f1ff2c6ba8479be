"""The phrases and steps of a fitting-up sheet, the same on the paper and on the page."""

from assemblies.calc.fitting_sheet import (
    Access,
    FittingContent,
    HoseCard,
    Phase,
    Place,
    PortLine,
)
from assemblies.calc.sheet_words import bars, celsius, millimetres, short_figure

ASK_THE_MAKER = "ASK THE MAKER"
"""What stands where a figure is the maker's to give and the register has none."""


def torque_words(port: PortLine) -> str:
    """The maker's torque (Nm) and where it stands; never a guess.

    >>> torque_words(PortLine("A"))
    'ASK THE MAKER'
    """
    if port.torque_nm is None:
        return ASK_THE_MAKER
    source = f" ({port.torque_source})" if port.torque_source else " (no source written down)"
    return f"{short_figure(port.torque_nm)}\u00a0Nm{source}"


def seal_words(port: PortLine) -> str:
    """The small parts that seal and hold an end.

    >>> seal_words(PortLine("A", seal="O-ring 20×2.5")), seal_words(PortLine("A"))
    ('O-ring 20×2.5', 'ASK THE MAKER')
    """
    return port.seal or ASK_THE_MAKER


def pressure_words(card: HoseCard) -> str:
    """A hose's working pressure (bar) and what sets it; empty where nobody knows."""
    if card.working_bar is None:
        return card.pressure_from
    return f"{bars(card.working_bar)} {card.pressure_from}".strip()


def duty_words(place: Place) -> str:
    """What the position asks: pressure and surge (bar); empty where nothing is stated."""
    surge = f", surges to {bars(place.surge_bar)}" if place.surge_bar is not None else ""
    if place.pressure_bar is None:
        return surge.removeprefix(", ")
    return f"{bars(place.pressure_bar)}{surge}"


def oil_words(place: Place) -> str:
    """How hot the oil is, °C; empty where nobody knows."""
    return "" if place.oil_temperature_c is None else celsius(place.oil_temperature_c)


def radius_words(content: FittingContent) -> str:
    """The least bend radius (mm) of the hose, and what the routing has."""
    source = f" ({content.bend_from})" if content.bend_from else ""
    least = ASK_THE_MAKER if content.bend_radius_mm is None else millimetres(content.bend_radius_mm)
    routing = content.place.routing_radius_mm
    there = f"; the routing has {millimetres(routing)}" if routing is not None else ""
    return f"{least}{source}{there}"


def labour_words(access: Access) -> str:
    """How long (h) and how many people; empty where nobody has said."""
    hours = f"{short_figure(access.labour_h)}\u00a0h" if access.labour_h is not None else ""
    count = access.people
    people = f"{count} {'person' if count == 1 else 'people'}" if count else ""
    return ", ".join(part for part in (hours, people) if part)


_BEFORE = (
    "Machine on firm ground, attachment down, engine off, key out. ISOLATE and lock. Tell who "
    "works near.",
    "LOWER and block every load that oil holds up. Nobody under it, no hand behind it.",
    "RELEASE: work the levers both ways; let accumulators and springs down by the maker's book; "
    "open the tank's breather.",
    "VERIFY ZERO on a gauge at this circuit. No test point: ask the maker how zero is proved. "
    "Never loosen to find out.",
    "Let hot oil cool. Eye protection and gloves on. Guards off only now; keep their bolts.",
)

_OFF = (
    "PHOTOGRAPH the routing, both ends, every clamp. MARK which end goes to which port, and the "
    "angle of each.",
    "Catch the oil. Loosen one turn, body to the side, and wait: nothing may spurt. If it does: "
    "stop, tighten, verify zero again.",
    "CAP both ports and both ends of the old hose at once. No rag as a plug.",
    "Write down the old hose's tag or mark and what you see on it. KEEP it until the new one "
    "holds.",
    "Lay old and new side by side: length, ends, angle, guards.",
)

_AFTER = (
    "Isolate, lower, verify zero. Look at both ends, the shells' marks, clamps and guards. "
    "A weep: seal, seat and torque anew, never tighten harder.",
    "Write down day and hours below. Only now let the old hose go; its ends and shells are never "
    "used again.",
)


_ON = (
    "Read the new hose's tag: it is the one named above. Its working pressure is not below what "
    "the position asks.",
    "Caps off only now. Look through the bore: clean and clear.",
    "At both ends new seals as above; threads, cones and faces clean and whole. Both ends on by "
    "hand first.",
    "LAYLINE STRAIGHT from end to end: where it winds, the hose is twisted. Hold the tail with a "
    "second key while tightening.",
    f"Tighten each end to its maker's TORQUE above. Where it says {ASK_THE_MAKER}: ask, never "
    "guess.",
    "No bend tighter than above, none close behind a shell. Nothing pulls, rubs or touches what "
    "is hot over the whole travel.",
    "Clamps, guards and sleeves back as above and as in the photograph; the WHIP RESTRAINT where "
    "there was one and where the site asks for one.",
)

_START = (
    "Top up with the fluid named above. Everyone away, guards on.",
    "Start at idle, no load. BLEED by the maker's book; travel slowly to both ends and back.",
    "LOOK FOR LEAKS from a distance with a long piece of card, NEVER WITH A HAND. A leak: stop, "
    "isolate, verify zero, then mend.",
    "Load it, run it, look again. Stop, isolate, top up again.",
    "Write down the HOUR READING. Tag where it can be read. Record the fitting: scan the code "
    "above.",
)

PHASES = (
    Phase("Before anything is loosened", _BEFORE),
    Phase("The old hose off", _OFF),
    Phase("The new hose on", _ON),
    Phase("Start, bleed and look", _START),
    Phase("After the first hours", _AFTER),
)
"""The steps of a fitting-up in the order of the work.

Figures that differ from hose to hose stand in the boxes above the steps, which the steps name.
Source: the order and the cautions are those of ISO 4413 and SAE J1273; the wording and the choice
of steps are common practice, no published source.
"""
