"""Life rules ready made from the published age limits; a site chooses one and may edit its copy."""

from dataclasses import dataclass
from typing import Final

from assemblies.standards.tables import age_presets

_MONTHS_IN: Final = {"months": 1, "quarters": 3, "years": 12}
# A shelf limit from hose manufacture is the age up to which the hose may be built.
_COLUMN: Final = {
    ("reel_age_at_build", "hose_made"): "reel_age_months",
    ("storage", "hose_made"): "reel_age_months",
    ("storage", "built"): "storage_months",
    ("life", "hose_made"): "made_months",
    ("life", "built"): "built_months",
    ("life", "fitted"): "fitted_months",
    ("inspection", "inspected"): "inspect_months",
}


@dataclass(frozen=True)
class Preset:
    """A named set of limits in months, with the document and edition that it comes from."""

    code: str
    title: str
    source: str
    limits: dict[str, int]


def presets() -> tuple[Preset, ...]:
    """All presets in the order of the table.

    >>> [preset.limits["reel_age_months"] for preset in presets()]
    [48, 48, 120]
    """
    found: dict[str, Preset] = {}
    for row in age_presets():
        source = f"{row.source.document}, {row.source.edition}"
        preset = found.setdefault(row.preset, Preset(row.preset, row.title, source, {}))
        column = _COLUMN[row.limit, row.counts_from]
        preset.limits[column] = row.value * _MONTHS_IN[row.unit]
    return tuple(found.values())


def preset(code: str) -> Preset:
    """One preset by its code; KeyError names those there are."""
    found = {p.code: p for p in presets()}
    if code not in found:
        raise KeyError(f"There is no preset “{code}”: choose one of {', '.join(found)}.")
    return found[code]
