"""A register of any size, filled by the database itself: for benchmarks, not for looking at."""

from typing import Any

from django.db import connection, models

from assemblies.models import Assembly, Position, Stay
from fleet.models import HourMeter, Machine, MachineClass, Person, Site, Usage
from fleet.models.fields import DayField, ScaledField
from scheduling.models import Finding, Inspection, LifeRule, LifeRuleRevision

HOSES_A_MACHINE = 40
SITES = 20
TODAY = 20_521  # 2026-03-09
MOMENT = "2026-03-09 08:00:00+00:00"
_RULES: tuple[dict[str, Any], ...] = (
    {"built_months": 72, "storage_months": 24, "reel_age_months": 48, "inspect_months": 12},
    {"fitted_months": 24, "inspect_months": 6, "machine_class_id": 1},
    {"inspect_months": 6, "consequence": "hurts"},
    {"hours_fitting": 50_000, "circuit": "working"},
    {"hours_fitting": 30_000, "circuit": "travel", "exposure": "rocks"},
    {"inspect_hours": 20_000, "site_id": 3},
)


def fill(hoses: int) -> None:
    """A register with so many hoses, all fitted but one in twenty, on hoses / 40 machines."""
    machines = max(hoses // HOSES_A_MACHINE, 1)
    _rows(Person, 1, {"username": "'bench'"})
    _rows(Site, SITES, {"code": "'S' || i", "code_key": "'s' || i", "name": "'Site ' || i"})
    named = {
        "name": "'Class ' || i",
        "name_key": "'class ' || i",
        "hours_per_day": "4000 + i * 500",
    }
    _rows(MachineClass, 8, named)
    number = {"fleet_number": "'M-' || i", "number_key": "'m-' || i"}
    site = f"1 + i % {SITES}"
    _rows(Machine, machines, {**number, "site_id": site, "machine_class_id": "1 + i % 8"})
    _rows(HourMeter, machines, {"machine_id": "i"})
    rate = f"2000 + {_dice(9)} % 12000"
    usage = {"rate_h_per_day": rate, "low_h_per_day": f"({rate}) / 2", "machine_id": "i"}
    usage |= {"high_h_per_day": f"({rate}) + 3000", "machine_h": f"20000 + {_dice(5)} % 300000"}
    _rows(Usage, machines, {**usage, "as_of_on": f"{TODAY} - i % 30", "basis": "'measured'"})
    _rows(Position, hoses, _position())
    _rows(Assembly, hoses, _assembly())
    _rows(Stay, hoses, _stay(hoses))
    _rows(
        Inspection,
        hoses // 2,
        {"assembly_id": "i * 2", "inspected_on": f"{TODAY} - {_dice(3)} % 400", "site_id": "1"},
    )
    found = {
        "assembly_id": "i * 100",
        "verdict": "'recheck'",
        "by_on": f"{TODAY} + {_dice(2)} % 90",
    }
    _rows(
        Finding, hoses // 100, {**found, "found_on": str(TODAY), "site_id": "1", "what": "'wear'"}
    )
    _rules()
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _position() -> dict[str, str]:
    circuits = _choice(4, Position.Circuit.values)
    return {
        "machine_id": f"1 + (i - 1) / {HOSES_A_MACHINE}",
        "place": "'Place ' || i",
        "place_key": "'place ' || i",
        "circuit": circuits,
        "consequence": _choice(6, Position.Consequence.values),
        "exposure": _choice(7, Position.Exposure.values),
    }


def _assembly() -> dict[str, str]:
    built = f"{TODAY} - {_dice(1)} % 2600"
    return {
        "site_id": f"1 + (1 + (i - 1) / {HOSES_A_MACHINE}) % {SITES}",
        "known_from_on": str(TODAY - 300),
        "hose_type": _choice(8, ["1SN", "2SN", "4SP", "4SH"]),
        "built_earliest_on": f"CASE WHEN i % 17 = 0 THEN NULL ELSE {built} END",
        "built_latest_on": f"CASE WHEN i % 17 = 0 THEN NULL ELSE {built} + (i % 3) * 15 END",
        "made_earliest_on": f"CASE WHEN i % 13 = 0 THEN NULL ELSE {built} - 400 END",
        "made_latest_on": f"CASE WHEN i % 13 = 0 THEN NULL ELSE {built} - 310 END",
        "owner_mark": "'K' || i",
        "owner_mark_key": "'k' || i",
    }


def _stay(hoses: int) -> dict[str, str]:
    fitted = f"{TODAY} - {_dice(1)} % 2000"
    held = "i % 20 <> 0"
    return {
        "assembly_id": "i",
        "site_id": f"1 + (1 + (i - 1) / {HOSES_A_MACHINE}) % {SITES}",
        "place": f"CASE WHEN {held} THEN 'position' ELSE 'store' END",
        "position_id": f"CASE WHEN {held} THEN i ELSE NULL END",
        "from_earliest_on": f"CASE WHEN i % 11 = 0 THEN NULL ELSE {fitted} END",
        "from_latest_on": f"CASE WHEN i % 11 = 0 THEN NULL ELSE {fitted} END",
        "from_machine_h": f"CASE WHEN i % 7 = 0 THEN NULL ELSE {_dice(5)} % 20000 END",
        "is_open": "TRUE",
    }


def _rules() -> None:
    for number, facts in enumerate(_RULES, 1):
        _rows(LifeRule, 1, {"id": str(number), "name": f"'Rule {number}'"})
        row = {name: repr(value) for name, value in facts.items()}
        row |= {"id": str(number), "header_id": str(number), "state": "'approved'"}
        row |= {"approved_by_id": "1", "approved_at": f"'{MOMENT}'", "source": "'bench'"}
        _rows(LifeRuleRevision, 1, row)


def _dice(salt: int) -> str:
    """A number for each row that looks random and is the same on both databases."""
    return f"((i * 2654435761 + {salt} * 40503) % 1000003)"


def _choice(salt: int, texts: list[str]) -> str:
    whens = " ".join(f"WHEN {n} THEN '{text}'" for n, text in enumerate(texts))
    return f"CASE {_dice(salt)} % {len(texts)} {whens} END"


def _rows(model: type[models.Model], number: int, columns: dict[str, str]) -> None:
    """INSERT so many rows; `columns` are SQL over the row's number i, the rest are defaults."""
    fields = {str(field.column): field for field in model._meta.local_concrete_fields}
    given = {name: columns.get(name, _usual(field)) for name, field in fields.items()}
    names = ", ".join(f'"{name}"' for name in given)
    values = ", ".join(f"({text})" for text in given.values())
    if connection.vendor == "postgresql":
        series = f"SELECT {values} FROM generate_series(1::bigint, {number}) AS s(i)"
    else:
        limit = f"SELECT 1 UNION ALL SELECT i + 1 FROM s WHERE i < {number}"
        series = f"WITH RECURSIVE s(i) AS ({limit}) SELECT {values} FROM s"
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO {model._meta.db_table} ({names}) {series}")
        if connection.vendor == "postgresql" and "id" in given:
            sequence = f"pg_get_serial_sequence('{model._meta.db_table}', 'id')"
            cursor.execute(
                f"SELECT setval({sequence}, (SELECT max(id) FROM {model._meta.db_table}))"
            )


def _usual(field: Any) -> str:
    """What a column holds where the benchmark says nothing of it."""
    if field.primary_key:
        return "i"
    if field.null:
        return "NULL"
    if isinstance(field, models.BooleanField):
        return "TRUE" if field.has_default() and field.default else "FALSE"
    if isinstance(field, models.DateTimeField):
        return f"'{MOMENT}'"
    if isinstance(field, DayField):
        return str(TODAY)
    if isinstance(field, ScaledField):
        return str(int(field.get_prep_value(field.default) or 0) if field.has_default() else 0)
    if isinstance(field, models.CharField | models.TextField):
        return f"'{field.default}'" if field.has_default() else "''"
    if isinstance(field, models.JSONField):
        return "'[]'"
    return str(field.default) if field.has_default() else "1"
