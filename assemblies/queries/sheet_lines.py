"""The lines of a build sheet from the parts of a spec: hose, ends, lengths, pressures."""

import re
from decimal import ROUND_DOWN, Decimal

from assemblies.calc.lengths import Form, Turns, why_no_angle
from assemblies.calc.sheet import (
    NO_SKIVE,
    SKIVE_UNKNOWN,
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
    Rating,
    Skive,
    SkiveKind,
    Sleeve,
    Source,
    SourceKind,
)
from assemblies.calc.sizes import size_by_dn
from assemblies.models import FittingRevision, HoseRevision, RecipeRevision
from assemblies.queries.parts import EndParts, SpecParts
from assemblies.queries.ratings import RatingFacts
from assemblies.queries.spec_lengths import LengthFacts

_STANDARD = re.compile(r"\s*(EN|ISO|DIN|SAE|JIS|GB)[\s/]", re.IGNORECASE)
_TENTH = Decimal("0.1")

_SHAPES = {
    Form.STRAIGHT: (EndShape.STRAIGHT, 0),
    Form.ELBOW_45: (EndShape.BENT, 45),
    Form.ELBOW_90: (EndShape.BENT, 90),
    Form.BANJO: (EndShape.BANJO, 0),
    Form.BLOCK: (EndShape.BLOCK, 0),
}
_HEADS = {
    Turns.FIXED: EndHead.MALE,
    Turns.SWIVEL_NUT: EndHead.NUT,
    Turns.LIVE_SWIVEL: EndHead.NUT,
    Turns.CAPTIVE_FLANGE: EndHead.FLANGE,
    Turns.SPLIT_FLANGE: EndHead.FLANGE,
}
_BASES = {
    "seat_to_seat": LengthBasis.SEAT,
    "overall": LengthBasis.OVERALL,
    "cut": LengthBasis.CUT,
}


def source_of(text: str) -> Source:
    """A source as the catalogue keeps it; one that names a standard asks to be checked."""
    if not text.strip():
        return Source(SourceKind.SITE, "no source written down")
    kind = SourceKind.STANDARD if _STANDARD.match(text) else SourceKind.MAKER
    return Source(kind, text.strip())


def hose_line(hose: HoseRevision) -> HoseLine:
    """The hose as its revision that counts describes it."""
    low, high = hose.temperature_low_c, hose.temperature_high_c
    layers = f"{hose.layers} × {hose.get_reinforcement_display()}"
    return HoseLine(
        code=hose.header.code,
        maker=hose.maker,
        product=hose.product,
        type_name=hose.standard_type,
        size_name=_size_name(hose.size_dn),
        rating=Rating(
            hose.working_pressure_bar, hose.printed_pressure, source_of(hose.rating_source)
        ),
        bend_radius_mm=hose.bend_radius_mm,
        bend_radius_source="inside of bend" if hose.bend_radius_mm else "",
        from_c=None if low is None else Decimal(low),
        to_c=None if high is None else Decimal(high),
        outside_diameter_mm=hose.outside_diameter_mm,
        bore_mm=hose.bore_mm,
        reinforcement=layers,
    )


def _size_name(dn: int) -> str:
    try:
        return str(size_by_dn(dn))
    except ValueError:
        return f"DN{dn}"


def end_line(parts: SpecParts, end: EndParts, point: str) -> EndLine:
    """One end with its recipe's figures, or with the reason why there are none."""
    label, fitting, shell = end.end.which, end.fitting, end.shell
    crimp, reason = crimp_figures(parts, end)
    shape, bend = _SHAPES[Form(fitting.form)] if fitting else (EndShape.OTHER, 0)
    return EndLine(
        label=label,
        fitting_code=str(end.end.fitting),
        fitting_maker=fitting.maker if fitting else "",
        fitting_product=fitting.product if fitting else "",
        connection=_connection(fitting),
        size=fitting.connection_size if fitting else "",
        form=fitting.get_form_display() if fitting else "not known",
        rating=_end_rating(fitting),
        turns_about=fitting.get_turns_display() if fitting else "not known",
        allowance_mm=fitting.allowance_mm if fitting else None,
        allowance_from=f"from the {point}" if point else "",
        shape=shape,
        head=_HEADS[Turns(fitting.turns)] if fitting else EndHead.PLAIN,
        bend_deg=bend,
        drop_mm=fitting.drop_mm if fitting else None,
        shell_code=str(end.end.shell) if end.end.shell else "",
        shell_maker=shell.maker if shell else "",
        shell_product=shell.product if shell else "",
        small_parts=fitting.small_parts if fitting else "",
        torque=_torque(fitting),
        crimp=crimp,
        no_crimp_reason=reason,
    )


def _connection(fitting: FittingRevision | None) -> str:
    if fitting is None:
        return "not known: the fitting has no revision that counts"
    return ", ".join(part for part in (fitting.connection, fitting.connection_standard) if part)


def _end_rating(fitting: FittingRevision | None) -> Rating:
    if fitting is None:
        return Rating(None, "", source_of(""))
    return Rating(
        fitting.working_pressure_bar, fitting.printed_pressure, source_of(fitting.rating_source)
    )


def _torque(fitting: FittingRevision | None) -> str:
    if fitting is None or fitting.torque_nm is None:
        return ""
    source = f" ({fitting.torque_source})" if fitting.torque_source else ""
    return f"{fitting.torque_nm.normalize():f} Nm{source}"


def crimp_figures(parts: SpecParts, end: EndParts) -> tuple[CrimpFigures | None, str]:
    """The figures of an approved recipe, or the reason in words why there are none."""
    recipe = end.recipe
    shell = f" in {end.end.shell}" if end.end.shell else ""
    joint = f"{parts.spec.hose} on {end.end.fitting}{shell}"
    if recipe is None:
        return None, f"There is no recipe for {joint}."
    if recipe.state != "approved" or recipe.crimp_od_mm is None:
        state = recipe.get_state_display()
        return None, f"The recipe for {joint} is {state}, not approved."
    return _figures(joint, recipe), ""


def _figures(joint: str, recipe: RecipeRevision) -> CrimpFigures:
    basis = Basis(recipe.basis)
    high = recipe.temperature_high_c
    crimp_od_mm = recipe.crimp_od_mm
    if crimp_od_mm is None:
        raise ValueError(f"The recipe for {joint} has no crimp OD.")
    return CrimpFigures(
        recipe_code=joint,
        revision=recipe.number,
        state=recipe.get_state_display(),
        basis=basis,
        basis_words=_basis_words(recipe),
        insertion_depth_mm=recipe.insertion_depth_mm,
        external_skive=_skive(recipe.external_skive, recipe.external_skive_mm),
        internal_skive=_skive(recipe.internal_skive, recipe.internal_skive_mm),
        die=recipe.die_set,
        crimp_od_mm=crimp_od_mm,
        crimp_od_plus_mm=recipe.tolerance_plus_mm,
        crimp_od_minus_mm=recipe.tolerance_minus_mm,
        ovality_limit_mm=recipe.ovality_max_mm,
        pin=_pin(recipe, basis),
        setting_note=recipe.note,
        rated_bar=recipe.working_pressure_bar,
        rated_to_c=None if high is None else Decimal(high),
        rated_by=str(recipe.rated_by) if recipe.rated_by else "",
        closing_allowed=recipe.closing_allowed,
    )


def _basis_words(recipe: RecipeRevision) -> str:
    if recipe.basis == Basis.PUBLISHED:
        return recipe.chart_source
    count = recipe.trial_links.count()
    words = f"crimped down to tail collapse in {count} trial{'s' * (count != 1)}"
    return f"{words}; {recipe.chart_source}" if recipe.chart_source else words


def _skive(kind: str, length_mm: Decimal | None) -> Skive:
    if kind == SkiveKind.LENGTH and length_mm is not None:
        return Skive(SkiveKind.LENGTH, length_mm)
    return NO_SKIVE if kind == SkiveKind.NONE else SKIVE_UNKNOWN


def _pin(recipe: RecipeRevision, basis: Basis) -> PinCheck | None:
    """On a published recipe the pin must enter, on a trial recipe it must refuse."""
    if recipe.pin_mm is None:
        return None
    answer = PinAnswer.ENTERS if basis is Basis.PUBLISHED else PinAnswer.REFUSES
    return PinCheck(recipe.pin_mm, answer, recipe.pin_from, recipe.must_pass_pin_mm)


def length_line(facts: LengthFacts) -> LengthLine | None:
    """The length with its tolerance; None where nobody has stated a tolerance."""
    if facts.tolerance is None:
        return None
    # A part of the length is cut to the tenth towards the tighter side.
    plus, minus = (
        side.quantize(_TENTH, rounding=ROUND_DOWN).normalize() + 0
        for side in (facts.tolerance.plus_mm, facts.tolerance.minus_mm)
    )
    return LengthLine(
        length_mm=facts.length_mm,
        basis=_BASES[facts.basis],
        plus_mm=plus,
        minus_mm=minus,
        tolerance_source=facts.tolerance.source,
        cut_length_mm=facts.cut_mm,
        arithmetic=facts.arithmetic or facts.cut_problem,
    )


def orientation_line(parts: SpecParts, facts: LengthFacts) -> Orientation:
    """The angle between the ends, or why there is none."""
    angle = parts.spec.orientation_deg
    if angle is not None:
        limits = facts.angle_limits
        within = limits.plus_minus_deg if limits else None
        return Orientation(Decimal(angle), within, parts.ends[0].end.which)
    forms = {
        end.end.which: (Form(end.fitting.form), Turns(end.fitting.turns))
        for end in parts.ends
        if end.fitting is not None
    }
    reason = why_no_angle(forms) or "No angle is stated: ask before crimping the second end."
    return Orientation(None, None, parts.ends[0].end.which, reason)


def sleeve_lines(parts: SpecParts) -> tuple[Sleeve, ...]:
    """The sleeves, measured from end A; one without an end runs to the other end."""
    near = parts.ends[0].end.which
    return tuple(
        Sleeve(sleeve.kind, sleeve.from_mm, sleeve.to_mm, near)
        for sleeve in parts.spec.sleeves.all()
    )


def pressure_line(facts: RatingFacts) -> PressureLine:
    """The working pressure, every part's own, and the part that binds."""
    parts = tuple(
        PartPressure(part.name, part.effective_bar)
        for part in facts.parts
        if part.effective_bar is not None
    )
    if facts.rating is None:
        return PressureLine(None, facts.problem, parts)
    binding = " and ".join(part.name for part in facts.rating.binding)
    return PressureLine(facts.rating.working_pressure_bar, binding, parts)
