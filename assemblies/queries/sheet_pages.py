"""A sheet's content laid out for a page: the same phrases as on the paper, in blocks."""

from dataclasses import dataclass

from assemblies.calc.sheet import EndLine, SheetContent
from assemblies.calc.sheet_phrases import (
    NO_RECIPE_ADVICE,
    UNMATCHED,
    allowance_words,
    angle_words,
    basis_words,
    bend_words,
    binding_words,
    crimp_od_words,
    crimp_range_words,
    fitting_words,
    form_words,
    hose_words,
    pin_words,
    proof_words,
    rating_words,
    recipe_rating_words,
    recipe_words,
    shell_words,
    skive_words,
    sleeve_words,
    temperature_words,
)
from assemblies.calc.sheet_words import bars, figure, millimetres, short_figure, tolerance

Fact = tuple[str, str]


@dataclass(frozen=True, slots=True)
class EndBlock:
    """One end: what it is, and how it is crimped, or why it is not."""

    label: str
    warning: str
    parts: tuple[Fact, ...]
    crimp_od: str
    crimp_range: str
    ovality: str
    figures: tuple[Fact, ...]
    no_recipe: str


@dataclass(frozen=True, slots=True)
class SheetBlocks:
    """The blocks of the page, in the order of the paper."""

    head: tuple[Fact, ...]
    cut_length: str
    working_pressure: str
    proof_pressure: str
    hose: tuple[Fact, ...]
    lengths: tuple[Fact, ...]
    pressures: tuple[Fact, ...]
    ends: tuple[EndBlock, ...]


def sheet_page(content: SheetContent) -> SheetBlocks:
    """Lay out a sheet for the page."""
    return SheetBlocks(
        head=_stated(
            ("Quantity", str(content.quantity)),
            ("For machine", content.machine),
            ("Position", content.position),
            ("Needed by", content.need_by.isoformat() if content.need_by else ""),
            ("Job", content.job),
            ("Sheet of", content.drawn_on.isoformat()),
        ),
        cut_length=millimetres(content.length.cut_length_mm),
        working_pressure=bars(content.pressure.working_bar),
        proof_pressure=bars(content.test.pressure_bar),
        hose=_hose(content),
        lengths=_lengths(content),
        pressures=(
            ("The lowest of", binding_words(content.pressure)),
            ("Proof test", proof_words(content.test)),
        ),
        ends=tuple(_end(end) for end in content.ends),
    )


def _stated(*facts: Fact) -> tuple[Fact, ...]:
    return tuple(fact for fact in facts if fact[1])


def _hose(content: SheetContent) -> tuple[Fact, ...]:
    hose = content.hose
    return _stated(
        ("Hose", hose_words(hose)),
        ("Working pressure", rating_words(hose.rating)),
        ("Bend radius, at least", bend_words(hose)),
        ("Temperature", temperature_words(hose)),
        ("Reel", hose.reel),
    )


def _lengths(content: SheetContent) -> tuple[Fact, ...]:
    length = content.length
    within = tolerance(length.plus_mm, length.minus_mm)
    said = f"{short_figure(length.length_mm)} {within} mm ({length.tolerance_source})"
    sleeves = (
        (f"Sleeve S{n}", sleeve_words(n, sleeve)) for n, sleeve in enumerate(content.sleeves, 1)
    )
    return _stated(
        (f"Length, {length.basis.value}", said),
        ("How the cut comes about", length.arithmetic),
        ("Angle between the ends", angle_words(content.orientation)),
        *sleeves,
        ("Cleanliness", content.cleanliness),
        ("Lines for stamping", " · ".join(content.stamp_lines)),
    )


def _end(end: EndLine) -> EndBlock:
    crimp = end.crimp
    return EndBlock(
        label=end.label,
        warning="NO RECIPE" if crimp is None else "" if end.matched else UNMATCHED,
        parts=_stated(
            ("Fitting", fitting_words(end)),
            ("Shell", shell_words(end)),
            ("Connection", f"{end.connection} {end.size}".strip()),
            ("Form, turns about", form_words(end)),
            ("Working pressure", rating_words(end.rating)),
            ("Allowance", allowance_words(end)),
            ("Small parts", end.small_parts),
            ("Tighten by its maker", end.torque),
        ),
        crimp_od=crimp_od_words(crimp) if crimp else "",
        crimp_range=crimp_range_words(crimp) if crimp else "",
        ovality=f"{figure(crimp.ovality_limit_mm)} mm" if crimp else "",
        figures=_figures(end),
        no_recipe="" if crimp else f"{end.no_crimp_reason} {NO_RECIPE_ADVICE}",
    )


def _figures(end: EndLine) -> tuple[Fact, ...]:
    crimp = end.crimp
    if crimp is None:
        return ()
    return _stated(
        ("Insertion depth = mark", millimetres(crimp.insertion_depth_mm)),
        ("Outside skive", skive_words(crimp.external_skive)),
        ("Inside skive", skive_words(crimp.internal_skive)),
        ("Cover left under the shell’s end", _cover(end)),
        ("Die", crimp.die or "not given"),
        ("Pin, out before every press", pin_words(crimp)),
        ("Setting, a note only: the OD counts", crimp.setting_note),
        ("Recipe", recipe_words(crimp)),
        ("Basis", basis_words(crimp)),
        ("Recipe rated", recipe_rating_words(crimp)),
    )


def _cover(end: EndLine) -> str:
    left = end.crimp.cover_left_mm if end.crimp else None
    return millimetres(left) if left else ""
