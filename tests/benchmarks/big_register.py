"""A register of any size, filled by the database itself: for benchmarks, not for looking at."""

from typing import Any

from django.db import connection, models

from assemblies.calc.tags import BODY_ALPHABET, NO_CHECK, check_character
from assemblies.models import Assembly, Position, Stay, Tag
from fleet.models import (
    HourMeter,
    HourReading,
    Machine,
    MachineClass,
    Person,
    Site,
    SiteSpell,
    Usage,
)
from fleet.models.fields import DayField, ScaledField
from scheduling.models import Failure, Finding, Inspection, LifeRule, LifeRuleRevision

HOSES_A_MACHINE = 40
READINGS_A_MACHINE = 10
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
    _machines(machines)
    _rows(Position, hoses, _position())
    _tags(hoses)
    _rows(Assembly, hoses, _assembly())
    _rows(Stay, hoses, _stay(hoses))
    _looks(hoses)
    _rules()
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE bench_tags")
        cursor.execute("ANALYZE")


def _machines(machines: int) -> None:
    """Machines, each with a meter, what was read off it, and how fast it runs."""
    site = f"1 + i % {SITES}"
    number = {"fleet_number": "'M-' || i", "number_key": "'m-' || i", "maker": "'Maker ' || i % 9"}
    _rows(Machine, machines, {**number, "site_id": site, "machine_class_id": "1 + i % 8"})
    _rows(SiteSpell, machines, {"machine_id": "i", "site_id": site, "from_on": str(TODAY - 3000)})
    _rows(HourMeter, machines, {"machine_id": "i"})
    rate = f"2000 + {_dice(9)} % 12000"
    usage = {"rate_h_per_day": rate, "low_h_per_day": f"({rate}) / 2", "machine_id": "i"}
    usage |= {"high_h_per_day": f"({rate}) + 3000", "machine_h": f"20000 + {_dice(5)} % 300000"}
    _rows(Usage, machines, {**usage, "as_of_on": f"{TODAY} - i % 30", "basis": "'measured'"})
    owner, back = f"(1 + (i - 1) / {READINGS_A_MACHINE})", f"((i - 1) % {READINGS_A_MACHINE}) * 20"
    shown = f"20000 + {_dice(5, owner)} % 300000 - {back} * 60"
    reading = {"meter_id": owner, "site_id": f"1 + {owner} % {SITES}", "reading_h": shown}
    reading |= {"machine_h": shown, "read_on": f"{TODAY} - {owner} % 30 - {back}"}
    doubt = "CASE WHEN i % 997 = 0 THEN 'runs back' ELSE '' END"
    _rows(HourReading, machines * READINGS_A_MACHINE, {**reading, "doubt": doubt})


def _looks(hoses: int) -> None:
    """Inspections of every second hose, findings, failures."""
    seen = f"{TODAY} - {_dice(3)} % 400"
    _rows(Inspection, hoses // 2, {"assembly_id": "i * 2", "inspected_on": seen, "site_id": "1"})
    found = {"verdict": "'recheck'", "by_on": f"{TODAY} + {_dice(2)} % 90"}
    found |= {"assembly_id": "i * 100", "found_on": str(TODAY), "site_id": "1", "what": "'wear'"}
    _rows(Finding, hoses // 100, found)
    failed = {"assembly_id": "i * 200", "site_id": f"1 + i % {SITES}", "mode": "'burst'"}
    failed |= {"machine_id": "NULL", "failed_on": f"{TODAY} - {_dice(11)} % 900"}
    _rows(Failure, hoses // 200, failed)


def _tags(hoses: int) -> None:
    """A tag for each hose, and a table that tells which."""
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE bench_tags (n bigint PRIMARY KEY, code varchar(8))")
        mark = ", ".join(["(%s, %s)"] * 500)
        told: list[int | str] = []
        for n in range(1, hoses + 1):
            told += (n, _tag(n))
            if len(told) == 1000:
                cursor.execute(f"INSERT INTO bench_tags VALUES {mark}", told)
                told.clear()
        if told:
            mark = ", ".join(["(%s, %s)"] * (len(told) // 2))
            cursor.execute(f"INSERT INTO bench_tags VALUES {mark}", told)
        cursor.execute(
            f"INSERT INTO {Tag._meta.db_table} (code) SELECT code FROM bench_tags ORDER BY code"
        )


def _tag(number: int) -> str:
    """The tag of a hose: scattered over the alphabet, the same each time."""
    while True:
        left = number * 2_654_435_761 % 33**7
        body = "".join(BODY_ALPHABET[left // 33**place % 33] for place in range(7))
        if (check := check_character(body)) not in NO_CHECK:
            return body + check
        number += 10**8


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
        "tag_id": "CASE WHEN i % 25 = 0 THEN NULL"
        " ELSE (SELECT code FROM bench_tags WHERE n = i) END",
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


def _dice(salt: int, of: str = "i") -> str:
    """A number for each row that looks random and is the same on both databases."""
    return f"(({of} * 2654435761 + {salt} * 40503) % 1000003)"


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
