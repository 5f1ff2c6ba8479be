"""Fitting-up sheets for the tests of the papers: everyday, blank, and at its worst."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from assemblies.calc.fitting_sheet import (
    Access,
    FittingContent,
    HoseCard,
    Place,
    PortLine,
)
from assemblies.calc.fitting_words import PHASES

D = Decimal
LINK = "https://hoses.blackmere.example/F/7/12"
SCRIPTS = "Осторожно 请先检查接头 ホース 호스 🛠 שלום مرحبا <R2AT> & P&ID "


def everyday() -> FittingContent:
    """A lift cylinder's hose on a loader, all of it known."""
    content = FittingContent(
        number="BQ 12",
        drawn_on=date(2026, 11, 26),
        place=Place(
            site="Blackmere Quarry",
            machine="BQ-014",
            machine_facts="Wheel loader, Harrow, L 7, no. 1147",
            position="Lift cylinder left, rod side",
            circuit="working",
            counts="engine",
            pressure_bar=D("140.00"),
            surge_bar=D("155.00"),
            oil_temperature_c=D(85),
            fluid="HVLP 46, zinc-free",
            routing_radius_mm=D("260.0"),
        ),
        access=Access(
            D("1.50"), 2, "boom stand, side guard off", "lift cylinder right", "hot pipe"
        ),
        old=HoseCard(
            tag="4KX7 W2N9",
            spec="LX-0412 rev 2",
            hose="EN 853 2SN, DN19",
            length="1200 mm",
            working_bar=D("160.00"),
            pressure_from="lowest of end A",
            built="2020-04",
            where="on it since 2020-05-03",
            basis="by charts at both ends",
        ),
        new=HoseCard(
            tag="7PM3 LB4T",
            spec="LX-0412 rev 3",
            hose="EN 853 2SN, DN19",
            length="1200 mm",
            working_bar=D("160.00"),
            pressure_from="lowest of end A",
            built="2026-11",
            where="in store, rack 4",
            basis="by charts at both ends",
        ),
        ends=(
            PortLine(
                "A",
                "cylinder, 22L cone",
                "F-22L-19, Northfold K24 swivel",
                "24° cone, light series 22L M30×2",
                "O-ring 20×2.5 FKM",
                D("100.0"),
                "its maker's table 9",
            ),
            PortLine(
                "B",
                "valve block, code 61 3/4",
                "F-61-19, Northfold K61 elbow",
                "flange SAE J518 code 61 3/4",
                "flange halves, 4 × M10×35, O-ring 24.99×3.53",
                D("55.0"),
                "its maker's table 11",
            ),
        ),
        job="J-77",
        bend_radius_mm=D("240.0"),
        bend_from="inside of bend",
        guards=("spiral guard 32, 150 to 900 mm from A",),
        link=LINK,
    )
    return replace(content, phases=PHASES)


def blank() -> FittingContent:
    """Only the machine and its site are known."""
    content = FittingContent(
        number="BQ 13",
        drawn_on=date(2026, 11, 26),
        place=Place(site="Blackmere Quarry", machine="BQ-014"),
        access=Access(),
        old=HoseCard(),
        new=HoseCard(),
        ends=(PortLine("A"), PortLine("B")),
    )
    return replace(content, phases=PHASES)


def said(words: str, length: int) -> str:
    """A text of just this length, in many scripts."""
    text = f"{words}: {SCRIPTS}"
    return (text * (length // len(text) + 1))[:length].rstrip().ljust(length, "x")


def worst() -> FittingContent:
    """Every text as long as its field in the register allows, in scripts no face here draws."""
    base = everyday()
    card = HoseCard(
        tag=said("mark", 60),
        spec=said("spec", 40) + " rev 27",
        hose=said("hose", 240),
        length="100000 mm",
        working_bar=D("413.69"),
        pressure_from=said("lowest of", 200),
        built="between 2019-01-01 and 2026-11-26",
        where=said("in store", 80),
        basis="UNMATCHED at end A and end B: crimped down to tail collapse, no chart names them",
    )
    ends = tuple(
        PortLine(
            label,
            said(f"port {label}", 80),
            said(f"fitting {label}", 40) + " " + said("maker", 80) + " " + said("product", 80),
            said(f"connection {label}", 80) + " " + said("standard", 60) + " " + said("size", 40),
            said(f"seal {label}", 300),
            D("1234.5"),
            said(f"torque {label}", 200),
        )
        for label in ("A", "B")
    )
    content = replace(
        base,
        number="BLACKMERE-QW 4294967296",
        place=replace(
            base.place,
            site=said("site", 120),
            machine=said("number", 40),
            machine_facts=", ".join(said(n, 80) for n in ("class", "maker", "model", "number")),
            position=said("place", 120) + " (12)",
            fluid=said("fluid", 80),
            counts="hydraulics",
        ),
        access=Access(
            D("999.99"), 12, said("crane", 160), said("neighbours", 200), said("note", 500)
        ),
        old=card,
        new=card,
        ends=(ends[0], ends[1]),
        job=said("job", 40),
        guards=tuple(said(f"S{n}", 80) for n in range(1, 9)),
        alerts=(
            "UNMATCHED at end A and B: no published chart names these parts together.",
            "TAKE OUT NOW on this machine: " + said("found", 200),
            "CONDITIONAL RELEASE on this machine: " + said("limits", 300),
        ),
    )
    return replace(content, phases=PHASES)
