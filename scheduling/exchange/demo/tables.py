"""The demo's hand-written tables (fixtures/demo), read into typed rows."""

import csv
import re
from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, fields, replace
from decimal import Decimal
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any, ClassVar, Final, Protocol, TypeVar

from django.conf import settings

from scheduling.calc.presets import preset


class _Table(Protocol):
    """What every table's row class is: a dataclass."""

    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]


Row = TypeVar("Row", bound=_Table)
_CHOICES: Final = re.compile(r"\{([^}]*)\}")


@dataclass(frozen=True)
class SiteRow:
    code: str
    name: str
    time_zone: str
    assembler_mark: str
    approves_alone: bool
    proof_test: str
    proof_test_one_in: int


@dataclass(frozen=True)
class PersonRow:
    username: str
    name: str
    role: str
    sites: tuple[str, ...]
    competent_person: bool
    password: str


@dataclass(frozen=True)
class ClassRow:
    name: str
    hours_per_day: Decimal
    down_cost_per_hour: Decimal


@dataclass(frozen=True)
class MachineRow:
    fleet_number: str
    site: str
    machine_class: str
    layout: str
    kind: str
    maker: str
    model: str
    serial_number: str
    built_months_ago: int
    joined_months_ago: int
    first_h: Decimal
    hours_per_shift: Decimal
    readings: str
    counter: str
    story: str


@dataclass(frozen=True)
class MountRow:
    part: str
    carrier: str
    from_days_ago: int
    to_days_ago: int | None
    uses_carrier_hours: bool


@dataclass(frozen=True)
class LayoutRow:
    layout: str
    place: str
    count: int
    duty: str
    hose: str
    ends: str
    length_mm: int
    angle_deg: int | None
    flow_l_per_min: int
    exposure: str
    guard: str
    group: str
    lifting: str

    @property
    def places(self) -> list[str]:
        """The places of the row: `{left|right} cylinder` are two."""
        parts = _CHOICES.split(self.place)
        options = [part.split("|") if i % 2 else [part] for i, part in enumerate(parts)]
        return ["".join(choice) for choice in product(*options)]


@dataclass(frozen=True)
class DutyRow:
    code: str
    circuit: str
    pressure_bar: Decimal
    surge_bar: Decimal
    oil_c: int
    ambient_c: int
    fluid: str
    consequence: str


@dataclass(frozen=True)
class HoseRow:
    code: str
    maker: str
    product: str
    type: str
    dn: int
    pressure_bar: Decimal
    rating_source: str
    low_c: int
    high_c: int
    bend_radius_mm: Decimal
    tube: str
    reinforcement: str
    layers: int
    bore_mm: Decimal
    outside_mm: Decimal
    reinforcement_mm: Decimal
    chart: str


@dataclass(frozen=True)
class ConnectionRow:
    connection: str
    name: str
    standard: str
    dn: int
    size: str
    port: str
    rating_bar: Decimal
    rating_source: str
    torque_nm: Decimal
    small_parts: str
    turns: str


@dataclass(frozen=True)
class TailRow:
    dn: int
    tail_od_mm: Decimal
    tail_bore_mm: Decimal
    nose_bore_mm: Decimal
    straight_mm: Decimal
    elbow45_mm: Decimal
    elbow90_mm: Decimal
    drop45_mm: Decimal
    drop90_mm: Decimal


@dataclass(frozen=True)
class ShellRow:
    kind: str
    dn: int
    layers: int
    outside_mm: Decimal
    inside_mm: Decimal
    length_mm: Decimal
    depth_mm: Decimal


@dataclass(frozen=True)
class ChartRow:
    chart: str
    fitting_series: str
    shell_kind: str
    source: str
    compression: float
    external_skive: str
    internal_skive_mm: Decimal | None


@dataclass(frozen=True)
class RuleRow:
    name: str
    preset: str
    site: str
    machine_class: str
    circuit: str
    hose_type: str
    consequence: str
    exposure: str
    made_months: int | None
    built_months: int | None
    fitted_months: int | None
    storage_months: int | None
    reel_age_months: int | None
    hours_fitting: Decimal | None
    hours_total: Decimal | None
    inspect_months: int | None
    inspect_hours: Decimal | None
    proposed_by: str
    approved_by: str
    source: str


@dataclass(frozen=True)
class FindingRow:
    what: str
    verdict: str
    weight: int
    days: int | None
    exposures: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class FailureRow:
    circuits: tuple[str, ...]
    exposures: tuple[str, ...]
    mode: str
    cause: str
    seen_as: str
    weight: int
    oil_low_l: Decimal
    oil_high_l: Decimal
    down_low_h: int
    down_high_h: int
    note: str


@dataclass(frozen=True)
class DoubtRow:
    machine: str
    days_ago: int
    added_h: Decimal
    zone_known: bool
    outcome: str
    reason: str


@dataclass(frozen=True)
class FaultRow:
    """One planted fault; what `figure` and `how` mean, its story says."""

    kind: str
    site: str
    machine: str
    place: str
    place_no: int | None
    mark: str
    days_ago: int | None
    figure: Decimal | None
    how: str
    story: str


@dataclass(frozen=True)
class HappeningRow:
    kind: str
    machine: str
    place: str
    place_no: int | None
    days_ago: int
    until_days: int | None
    person: str
    text: str
    limits: str
    triggers: tuple[str, ...]


@dataclass(frozen=True)
class Tables:
    """All of them."""

    sites: tuple[SiteRow, ...]
    people: tuple[PersonRow, ...]
    classes: tuple[ClassRow, ...]
    machines: tuple[MachineRow, ...]
    mounts: tuple[MountRow, ...]
    layouts: tuple[LayoutRow, ...]
    duties: Mapping[str, DutyRow]
    hoses: Mapping[str, HoseRow]
    connections: Mapping[tuple[str, int], ConnectionRow]
    tails: Mapping[int, TailRow]
    shells: tuple[ShellRow, ...]
    charts: tuple[ChartRow, ...]
    rules: tuple[RuleRow, ...]
    findings: tuple[FindingRow, ...]
    failures: tuple[FailureRow, ...]
    doubtful: tuple[DoubtRow, ...]
    faults: tuple[FaultRow, ...]
    happenings: tuple[HappeningRow, ...]


@cache
def tables() -> Tables:
    """The demo's tables, read once."""
    return Tables(
        sites=read("sites", SiteRow),
        people=read("people", PersonRow),
        classes=read("classes", ClassRow),
        machines=read("machines", MachineRow),
        mounts=read("mounts", MountRow),
        layouts=read("layouts", LayoutRow),
        duties={row.code: row for row in read("duties", DutyRow)},
        hoses={row.code: row for row in read("hoses", HoseRow)},
        connections={(r.connection, r.dn): r for r in read("connections", ConnectionRow)},
        tails={row.dn: row for row in read("tails", TailRow)},
        shells=read("shells", ShellRow),
        charts=read("charts", ChartRow),
        rules=tuple(_with_preset(row) for row in read("rules", RuleRow)),
        findings=read("findings", FindingRow),
        failures=read("failures", FailureRow),
        doubtful=read("doubtful", DoubtRow),
        faults=read("planted_faults", FaultRow),
        happenings=read("happenings", HappeningRow),
    )


def folder() -> Path:
    return Path(settings.BASE_DIR) / "fixtures" / "demo"


def read(name: str, kind: type[Row]) -> tuple[Row, ...]:
    """The rows of one table; a cell that does not fit its column is named."""
    path = folder() / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        lines = list(csv.DictReader(file))
    return tuple(_row(f"{path.name} line {n}", line, kind) for n, line in enumerate(lines, start=2))


def _with_preset(row: RuleRow) -> RuleRow:
    """A rule that starts from a preset has its limits and its source."""
    if not row.preset:
        return row
    chosen = preset(row.preset)
    source = f"{chosen.title} ({chosen.source}): check against your copy and the maker's data"
    limits: dict[str, Any] = dict(chosen.limits)
    return replace(row, source=source, **limits)


def _row(place: str, line: dict[str, str], kind: type[Row]) -> Row:
    wanted = [field.name for field in fields(kind)]
    if list(line) != wanted or None in line.values():
        raise ValueError(f"{place}: the columns should be {', '.join(wanted)}.")
    values = {f.name: _value(place, f, line[f.name].strip()) for f in fields(kind)}
    return kind(**values)


def _value(place: str, field: Field[Any], text: str) -> Any:
    try:
        return _READERS[field.type](text)
    except (ValueError, ArithmeticError) as error:
        raise ValueError(f"{place}: {field.name} can't be “{text}”.") from error


def _yes(text: str) -> bool:
    return {"yes": True, "no": False}[text] if text in ("yes", "no") else _refuse(text)


def _refuse(text: str) -> bool:
    raise ValueError(text)


_READERS: Final[Mapping[Any, Callable[[str], Any]]] = {
    str: str,
    int: int,
    float: float,
    bool: _yes,
    Decimal: Decimal,
    int | None: lambda text: int(text) if text else None,
    Decimal | None: lambda text: Decimal(text) if text else None,
    tuple[str, ...]: lambda text: tuple(text.split()),
}
