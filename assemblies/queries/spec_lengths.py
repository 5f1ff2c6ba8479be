"""The length of a spec: its tolerance, what to cut, and where it is measured."""

from dataclasses import dataclass
from decimal import Decimal

from assemblies.calc.lengths import (
    Allowance,
    AngleLimits,
    Basis,
    Form,
    LengthError,
    ToleranceUnknown,
    Turns,
    angle_limits,
    cut_length,
    has_direction,
    length_limits,
    measure_point,
)
from assemblies.models import FittingRevision
from assemblies.queries.parts import EndParts, SpecParts


@dataclass(frozen=True, slots=True)
class ToleranceFacts:
    """How far the length may be off, and by which document or whose choice."""

    plus_mm: Decimal
    minus_mm: Decimal
    shortest_mm: Decimal
    longest_mm: Decimal
    source: str


@dataclass(frozen=True, slots=True)
class LengthFacts:
    """A spec's length worked through. Where something can't be said, the sentence says why."""

    length_mm: Decimal
    basis: str
    basis_words: str
    near_point: str
    far_point: str
    tolerance: ToleranceFacts | None
    tolerance_problem: str
    cut_mm: Decimal | None
    arithmetic: str
    cut_problem: str
    cut_code: str
    angle_limits: AngleLimits | None


def length_facts(parts: SpecParts) -> LengthFacts:
    """Work through the length of a spec."""
    spec = parts.spec
    basis = Basis(spec.length_basis)
    tolerance, tolerance_problem = _tolerance(parts)
    cut_mm, problem, code = _cut(parts, basis)
    return LengthFacts(
        length_mm=spec.length_mm,
        basis=basis.value,
        basis_words=spec.get_length_basis_display(),
        near_point=_point(parts.near, basis),
        far_point=_point(parts.far, basis),
        tolerance=tolerance,
        tolerance_problem=tolerance_problem,
        cut_mm=cut_mm,
        arithmetic="" if cut_mm is None else _arithmetic(parts, basis, cut_mm),
        cut_problem=problem,
        cut_code=code,
        angle_limits=None if spec.orientation_deg is None else angle_limits(spec.length_mm),
    )


def allowance_of(fitting: FittingRevision | None) -> Allowance | None:
    """The maker's cut-off allowance and what it counts from: seat to seat unless said."""
    if fitting is None or fitting.allowance_mm is None:
        return None
    said = fitting.allowance_counts_from
    counts = Basis(said) if said in {Basis.SEAT_TO_SEAT, Basis.OVERALL} else Basis.SEAT_TO_SEAT
    return Allowance(fitting.allowance_mm, counts)


def points_somewhere(fitting: FittingRevision) -> bool:
    """Whether the crimp fixes a direction of this end."""
    return has_direction(Form(fitting.form), Turns(fitting.turns))


def _tolerance(parts: SpecParts) -> tuple[ToleranceFacts | None, str]:
    spec = parts.spec
    if spec.tolerance_plus_mm is not None and spec.tolerance_minus_mm is not None:
        plus, minus = spec.tolerance_plus_mm, spec.tolerance_minus_mm
        low, high = spec.length_mm - minus, spec.length_mm + plus
        return ToleranceFacts(plus, minus, low, high, "the spec's own"), ""
    if parts.hose is None:
        return None, "The hose has no revision that counts, so its size isn't known."
    try:
        found = length_limits(parts.hose.size_dn, spec.length_mm)
    except ToleranceUnknown as error:
        return None, str(error)
    return (
        ToleranceFacts(
            found.plus_mm, found.minus_mm, found.shortest_mm, found.longest_mm, str(found.source)
        ),
        "",
    )


def _cut(parts: SpecParts, basis: Basis) -> tuple[Decimal | None, str, str]:
    near, far = (_allowance(end) for end in (parts.near, parts.far))
    try:
        return cut_length(parts.spec.length_mm, near, far, basis=basis), "", ""
    except LengthError as error:
        return None, str(error), _CODES.get(type(error).__name__, "length_wrong")


_CODES = {
    "AllowanceMissing": "allowance_missing",
    "BasisMismatch": "basis_mismatch",
    "TooShort": "too_short",
}


def _allowance(end: EndParts | None) -> Allowance | None:
    return allowance_of(end.fitting) if end else None


def _arithmetic(parts: SpecParts, basis: Basis, cut_mm: Decimal) -> str:
    if basis is Basis.CUT:
        return f"The length is the cut: {_mm(cut_mm)} mm."
    near, far = _allowance(parts.near), _allowance(parts.far)
    taken = " − ".join(_mm(one.mm) for one in (near, far) if one is not None)
    return f"{_mm(parts.spec.length_mm)} − {taken} = {_mm(cut_mm)} mm"


def _point(end: EndParts | None, basis: Basis) -> str:
    if end is None or end.fitting is None:
        return ""
    return measure_point(Form(end.fitting.form), Turns(end.fitting.turns), basis)


def _mm(number: Decimal) -> str:
    return f"{number.normalize():f}"
