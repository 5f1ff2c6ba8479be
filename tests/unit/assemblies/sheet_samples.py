"""Sheet contents for the tests of the papers: an everyday one, and one at its worst."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from assemblies.calc.sheet import (
    NO_SKIVE,
    Basis,
    CrimpFigures,
    EndHead,
    EndLine,
    EndShape,
    HoseLine,
    LengthBasis,
    LengthLine,
    Orientation,
    PartPressure,
    PinAnswer,
    PinCheck,
    PressureLine,
    ProofTest,
    Rating,
    SheetContent,
    Skive,
    SkiveKind,
    Sleeve,
    Source,
    SourceKind,
)
from assemblies.calc.sheet_steps import steps_for

D = Decimal


def published_crimp() -> CrimpFigures:
    return CrimpFigures(
        recipe_code="H-2SN-19 on F-22L-19 in S-2-19",
        revision=2,
        state="approved",
        basis=Basis.PUBLISHED,
        basis_words="the maker's chart 7, edition 2025, names all three",
        insertion_depth_mm=D("34.00"),
        external_skive=NO_SKIVE,
        internal_skive=NO_SKIVE,
        die="28",
        crimp_od_mm=D("30.40"),
        crimp_od_plus_mm=D("0.10"),
        crimp_od_minus_mm=D("0.10"),
        ovality_limit_mm=D("0.20"),
        pin=PinCheck(D("14.20"), PinAnswer.ENTERS, "from the nut"),
        setting_note="27.9 on press 2",
    )


def trial_crimp() -> CrimpFigures:
    return replace(
        published_crimp(),
        recipe_code="H-3B-19 on F-61-19 in S-2-19",
        revision=1,
        basis=Basis.TRIAL,
        basis_words="two trials to tail collapse, brackets overlap",
        external_skive=Skive(SkiveKind.LENGTH, D("29.00")),
        crimp_od_mm=D("26.25"),
        pin=PinCheck(D("14.20"), PinAnswer.REFUSES, "from the flange", D("13.50")),
        rated_bar=D("160.00"),
        rated_by="R. Aldous",
    )


def everyday() -> SheetContent:
    standard = Source(SourceKind.STANDARD, "EN 853", "2015")
    near = EndLine(
        label="A",
        fitting_code="F-22L-19",
        fitting_maker="Northfold Couplings",
        fitting_product="K24 swivel",
        connection="24° cone, light series",
        size="22L M30×2",
        form="straight",
        rating=Rating(D(160), "160 bar", Source(SourceKind.STANDARD, "ISO 8434-1", "2018")),
        turns_about="swivel nut (turns about the port)",
        allowance_mm=D("45.5"),
        allowance_from="from the seat of the cone",
        shell_code="S-2-19",
        shell_maker="Northfold Couplings",
        shell_product="ferrule two-wire",
        small_parts="O-ring 20×2.5 FKM",
        torque="100 Nm",
        crimp=published_crimp(),
    )
    far = replace(
        near,
        label="B",
        fitting_code="F-61-19",
        fitting_product="K61 elbow",
        connection="flange SAE J518 code 61",
        size="3/4",
        form="90° elbow",
        shape=EndShape.BENT,
        bend_deg=90,
        head=EndHead.FLANGE,
        drop_mm=D("58.0"),
        rating=Rating(D(345), "5000 psi", Source(SourceKind.STANDARD, "SAE J518", "2018")),
        turns_about="captive flange",
        allowance_mm=D("62.0"),
        allowance_from="from the centre of the flange",
        small_parts="flange halves, 4 × M10×35, O-ring 24.99×3.53",
        torque="55 Nm",
    )
    content = SheetContent(
        number="BQ 118",
        drawn_on=date(2026, 11, 25),
        title="Lift cylinder, rod side",
        spec_code="LX-0412",
        spec_revision=3,
        description="",
        quantity=1,
        machine="Wheel loader BQ-014",
        position="Lift cylinder left, rod side",
        need_by=date(2026, 12, 2),
        job="J-77",
        hose=HoseLine(
            code="H-2SN-19",
            maker="Palmerston Rubber",
            product="Tough Two",
            type_name="EN 853 2SN",
            size_name='DN19 · -12 · 3/4"',
            rating=Rating(D(215), "215 bar / 3120 psi", standard),
            bend_radius_mm=D(240),
            bend_radius_source="EN 853, inside of bend",
            from_c=D(-40),
            to_c=D(100),
            outside_diameter_mm=D("30.1"),
            bore_mm=D(19),
            reinforcement="2 wire braids",
        ),
        ends=(near, far),
        length=LengthLine(
            length_mm=D(1200),
            basis=LengthBasis.SEAT,
            plus_mm=D(12),
            minus_mm=D(4),
            tolerance_source="DIN 20066",
            cut_length_mm=D("1092.5"),
            arithmetic="1200 − 45.5 − 62.0 = 1092.5 mm",
        ),
        orientation=Orientation(None, reason="End A is straight: it has no direction."),
        pressure=PressureLine(
            D(160),
            "end A",
            (
                PartPressure("hose", D(215)),
                PartPressure("end A", D(160)),
                PartPressure("end B", D(345)),
            ),
        ),
        test=ProofTest(D(320), "Every piece.", 30, 60, "SAE J343, ISO 6605"),
        sleeves=(Sleeve("spiral guard 32", D(150), D(900), "A"),),
        cleanliness="ISO 4406 18/16/13",
        stamp_lines=("BQ / 160 bar / 2611", "tag: ________"),
        notes="",
        spec_link="https://hoses.blackmere.example/s/lx-0412/3",
        job_link="https://hoses.blackmere.example/j/77",
    )
    return replace(content, steps=steps_for(content))


LONG_NAME = (
    "Transcontinental Hydraulic Connection and Rubber Manufacturing Works of Upper Staithe & Sons"
)


def worst() -> SheetContent:
    """Longest names, four sleeves, 180°, twelve readings, unmatched, other scripts."""
    base = everyday()
    near, far = base.ends
    crimp = replace(
        trial_crimp(),
        readings=12,
        setting_note="26.25 on press 2 with die 28, colder oil reads 0.05 more; check first-off",
        recipe_code="H-3B-19-R2AT<SC> on F-61-90-19-LONGDROP in S-2-19-THICK",
        basis_words="two trials to tail collapse by R. Aldous and С. Козлов, brackets overlap",
        external_skive=Skive(SkiveKind.LENGTH, D("6.00")),
        die="28 (long, set B)",
        rated_to_c=D(100),
    )
    near = replace(
        near,
        fitting_code="F-24C-22L-90-19-LONGDROP-STAINLESS-0001",
        fitting_maker=LONG_NAME,
        fitting_product="Swivel elbow 90° long drop, male 24° cone <SC> & P&ID reference 1184-B-77",
        connection="24° cone with O-ring, light series, ISO 8434-1 DKOL, stainless, swivel nut",
        size="22L M30×2",
        form="90° elbow",
        shape=EndShape.BENT,
        bend_deg=90,
        drop_mm=D("61.5"),
        allowance_from="from the seat of the cone to the cut, along the axis of the hose",
        shell_maker=LONG_NAME,
        shell_product="Ferrule for two wire braids, external skive, thick wall R2AT<SC>",
        small_parts="O-ring 20×2.5 FKM 90 Shore, backing ring, dust cap (yellow), уплотнение 22L",
        torque="100 Nm +10 % by its maker's table 9, dry threads, hold the tail with a second key",
        crimp=crimp,
    )
    far = replace(
        far,
        fitting_code="F-61-90-19-LONGDROP-0002",
        fitting_maker=LONG_NAME,
        shell_maker=LONG_NAME,
        crimp=replace(crimp, internal_skive=Skive(SkiveKind.UNKNOWN), crimp_od_plus_mm=D("0.15")),
    )
    content = replace(
        base,
        title="Гидроцилиндр подъёма стрелы, штоковая полость, левый, R2AT<SC> & P&ID 4711-Ü",
        description="Replaces the hose found with 3 wire braids; see <drawing> 7 & P&ID sheet 12",
        spec_code="LX-0412-LONG-DROP-STAINLESS-WINTER-2026",
        spec_revision=27,
        quantity=3,
        machine="Excavator BQ-1147 «Медведь» with quick coupler, 47 t, tier 5",
        position="Boom cylinder left, rod side, behind the guard plate 机器 4, upper clamp (2)",
        job="J-771234/B",
        hose=replace(
            base.hose,
            maker=LONG_NAME,
            product="Three-braid R2AT<SC> cover & tube, MSHA-like approval text, 100 m reel",
            reinforcement="3 wire braids",
            reel="R-2231-A",
        ),
        ends=(near, far),
        orientation=Orientation(D(180), D(5), "A"),
        sleeves=(
            Sleeve("spiral guard 32, black, ends taped", D(0), D(400), "A", "fold the tail under"),
            Sleeve("textile burst sleeve", D(0), None, "A", "clamp at both shells"),
            Sleeve("heat sleeve, aluminised glass", D("700"), D(900), "B"),
            Sleeve("защитная пружина 40×3", D("300.5"), D("640.5"), "B", "P&ID note <3>"),
        ),
        alerts=(
            "UNMATCHED: no published chart names this hose with these ends and shells. Built on "
            "an approved trial recipe; shorter life, first inspection early.",
            "Recipe approved by one person alone, as the site allows.",
            "CONDITIONAL RELEASE until 2026-12-09, at most 120 bar, not on steering or brakes.",
        ),
        notes="Осторожно: кромка. 请先检查接头 机器 ホース 호스 — keep <R2AT> & P&ID apart. "
        "Route over the tank; no twist, layline straight. Ask Ełżbieta or Γιώργος.",
        stamp_lines=("BQ / 160 bar / 2611", "tag: ________", "R2AT<SC>"),
    )
    return replace(content, steps=steps_for(content))


def trial_sheet() -> SheetContent:
    """An unmatched pair on an approved trial recipe, with its words on the sheet and a note."""
    base = everyday()
    near, far = base.ends
    content = replace(
        base,
        ends=(replace(near, crimp=trial_crimp()), replace(far, crimp=trial_crimp())),
        alerts=("UNMATCHED: no published chart names these parts together.",),
    )
    return replace(content, steps=steps_for(content))


def eight_sleeves() -> SheetContent:
    """As many sleeves as a specification can have."""
    sleeves = tuple(
        Sleeve(f"guard {n}", D(50 * n), D(50 * n + 400), "A" if n % 2 else "B") for n in range(8)
    )
    return replace(oriented("200"), sleeves=sleeves)


def without_recipe() -> SheetContent:
    base = everyday()
    near, far = base.ends
    reason = "There is no recipe for H-2SN-19 with F-61-19 in S-2-19."
    content = replace(base, ends=(near, replace(far, crimp=None, no_crimp_reason=reason)))
    return replace(content, steps=steps_for(content))


def oriented(angle: str, length: str = "1200", outside: str = "30.1") -> SheetContent:
    """An everyday hose with an elbow at each end, turned by an angle."""
    base = everyday()
    near, far = base.ends
    bent = replace(near, shape=EndShape.BENT, bend_deg=90, form="90° elbow", drop_mm=D(52))
    cut = D(length) - D("107.5")
    return replace(
        base,
        ends=(bent, far),
        hose=replace(base.hose, outside_diameter_mm=D(outside)),
        orientation=Orientation(D(angle), D(5), "A"),
        length=replace(base.length, length_mm=D(length), cut_length_mm=cut),
    )
