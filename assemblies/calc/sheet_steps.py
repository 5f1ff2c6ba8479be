"""The numbered steps of a build sheet, in words, from its own figures."""

from assemblies.calc.sheet import (
    CrimpFigures,
    EndLine,
    PinAnswer,
    SheetContent,
    Skive,
    SkiveKind,
)
from assemblies.calc.sheet_words import (
    bars,
    figure,
    hold_words,
    millimetres,
    short_figure,
    tolerance,
)


def steps_for(content: SheetContent) -> tuple[str, ...]:
    """Write the steps of one build, in the order of the bench.

    Parameters: content, with or without steps of its own (they are not looked at). Returns one
    text a step. An end without a recipe gets a step that stops the work, and no figure.

    >>> skive_step(Skive(SkiveKind.UNKNOWN), "Outside")
    'Outside: skive NOT KNOWN, ask before cutting.'
    """
    near, far = content.ends
    return (
        _check_hose(content),
        _cut(content),
        *_sleeves(content),
        *_end_steps(near),
        *_orient(content),
        *_end_steps(far),
        *_after_crimp(content),
        *_finish(content),
    )


def _check_hose(content: SheetContent) -> str:
    hose = content.hose
    named = " ".join(part for part in (hose.maker, hose.product, hose.size_name) if part)
    reel = f", reel {hose.reel}" if hose.reel else ""
    return f"Read the layline: it is {named}{reel}. Write down reel and date of manufacture."


def _cut(content: SheetContent) -> str:
    if content.length.cut_length_mm is None:
        return "STOP: no cut length is known. " + content.length.arithmetic
    length = millimetres(content.length.cut_length_mm)
    return f"Cut square to {length}. Clean the bore and write with what."


def _sleeves(content: SheetContent) -> tuple[str, ...]:
    if not content.sleeves:
        return ()
    names = ", ".join(f"S{n} {sleeve.name}" for n, sleeve in enumerate(content.sleeves, 1))
    return (f"Put on before the second end: {names}.",)


def _end_steps(end: EndLine) -> tuple[str, ...]:
    if end.crimp is None:
        return (f"End {end.label}: STOP. Do not crimp. {end.no_crimp_reason}",)
    marks = (
        f"End {end.label}: mark the hose at {millimetres(end.crimp.insertion_depth_mm)}. "
        f"{skive_step(end.crimp.external_skive, 'Outside')} "
        f"{skive_step(end.crimp.internal_skive, 'Inside')} "
        "Push the hose on to the mark."
    )
    return marks, _press(end.label, end.crimp)


def skive_step(skive: Skive, where: str) -> str:
    """What to do about one skive: three different things."""
    if skive.kind is SkiveKind.NONE:
        return f"{where}: no skive."
    if skive.kind is SkiveKind.UNKNOWN:
        return f"{where}: skive NOT KNOWN, ask before cutting."
    return f"{where}: skive {millimetres(skive.length_mm)}, down to the wire, not into it."


def _press(label: str, crimp: CrimpFigures) -> str:
    od = f"{figure(crimp.crimp_od_mm)} {tolerance(crimp.crimp_od_plus_mm, crimp.crimp_od_minus_mm)}"
    die = f"Die {crimp.die}. " if crimp.die else ""
    closing = (
        "Too large and not yet pressurised: close to size."
        if crimp.closing_allowed
        else "Too large: scrap, this recipe forbids closing again."
    )
    return (
        f"End {label}: pin out. {die}Crimp to Ø {od} mm, {crimp.readings} readings round "
        f"mid-length, on the flats. {_pin_words(crimp)}{closing} Too small: scrap."
    )


def _pin_words(crimp: CrimpFigures) -> str:
    if crimp.pin is None:
        return ""
    verb = "enter" if crimp.pin.expected is PinAnswer.ENTERS else "refuse"
    also = (
        f", and pin {short_figure(crimp.pin.must_pass_mm)} must still pass"
        if crimp.pin.must_pass_mm is not None
        else ""
    )
    return f"Pin {short_figure(crimp.pin.pin_mm)} must {verb}{also}. "


def _orient(content: SheetContent) -> tuple[str, ...]:
    turned = content.orientation
    if turned.angle_deg is None:
        return ()
    far = next(end.label for end in content.ends if end.label != turned.seen_from)
    within = f" ±{short_figure(turned.tolerance_deg)}°" if turned.tolerance_deg else ""
    return (
        f"Turn the ends: seen along the hose from end {turned.seen_from}, end {far} up, "
        f"end {turned.seen_from} stands {short_figure(turned.angle_deg)}°{within} clockwise.",
    )


def _after_crimp(content: SheetContent) -> tuple[str, ...]:
    if not content.can_be_crimped:
        return ()
    return (
        "Both marks still show at the shells' ends. Paint a stripe across for creep.",
        "Measure the finished length "
        f"({content.length.basis.value}): {short_figure(content.length.length_mm)} "
        f"{tolerance(content.length.plus_mm, content.length.minus_mm)} mm.",
    )


def _finish(content: SheetContent) -> tuple[str, ...]:
    if not content.can_be_crimped:
        return ()
    target = f" to {content.cleanliness}" if content.cleanliness else ""
    test = content.test
    hold = hold_words(test.hold_from_s, test.hold_to_s)
    proof = (
        f"Proof test at {bars(test.pressure_bar)}, held {hold}, "
        f"liquid, air bled, behind a guard. {test.policy}"
        if test.pressure_bar is not None
        else f"No proof pressure is known. {test.policy}"
    )
    return (
        proof.strip(),
        f"Flush{target}, dry and cap both ends.",
        "Stamp or etch the shell with the lines for stamping, the month that of the build; fix "
        "the tag.",
    )
