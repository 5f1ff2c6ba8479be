"""The phrases of a test certificate, the same on the paper and on the page."""

from datetime import date

from assemblies.calc.certificate import (
    AmendmentLine,
    CertificateContent,
    CertifiedEnd,
    ProofLine,
    ToolLine,
)
from assemblies.calc.sheet import CHECK_YOUR_COPY
from assemblies.calc.sheet_words import bars, figure

_NO_CALIBRATION = "no calibration written down"
SCOPE = (
    "This paper says what was built, measured and tested on the days named. It says nothing of "
    "the routing, the machine, or the hose after it was fitted; look it over before use. A copy "
    "counts where its number and checksum agree with the register."
)


def tool_words(tool: ToolLine | None, on: date) -> str:
    """A tool with its calibration, seen from the day of the work.

    A calibration made after that day proves nothing of it, and is said so.

    >>> gauge = ToolLine("M 1", "gauge 0 to 600 bar", date(2026, 1, 7), date(2027, 1, 7))
    >>> tool_words(gauge, date(2026, 3, 9))
    'M 1, gauge 0 to 600 bar, calibrated 2026-01-07, due 2027-01-07'
    >>> tool_words(gauge, date(2025, 3, 9))
    'M 1, gauge 0 to 600 bar, calibrated 2026-01-07, AFTER this work, due 2027-01-07'
    """
    if tool is None:
        return "not written down"
    named = f"{tool.code}, {tool.description}" if tool.description else tool.code
    if tool.calibrated_on is None and tool.due_on is None:
        return f"{named}, {_NO_CALIBRATION}"
    late = tool.calibrated_on is not None and tool.calibrated_on > on
    after = ", AFTER this work" if late else ""
    since = f", calibrated {tool.calibrated_on.isoformat()}" if tool.calibrated_on else ""
    due = f", due {tool.due_on.isoformat()}" if tool.due_on else ""
    return f"{named}{since}{after}{due}"


def basis_words(end: CertifiedEnd) -> str:
    """How the crimp's figures came to be; unmatched parts are said plainly."""
    if end.matched:
        return f"published: {end.basis_words}"
    return (
        f"UNMATCHED: no published chart names these parts together; crimped by trial: "
        f"{end.basis_words}"
    )


def asked_words(end: CertifiedEnd) -> str:
    """The crimp OD (mm) that passes, from and to, and the ovality."""
    span = f"{figure(end.asked_from_mm)} … {figure(end.asked_to_mm)} mm"
    return f"{span}, ovality at most {figure(end.ovality_limit_mm)} mm"


def mean_words(end: CertifiedEnd) -> str:
    """Mean and ovality of the readings, mm."""
    closed = ", closed to size once" if end.closed_again else ""
    return f"Ø {figure(end.mean_mm)} mm, ovality {figure(end.ovality_mm)} mm{closed}"


def readings_words(end: CertifiedEnd) -> str:
    """All readings in mm, in the order they were taken."""
    return "  ".join(figure(reading) for reading in end.readings_mm)


def held_words(proof: ProofLine) -> str:
    """What was held, how long, and what was asked (bar, s)."""
    asked = f"asked {bars(proof.asked_bar)} or more"
    return f"{bars(proof.held_bar)} held {proof.hold_s}\u00a0s, {asked}: no leak, PASSED"


def amendment_words(line: AmendmentLine) -> str:
    """One amendment: day, person, what and why."""
    return f"{line.on.isoformat()}, {line.by}: {line.text} Reason: {line.reason}"


def standard_lines(content: CertificateContent) -> tuple[str, ...]:
    """The documents named, each to be checked by the reader."""
    return tuple(f"{document}: {CHECK_YOUR_COPY}" for document in content.standards)
