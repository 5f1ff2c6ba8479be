"""What a position asks of an assembly against what its spec bears: each finding a sentence."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from assemblies.calc.duty_ends import EndAsked, end_findings
from assemblies.calc.duty_words import Finding, Weight, plain
from assemblies.calc.flow import pressure_loss, velocity_m_per_s
from assemblies.calc.ratings import PartRating

__all__ = ["Asked", "Borne", "Finding", "VelocityLimits", "Weight", "duty_findings"]

PRACTICE = "common practice, no published source"
WATER_WORDS = ("water", "hfa", "hfb", "hfc", "glycol", "emulsion")
WATER_BASED_MAX_C = 70
VISCOSITY_CST, DENSITY_KG_PER_M3 = 46.0, 870.0
WEARING = {"rubbing": "rubbing", "rocks": "rocks and impact", "heat": "heat"}


class Line(StrEnum):
    """What a circuit is to the velocity of its oil."""

    PRESSURE = "pressure"
    RETURN = "return"
    SUCTION = "suction"


_LINES = {"return": Line.RETURN, "case_drain": Line.RETURN, "suction": Line.SUCTION}


@dataclass(frozen=True, slots=True)
class VelocityLimits:
    """Highest mean velocity in m/s by kind of line; a setting of the site."""

    pressure: Decimal = Decimal("6.1")
    return_line: Decimal = Decimal(3)
    suction: Decimal = Decimal("1.2")
    source: str = PRACTICE

    def of(self, line: Line) -> Decimal:
        limits = {Line.RETURN: self.return_line, Line.SUCTION: self.suction}
        return limits.get(line, self.pressure)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a position asks; None or empty where nobody has stated it."""

    pressure_bar: Decimal | None = None
    surge_bar: Decimal | None = None
    oil_temperature_c: int | None = None
    ambient_temperature_c: int | None = None
    fluid: str = ""
    flow_l_per_min: Decimal | None = None
    bend_radius_mm: Decimal | None = None
    circuit: str = "other"
    exposure: str = "normal"
    hurts: bool = False
    ports: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class Borne:
    """What a spec bears; `binding` are the parts that set its working pressure."""

    working_pressure_bar: Decimal | None
    binding: Sequence[PartRating] = ()
    temperature_low_c: int | None = None
    temperature_high_c: int | None = None
    fluids: str = ""
    tube_material: str = ""
    hose_source: str = ""
    bend_radius_mm: Decimal | None = None
    bore_mm: Decimal | None = None
    sleeves: int = 0
    unmatched: bool = False
    ends: tuple[EndAsked, ...] = field(default=())


def duty_findings(
    asked: Asked, borne: Borne, *, limits: VelocityLimits | None = None
) -> tuple[Finding, ...]:
    """Hold what a position asks against what a spec bears.

    Parameters: pressures in bar, temperatures in °C, flow in L/min, sizes in mm; velocity limits
    in m/s. Returns findings, the gravest first: *forbids* (the spec may not serve here), *warns*,
    *unknown* (asked, but the spec does not say). What nobody has stated of the position is not
    checked. Limits: free length in the routing is not judged, the position states none.
    Source: named beside each finding.

    >>> asked = Asked(pressure_bar=Decimal(300))
    >>> [one.sentence for one in duty_findings(asked, Borne(Decimal(275)))]
    ['The circuit works at 300 bar, the assembly bears 275 bar: 25 bar too little.']
    """
    found = [
        *_pressure(asked, borne),
        *_temperature(asked, borne),
        *_fluid(asked, borne),
        *_bend(asked, borne),
        *_velocity(asked, borne, limits or VelocityLimits()),
        *end_findings(asked.ports, borne.ends),
        *_exposure(asked, borne),
        *_unmatched(asked, borne),
    ]
    order = (Weight.FORBIDS, Weight.WARNS, Weight.UNKNOWN)
    return tuple(sorted(found, key=lambda one: order.index(one.weight)))


def _pressure(asked: Asked, borne: Borne) -> Iterator[Finding]:
    stated = [
        ("works at", asked.pressure_bar, "pressure"),
        ("surges to", asked.surge_bar, "surge"),
    ]
    for verb, bar, about in stated:
        if bar is None:
            continue
        if borne.working_pressure_bar is None:
            yield Finding(
                about,
                Weight.UNKNOWN,
                f"The circuit {verb} {plain(bar)} bar; what the assembly bears is not known.",
                "the ratings of the parts",
            )
        elif bar > borne.working_pressure_bar:
            short = bar - borne.working_pressure_bar
            yield Finding(
                about,
                Weight.FORBIDS,
                f"The circuit {verb} {plain(bar)} bar, the assembly bears "
                f"{plain(borne.working_pressure_bar)} bar{_set_by(borne)}: {plain(short)} bar too "
                "little.",
                _pressure_source(borne),
            )


def _set_by(borne: Borne) -> str:
    names = " and ".join(part.name for part in borne.binding)
    return f" (set by {names})" if names else ""


def _pressure_source(borne: Borne) -> str:
    sources = dict.fromkeys(part.effective_source for part in borne.binding)
    return "; ".join(["SAE J517, the lowest of the parts", *sources])


def _temperature(asked: Asked, borne: Borne) -> Iterator[Finding]:
    for what, degrees in (
        ("oil", asked.oil_temperature_c),
        ("air around it", asked.ambient_temperature_c),
    ):
        if degrees is None:
            continue
        high, low = borne.temperature_high_c, borne.temperature_low_c
        if high is None:
            yield Finding(
                "temperature",
                Weight.UNKNOWN,
                f"The {what} reaches {degrees} °C; the hose's maker states no highest temperature "
                "here.",
                "the catalogue's hose",
            )
        elif degrees > high:
            yield Finding(
                "temperature",
                Weight.FORBIDS,
                f"The {what} reaches {degrees} °C, the assembly bears {high} °C.",
                borne.hose_source or "the catalogue's hose",
            )
        elif low is not None and degrees < low:
            yield Finding(
                "temperature",
                Weight.FORBIDS,
                f"The {what} is at {degrees} °C, the hose stays supple down to {low} °C.",
                borne.hose_source or "the catalogue's hose",
            )


def _fluid(asked: Asked, borne: Borne) -> Iterator[Finding]:
    if not asked.fluid.strip():
        return
    folded = asked.fluid.casefold()
    if any(word in folded for word in WATER_WORDS):
        hottest = asked.oil_temperature_c
        if hottest is not None and hottest > WATER_BASED_MAX_C:
            yield Finding(
                "fluid",
                Weight.FORBIDS,
                f"{asked.fluid} at {hottest} °C: water-based fluids go up to "
                f"{WATER_BASED_MAX_C} °C in hydraulic hose.",
                "EN 853, scope",
            )
    tube = f"its tube of {borne.tube_material}" if borne.tube_material else "its tube"
    if not borne.fluids.strip():
        yield Finding(
            "fluid",
            Weight.UNKNOWN,
            f"The circuit holds {asked.fluid}; for which fluids the hose with {tube} is made is "
            "not noted.",
            "the catalogue's hose",
        )
    elif not _named(folded, borne.fluids.casefold()):
        yield Finding(
            "fluid",
            Weight.WARNS,
            f"The circuit holds {asked.fluid}, the hose with {tube} is named for {borne.fluids}: "
            "ask its maker.",
            borne.hose_source or "the catalogue's hose",
        )


def _named(fluid: str, fluids: str) -> bool:
    """Whether one of the fluids that a maker names is the circuit's, by whole words."""
    words = set(fluid.replace(",", " ").split())
    parts = [set(one.split()) for one in fluids.replace(";", ",").split(",") if one.strip()]
    return any(part <= words or words <= part for part in parts)


def _bend(asked: Asked, borne: Borne) -> Iterator[Finding]:
    if asked.bend_radius_mm is None:
        return
    if borne.bend_radius_mm is None:
        yield Finding(
            "bend",
            Weight.UNKNOWN,
            f"The routing bends to {plain(asked.bend_radius_mm)} mm; the hose's least bend radius "
            "is not known.",
            "the catalogue's hose",
        )
    elif asked.bend_radius_mm < borne.bend_radius_mm:
        yield Finding(
            "bend",
            Weight.FORBIDS,
            f"The routing bends to {plain(asked.bend_radius_mm)} mm, the hose's least bend radius "
            f"is {plain(borne.bend_radius_mm)} mm.",
            borne.hose_source or "the catalogue's hose",
        )


def _velocity(asked: Asked, borne: Borne, limits: VelocityLimits) -> Iterator[Finding]:
    if not asked.flow_l_per_min:
        return
    if not borne.bore_mm:
        yield Finding(
            "velocity",
            Weight.UNKNOWN,
            f"{plain(asked.flow_l_per_min)} L/min flow here; the hose's bore is not known.",
            "the catalogue's hose",
        )
        return
    flow, bore = float(asked.flow_l_per_min), float(borne.bore_mm)
    line = _LINES.get(asked.circuit, Line.PRESSURE)
    speed, limit = velocity_m_per_s(flow, bore), limits.of(line)
    if speed <= float(limit):
        return
    loss = pressure_loss(flow, bore, VISCOSITY_CST, DENSITY_KG_PER_M3)
    doubt = ", uncertain between laminar and turbulent flow" * loss.uncertain
    yield Finding(
        "velocity",
        Weight.WARNS,
        f"{plain(asked.flow_l_per_min)} L/min through a bore of {plain(borne.bore_mm)} mm run at "
        f"{speed:.2f} m/s, the limit for a {line} line is {plain(limit)} m/s; "
        f"{loss.loss_bar_per_m:.2f} bar are lost a metre at {VISCOSITY_CST:.0f} cSt{doubt}.",
        f"limit: {limits.source}; velocity and loss derived (continuity, Darcy–Weisbach)",
    )


def _exposure(asked: Asked, borne: Borne) -> Iterator[Finding]:
    if asked.exposure in WEARING and borne.sleeves == 0:
        yield Finding(
            "exposure",
            Weight.WARNS,
            f"The position is exposed to {WEARING[asked.exposure]}, the spec has 0 sleeves or "
            "guards.",
            PRACTICE,
        )


def _unmatched(asked: Asked, borne: Borne) -> Iterator[Finding]:
    grave = asked.hurts or asked.circuit in ("steering", "brakes")
    if borne.unmatched and grave:
        yield Finding(
            "unmatched",
            Weight.FORBIDS,
            "A failure here hurts someone, and no published chart names hose and fitting of this "
            "spec together.",
            "the project's own rule: unmatched parts are kept from such places",
        )
