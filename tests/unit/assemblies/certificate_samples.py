"""Certificates for the tests of the papers: everyday, by a trial's recipe, and at its worst."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from assemblies.calc.certificate import (
    AmendmentLine,
    CertificateContent,
    CertifiedEnd,
    MadeLine,
    PersonLine,
    ProofLine,
    ToolLine,
)
from assemblies.calc.sheet import Basis, PartPressure, PressureLine
from tests.unit.assemblies.fitting_samples import said

D = Decimal
LINK = "https://hoses.blackmere.example/C/7/31"
BUILT = date(2026, 11, 25)


def everyday() -> CertificateContent:
    """A hose on charts at both ends, tested at 2 × its working pressure."""
    micrometer = ToolLine("MIC 3", "micrometer 25 to 50", date(2026, 2, 1), date(2027, 2, 1))
    near = CertifiedEnd(
        label="A",
        fitting="F-22L-19, Northfold Couplings, K24 swivel",
        connection="24° cone, light series 22L M30×2",
        shell="S-2-19, Northfold Couplings, ferrule two-wire",
        lots="fitting lot 88, shell lot 12",
        recipe="H-2SN-19 on F-22L-19 in S-2-19 rev 2",
        basis=Basis.PUBLISHED,
        basis_words="the maker's chart 7, edition 2025, names all three",
        asked_from_mm=D("30.30"),
        asked_to_mm=D("30.50"),
        ovality_limit_mm=D("0.20"),
        readings_mm=(D("30.38"), D("30.42"), D("30.40")),
        mean_mm=D("30.40"),
        ovality_mm=D("0.04"),
        die="28",
        pin="Ø 14.2 mm entered",
        mark="still shows",
        measured_with=micrometer,
    )
    far = replace(near, label="B", fitting="F-61-19, Northfold Couplings, K61 elbow")
    return CertificateContent(
        number="BQ 31",
        drawn_on=date(2026, 11, 26),
        site="Blackmere Quarry",
        tag="7PM3 LB4T",
        title="Lift cylinder, rod side",
        spec_code="LX-0412",
        spec_revision=3,
        sheet="BQ 118",
        hose="H-2SN-19 · Palmerston Rubber · Tough Two · EN 853 2SN · DN19",
        reel="R-2231, made 2026-04-01 … 2026-06-30",
        pressure=PressureLine(
            D(160),
            "end A",
            (
                PartPressure("hose", D(215)),
                PartPressure("end A", D(160)),
                PartPressure("end B", D(345)),
            ),
        ),
        proof=ProofLine(
            asked_bar=D(320),
            held_bar=D(322),
            hold_s=60,
            medium="hydraulic oil, air bled",
            gauge=ToolLine("M 1", "gauge 0 to 600 bar", date(2026, 1, 7), date(2027, 1, 7)),
        ),
        ends=(near, far),
        people=(
            PersonLine("Made by", "R. Aldous", BUILT),
            PersonLine("Signed by", "M. Okafor", BUILT),
        ),
        built_on=BUILT,
        made=(
            MadeLine("Cut length", "1092.5 mm", "1092.5 mm"),
            MadeLine("Length, seat to seat", "1200 +12/−4 mm", "1203 mm"),
            MadeLine("Bore cleaned with", "", "pellet, then air"),
            MadeLine("Flushed with", "ISO 4406 18/16/13", "HLP 46; 17/15/12"),
            MadeLine("Mark on the shell", "BQ / 160 bar / 2611", "stamped"),
        ),
        crimper=ToolLine("P 2", "crimper 280 t", date(2026, 5, 4), date(2027, 5, 4)),
        link=LINK,
    )


def by_trial() -> CertificateContent:
    """One end crimped by a trial's recipe, amended once after signing."""
    base = everyday()
    near, far = base.ends
    trial = replace(
        far,
        basis=Basis.TRIAL,
        basis_words="crimped down to tail collapse in 2 trials",
        pin="Ø 14.2 mm refused",
    )
    return replace(
        base,
        ends=(near, trial),
        alerts=("UNMATCHED at end B: no published chart names these parts together.",),
        amendments=(
            AmendmentLine(date(2026, 11, 26), "M. Okafor", "The reel is R-2232.", "Misread."),
        ),
        doubts=("Reel: nobody knows when its hose was made.",),
        note="Layline read again with R. Aldous: 2Q26.",
        replaces="BQ 30 of 2026-11-25",
    )


def worst() -> CertificateContent:
    """Every text as long as its field allows, twelve readings, both ends unmatched, amended."""
    base = by_trial()
    tool = ToolLine(said("M", 40), said("tool", 120), date(2026, 1, 7), date(2027, 1, 7))
    ends = tuple(
        replace(
            base.ends[1],
            label=label,
            fitting=", ".join((said("F", 40), said("maker", 80), said("product", 80))),
            connection=" ".join((said("cone", 80), said("standard", 60), said("size", 40))),
            shell=", ".join((said("S", 40), said("maker", 80), said("product", 80))),
            lots=f"fitting lot {said('lot', 40)}, shell lot {said('lot', 40)}",
            recipe=" on ".join((said("hose", 40), said("fitting", 40), said("shell", 40))),
            basis_words=said("chart", 300),
            readings_mm=tuple(D("26.25") + D(n) / 100 for n in range(12)),
            die=said("die", 40),
            measured_with=tool,
            closed_again=True,
        )
        for label in ("A", "B")
    )
    amendment = AmendmentLine(
        date(2026, 11, 26), said("person", 120), said("text", 1000), said("reason", 500)
    )
    return replace(
        base,
        number="BLACKMERE-QW 4294967296",
        site=said("site", 120),
        tag="7PM3 LB4T (" + said("mark", 60) + ")",
        title=said("title", 160),
        spec_code=said("spec", 40),
        sheet="BLACKMERE-QW 4294967295",
        hose=" · ".join((said("H", 40), said("maker", 80), said("product", 80))),
        reel=said("reel", 40) + ", made between 2026-04-01 and 2026-06-30",
        pressure=replace(base.pressure, binds=said("recipe", 160)),
        proof=replace(base.proof, gauge=tool, medium="hydraulic oil, air bled"),
        ends=(ends[0], ends[1]),
        people=tuple(
            PersonLine(deed, said("person", 120), BUILT)
            for deed in ("Made by", "Tested by", "Signed by")
        ),
        made=tuple(MadeLine(f"Figure {n}", said("asked", 80), said("made", 80)) for n in range(9)),
        crimper=tool,
        doubts=(said("Reel", 300), said("Cover", 300)),
        note=said("note", 1000),
        amendments=(amendment,) * 4,
        alerts=(
            "UNMATCHED at end A and B: no published chart names these parts together.",
            "CONDITIONAL RELEASE of this hose: " + said("limits", 300),
        ),
        replaces="BLACKMERE-QW 4294967295 of 2026-11-25",
    )
