"""A certificate's content from a signed build, its frozen sheet and what was added since."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from assemblies.calc.build_lines import Verdict
from assemblies.calc.certificate import (
    AmendmentLine,
    CertificateContent,
    CertifiedEnd,
    MadeLine,
    PersonLine,
    ProofLine,
    ToolLine,
)
from assemblies.calc.sheet import CrimpFigures, EndLine, PinAnswer, SheetContent
from assemblies.calc.sheet_phrases import (
    fitting_words,
    hose_words,
    recipe_words,
    shell_words,
    short_angle,
    skive_words,
)
from assemblies.calc.sheet_words import millimetres, short_figure, tag_in_groups, tolerance
from assemblies.models import Assembly, BuildEnd, BuildRecord, Crimper, Instrument
from assemblies.queries.build_facts import JOINED, content_of_build, ends_of
from assemblies.queries.hose_cards import day_span
from assemblies.queries.obstacles import Obstacle
from fleet.calc.local_days import local_day
from fleet.navigation import About, alarms_about
from fleet.pdf.qr import usable_link

MEDIUM = "liquid, air bled"


@dataclass(frozen=True, slots=True)
class Certified:
    """A signed and tested build with what its sheet said and its two ends."""

    build: BuildRecord
    sheet: SheetContent
    ends: dict[str, BuildEnd]


def certified(hose: Assembly) -> Certified | Obstacle:
    """The build to certify, or why none can be."""
    build = BuildRecord.objects.filter(assembly=hose).select_related(*JOINED).first()
    sheet = content_of_build(build) if build else None
    obstacle = _obstacle(hose, build, sheet)
    if obstacle is not None or build is None or sheet is None:
        return obstacle or _no_build(hose)
    return Certified(build, sheet, ends_of(build))


def _no_build(hose: Assembly) -> Obstacle:
    return Obstacle(
        "no_build",
        f"{hose} was not built here by a sheet of this register: it is not certified here. Ask "
        "who made it for a certificate.",
    )


def _obstacle(
    hose: Assembly, build: BuildRecord | None, sheet: SheetContent | None
) -> Obstacle | None:
    if build is None or sheet is None:
        return _no_build(hose)
    if build.signed_at is None:
        return Obstacle(
            "build_unsigned",
            f"The build of {hose} is not signed: a certificate is drawn from a signed build.",
        )
    if build.scrapped_reason:
        return Obstacle("scrapped", f"{hose} was scrapped: {build.scrapped_reason}")
    return _untested(hose, build, sheet)


def _untested(hose: Assembly, build: BuildRecord, sheet: SheetContent) -> Obstacle | None:
    held, asked = build.proof_pressure_bar, sheet.test.pressure_bar
    if build.proof_passed is False:
        return Obstacle("proof_failed", f"{hose} failed its proof test: no certificate.")
    tested = build.proof_passed and held is not None and build.proof_hold_s and build.gauge
    if not tested or held is None:
        return Obstacle(
            "not_tested",
            f"The build record of {hose} has no passed proof test with its pressure, time and "
            "gauge: test it, write that down and sign before a certificate is asked for.",
        )
    if asked is None or sheet.pressure.working_bar is None:
        return Obstacle(
            "pressure_unknown",
            f"The sheet of {hose} states no working pressure and no proof pressure: what was "
            "tested against is not known.",
        )
    if held < asked:
        return Obstacle(
            "proof_too_low",
            f"{hose} was tested at {short_figure(held)} bar, its sheet asks "
            f"{short_figure(asked)} bar: test it again at that.",
        )
    return None


def certificate_content(
    piece: Certified, *, number: str, drawn_on: dt.date, link: str, replaces: str
) -> CertificateContent:
    """Freeze what a certificate says. Look for what forbids it first (`certified`)."""
    build, sheet = piece.build, piece.sheet
    near, far = (_end(line, piece.ends[line.label]) for line in sheet.ends)
    return CertificateContent(
        number=number,
        drawn_on=drawn_on,
        site=build.site.name,
        tag=_tag(build.assembly),
        title=sheet.title,
        spec_code=sheet.spec_code,
        spec_revision=sheet.spec_revision,
        sheet=sheet.number,
        hose=hose_words(sheet.hose),
        reel=_reel(build),
        pressure=sheet.pressure,
        proof=_proof(piece),
        ends=(near, far),
        people=_people(build),
        built_on=build.built_on,
        made=tuple(_made(piece)),
        crimper=_tool(build.crimper),
        doubts=_doubts(build),
        note=build.note,
        amendments=_amendments(build),
        alerts=tuple(_alerts(piece, (near, far))),
        replaces=replaces,
        link=usable_link(link),
    )


def _tag(hose: Assembly) -> str:
    tag = tag_in_groups(str(hose.tag_id)) if hose.tag_id else ""
    mark = f"({hose.owner_mark})" if tag and hose.owner_mark else hose.owner_mark
    return f"{tag} {mark}".strip() or str(hose)


def _reel(build: BuildRecord) -> str:
    if build.reel is None:
        return "not written down"
    made = day_span(build.reel.made_earliest_on, build.reel.made_latest_on)
    return f"{build.reel.code}, hose made {made or 'on a day that nobody knows'}"


def _tool(tool: Crimper | Instrument | None) -> ToolLine | None:
    if tool is None:
        return None
    return ToolLine(tool.code, tool.description, tool.calibrated_on, tool.calibration_due_on)


def _proof(piece: Certified) -> ProofLine:
    build, asked = piece.build, piece.sheet.test.pressure_bar
    gauge = _tool(build.gauge)
    if build.proof_pressure_bar is None or build.proof_hold_s is None or gauge is None:
        raise ValueError(f"{build} has no whole proof test: look for what forbids it first.")
    return ProofLine(
        asked_bar=asked or Decimal(0),
        held_bar=build.proof_pressure_bar,
        hold_s=build.proof_hold_s,
        medium=MEDIUM,
        gauge=gauge,
    )


def _end(line: EndLine, made: BuildEnd) -> CertifiedEnd:
    if line.crimp is None or made.crimp_od_mm is None or made.ovality_mm is None:
        raise ValueError(f"{made} has no crimp: look for what forbids it first.")
    low, high = line.crimp.crimp_od_range_mm
    return CertifiedEnd(
        label=line.label,
        fitting=fitting_words(line),
        connection=f"{line.connection} {line.size}".strip(),
        shell=shell_words(line),
        lots=_lots(made),
        recipe=recipe_words(line.crimp),
        basis=line.crimp.basis,
        basis_words=line.crimp.basis_words,
        asked_from_mm=low,
        asked_to_mm=high,
        ovality_limit_mm=line.crimp.ovality_limit_mm,
        readings_mm=tuple(Decimal(text) for text in made.od_readings),
        mean_mm=made.crimp_od_mm,
        ovality_mm=made.ovality_mm,
        die=made.die_set,
        pin=_pin(line.crimp, made),
        mark={True: "still shows", False: "does not show", None: ""}[made.mark_visible],
        closed_again=made.closed_again,
        measured_with=_tool(made.instrument),
    )


def _lots(made: BuildEnd) -> str:
    fitting = f"fitting {made.fitting_lot}" if made.fitting_lot else ""
    shell = f"shell {made.shell_lot}" if made.shell_lot else ""
    return ", ".join(part for part in (fitting, shell) if part) or "not written down"


def _pin(crimp: CrimpFigures, made: BuildEnd) -> str:
    if crimp.pin is None or not made.pin:
        return ""
    must = "enter" if crimp.pin.expected is PinAnswer.ENTERS else "refuse"
    also = f"; smaller pin {made.must_pass_pin}" if made.must_pass_pin else ""
    return f"Ø {short_figure(crimp.pin.pin_mm)} mm {made.pin}, must {must}{also}"


def _people(build: BuildRecord) -> tuple[PersonLine, ...]:
    signed_on = build.built_on
    if build.signed_at is not None:
        signed_on = local_day(build.signed_at, build.site.time_zone)
    made = [PersonLine("Made and tested by", str(build.made_by), build.built_on)]
    signed = PersonLine("Signed by", str(build.signed_by), signed_on)
    return (*(made if build.made_by else []), signed)


def _made(piece: Certified) -> Iterator[MadeLine]:
    """The figures of the piece beside what its sheet asked."""
    build, sheet = piece.build, piece.sheet
    length = sheet.length
    within = tolerance(length.plus_mm, length.minus_mm)
    yield MadeLine("Cut length", _known(length.cut_length_mm), _known(build.cut_length_mm))
    yield MadeLine(
        f"Length, {length.basis.value}",
        f"{short_figure(length.length_mm)} {within} mm",
        _known(build.finished_length_mm),
    )
    if sheet.orientation.angle_deg is not None:
        turned = f"{build.angle_deg}°" if build.angle_deg is not None else "not written down"
        yield MadeLine("Angle between the ends", short_angle(sheet.orientation), turned)
    for line in sheet.ends:
        yield from _depths(line, piece.ends[line.label])
    yield MadeLine("Bore cleaned with", "", build.bore_cleaned_with or "not written down")
    cleanliness = f"; {build.cleanliness}" if build.cleanliness else ""
    flushed = f"{build.flushed_with or 'not written down'}{cleanliness}"
    yield MadeLine("Flushed with", sheet.cleanliness, flushed)
    yield MadeLine(
        "Shell stamped", " · ".join(sheet.stamp_lines[:1]), "yes" if build.stamped else "no"
    )


def _depths(line: EndLine, made: BuildEnd) -> Iterator[MadeLine]:
    if line.crimp is None:
        return
    yield MadeLine(
        f"Insertion {line.label}",
        _known(line.crimp.insertion_depth_mm),
        _known(made.insertion_depth_mm),
    )
    skived = {"none": "none", "length": _known(made.external_skive_mm)}
    yield MadeLine(
        f"Outside skive {line.label}",
        skive_words(line.crimp.external_skive),
        skived.get(made.external_skive, "not written down"),
    )


def _known(length_mm: Decimal | None) -> str:
    return "not written down" if length_mm is None else millimetres(length_mm)


def _doubts(build: BuildRecord) -> tuple[str, ...]:
    """What was doubtful when it was signed, as it was judged then."""
    return tuple(
        f"{line['what']}: {line['sentence']}"
        for line in build.judged
        if line["verdict"] == Verdict.DOUBTFUL
    )


def _amendments(build: BuildRecord) -> tuple[AmendmentLine, ...]:
    rows = build.amendments.select_related("made_by").order_by("made_at", "pk")
    return tuple(
        AmendmentLine(
            local_day(row.made_at, build.site.time_zone), str(row.made_by), row.text, row.reason
        )
        for row in rows
    )


def _alerts(piece: Certified, ends: tuple[CertifiedEnd, CertifiedEnd]) -> Iterator[str]:
    unmatched = [end.label for end in ends if not end.matched]
    if unmatched:
        yield (
            f"UNMATCHED at end {' and '.join(unmatched)}: no published chart names these parts "
            "together. Built on an approved trial recipe; shorter life, first inspection early."
        )
    about = About(hoses=frozenset([piece.build.assembly_id]))
    yield from (alarm.on_paper for alarm in alarms_about(about))
