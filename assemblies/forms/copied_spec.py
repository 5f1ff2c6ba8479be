"""What a spec's form begins with when an old hose was measured for it."""

from typing import Any

from assemblies.models import SpecCopy
from assemblies.queries.copies import CopyPage, Item


def spec_start(page: CopyPage) -> dict[str, Any]:
    """What was measured; an item only where just one in the catalogue fits."""
    measured = page.measured
    if measured is None:
        return {"title": page.copy.title}
    begun: dict[str, Any] = {
        "title": page.copy.title,
        "length_mm": measured.length_mm,
        "length_basis": measured.length_basis,
        "orientation_deg": measured.orientation_deg,
        "hose": _only(page.hoses),
        "note": _note(page.copy, page.open)[:2000],
    }
    for match in page.ends:
        begun[f"end_{match.end.which.lower()}_fitting"] = _only(match.fittings)
    for number, sleeve in enumerate(measured.sleeves, 1):
        begun[f"sleeve_{number}"] = sleeve.kind
        begun[f"sleeve_{number}_from"] = sleeve.from_mm
        begun[f"sleeve_{number}_to"] = sleeve.to_mm
    return begun


def _only(items: tuple[Item, ...]) -> str:
    return items[0].code if len(items) == 1 else ""


def _note(copy: SpecCopy, left_open: tuple[str, ...]) -> str:
    said = f"Measured on the old hose by {copy.measured_by}."
    return f"{said} Left open then: {' '.join(left_open)}" if left_open else said
