"""The phrases of a build sheet's figures, the same on the paper and on the page."""

from assemblies.calc.sheet import (
    CrimpFigures,
    EndLine,
    HoseLine,
    Orientation,
    PinAnswer,
    PressureLine,
    ProofTest,
    Rating,
    Skive,
    SkiveKind,
    Sleeve,
)
from assemblies.calc.sheet_words import (
    bars,
    celsius,
    figure,
    hold_words,
    millimetres,
    short_figure,
    tolerance,
)

NO_RECIPE_ADVICE = (
    "No crimp figure is given here because none is proven for this hose, fitting and shell. Ask "
    "both makers for a chart that names them, or have a crimp trial made and approved; then print "
    "this sheet anew."
)
UNMATCHED = "UNMATCHED: no published chart names these parts together"


def rating_words(rating: Rating) -> str:
    """A rating in bar, as it is printed, and the document it is from."""
    printed = f" (printed: {rating.printed})" if rating.printed else ""
    return f"{bars(rating.bar)}{printed}. {rating.source.words()}"


def skive_words(skive: Skive) -> str:
    """None, not known, or the length: three different things.

    >>> skive_words(Skive(SkiveKind.NONE)), skive_words(Skive(SkiveKind.UNKNOWN))
    ('none', 'NOT KNOWN: ask')
    """
    if skive.kind is SkiveKind.NONE:
        return "none"
    if skive.kind is SkiveKind.UNKNOWN:
        return "NOT KNOWN: ask"
    return millimetres(skive.length_mm)


def crimp_od_words(crimp: CrimpFigures) -> str:
    """The crimp OD with its tolerance."""
    within = tolerance(crimp.crimp_od_plus_mm, crimp.crimp_od_minus_mm)
    return f"Ø {figure(crimp.crimp_od_mm)} {within} mm"


def crimp_range_words(crimp: CrimpFigures) -> str:
    """The smallest and the largest crimp OD that pass."""
    low, high = crimp.crimp_od_range_mm
    return f"{figure(low)} … {figure(high)} mm"


def pin_words(crimp: CrimpFigures) -> str:
    """The pin, what it must do, and from where it enters."""
    pin = crimp.pin
    if pin is None:
        return "no pin check in this recipe"
    answer = "must ENTER" if pin.expected is PinAnswer.ENTERS else "must REFUSE"
    words = f"Ø {short_figure(pin.pin_mm)} mm {answer}"
    if pin.must_pass_mm is not None:
        words += f"; Ø {short_figure(pin.must_pass_mm)} mm must still pass"
    return f"{words}; {pin.entry}" if pin.entry else words


def recipe_words(crimp: CrimpFigures) -> str:
    """Which recipe, by which revision, in which state."""
    return f"{crimp.recipe_code} rev {crimp.revision} · {crimp.state}"


def basis_words(crimp: CrimpFigures) -> str:
    """How the recipe came to be."""
    return f"{crimp.basis.value}: {crimp.basis_words}"


def recipe_rating_words(crimp: CrimpFigures) -> str:
    """What the recipe itself is rated at, and by whom."""
    rated = [bars(crimp.rated_bar)] if crimp.rated_bar is not None else []
    if crimp.rated_to_c is not None:
        rated.append(f"to {celsius(crimp.rated_to_c)}")
    if crimp.rated_by:
        rated.append(f"by {crimp.rated_by}")
    return ", ".join(rated) or "not rated"


def allowance_words(end: EndLine) -> str:
    """The end's cut-off allowance and the point it counts from."""
    if end.allowance_mm is None:
        return "not known"
    return f"{millimetres(end.allowance_mm)} {end.allowance_from}".strip()


def form_words(end: EndLine) -> str:
    """The end's form, its drop, and what it turns about."""
    drop = f", drop {millimetres(end.drop_mm)}" if end.drop_mm else ""
    return f"{end.form}{drop} · {end.turns_about}"


def fitting_words(end: EndLine) -> str:
    """Code, maker and product of the fitting."""
    return _joined(end.fitting_code, end.fitting_maker, end.fitting_product)


def shell_words(end: EndLine) -> str:
    """Code, maker and product of the shell."""
    words = _joined(end.shell_code, end.shell_maker, end.shell_product)
    return words or "one piece with the fitting"


def hose_words(hose: HoseLine) -> str:
    """What the hose is: code, maker, product, type, size and measures."""
    bore = f"bore {millimetres(hose.bore_mm)}" if hose.bore_mm else ""
    outside = hose.outside_diameter_mm
    return _joined(
        hose.code,
        hose.maker,
        hose.product,
        hose.type_name,
        hose.size_name,
        hose.reinforcement,
        bore,
        f"outside {millimetres(outside)}" if outside else "",
    )


def bend_words(hose: HoseLine) -> str:
    """The least bend radius and how it counts."""
    words = millimetres(hose.bend_radius_mm)
    return f"{words} ({hose.bend_radius_source})" if hose.bend_radius_source else words


def temperature_words(hose: HoseLine) -> str:
    """From which temperature to which."""
    if hose.from_c is None or hose.to_c is None:
        return "not known"
    return f"{celsius(hose.from_c)} to {celsius(hose.to_c)}"


def binding_words(pressure: PressureLine) -> str:
    """Every part's working pressure, and the one that binds."""
    parts = "; ".join(f"{part.part} {bars(part.bar)}" for part in pressure.parts)
    if parts and pressure.binds:
        return f"{parts}. Binds: {pressure.binds}"
    return parts or pressure.binds or "not known"


def proof_words(test: ProofTest) -> str:
    """Which pieces are tested, how long, by which document.

    >>> proof_words(ProofTest(None, "Every piece."))
    'Every piece. Hold 30 to 60\xa0s, liquid, air bled.'
    """
    hold = hold_words(test.hold_from_s, test.hold_to_s)
    return f"{test.policy} Hold {hold}, liquid, air bled. {test.source}".strip()


def sleeve_words(number: int, sleeve: Sleeve) -> str:
    """One sleeve: its number on the drawing, what it is, from where to where."""
    to_words = "the other end" if sleeve.to_mm is None else millimetres(sleeve.to_mm)
    note = f" ({sleeve.note})" if sleeve.note else ""
    start = short_figure(sleeve.from_mm)
    return f"S{number} {sleeve.name}: {start} to {to_words} from {sleeve.measured_from}{note}"


def angle_words(turned: Orientation) -> str:
    """The angle with its tolerance and how one looks; or why there is none.

    >>> from decimal import Decimal
    >>> angle_words(Orientation(Decimal(90), Decimal(5)))
    '90° ±5° clockwise, seen along the hose from end A'
    """
    if turned.angle_deg is None:
        return turned.reason
    return f"{short_angle(turned)} clockwise, seen along the hose from end {turned.seen_from}"


def short_angle(turned: Orientation) -> str:
    """The angle with its tolerance alone."""
    if turned.angle_deg is None:
        return ""
    within = f" ±{short_figure(turned.tolerance_deg)}°" if turned.tolerance_deg else ""
    return f"{short_figure(turned.angle_deg)}°{within}"


def _joined(*parts: str) -> str:
    return " · ".join(part for part in parts if part)
