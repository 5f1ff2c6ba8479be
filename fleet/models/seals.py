"""Seals: triggers by which the database itself refuses to change what was signed or used.

Every model with a `seal` gets its triggers after each migration, because SQLite drops the
triggers of a table that a migration rebuilds. Nothing sealed can be deleted.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import connections, models


@dataclass(frozen=True)
class Seal:
    """When a row is closed, and which of its columns may still change then.

    `when` is SQL over the old row (`OLD.column`); empty means always. `insert_when` is SQL over
    a new row (`NEW.column`) under which none may be added; empty means any may. A closed row
    is never deleted; `delete_when` narrows that, empty means no row ever is.
    """

    when: str = ""
    may_change: frozenset[str] = frozenset()
    insert_when: str = ""
    delete_when: str = ""


def sealed_models(app_label: str | None = None) -> list[type[models.Model]]:
    found = apps.get_app_config(app_label).get_models() if app_label else apps.get_models()
    return [model for model in found if isinstance(getattr(model, "seal", None), Seal)]


def install_seals(*, using: str, app_label: str | None = None) -> None:
    """Write the triggers of every sealed model; safe to repeat."""
    remove_seals(using=using, app_label=app_label)
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    for model in sealed_models(app_label):
        if model._meta.db_table in tables:
            _run(connection, _statements(connection.vendor, model))


def remove_seals(*, using: str, app_label: str | None = None) -> None:
    """Take the triggers away (a test's clean-up and a restore need it, nobody else)."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    for model in sealed_models(app_label):
        table = model._meta.db_table
        if table in tables:
            _run(connection, [_drop(connection.vendor, table, verb) for verb in _VERBS])


_VERBS = ("insert", "update", "delete")


def _run(connection: Any, statements: Iterable[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _drop(vendor: str, table: str, verb: str) -> str:
    on = f" ON {table}" if vendor == "postgresql" else ""
    return f"DROP TRIGGER IF EXISTS {table}_sealed_{verb}{on}"


def _statements(vendor: str, model: type[models.Model]) -> list[str]:
    table = model._meta.db_table
    make = _postgresql if vendor == "postgresql" else _sqlite
    refusals = _refusals(model, "IS DISTINCT FROM" if vendor == "postgresql" else "IS NOT")
    return [text for verb, when in refusals for text in make(table, verb, when)]


def _refusals(model: type[models.Model], differs: str) -> list[tuple[str, str]]:
    """Each verb with the SQL condition under which it is refused."""
    seal: Seal = model.seal  # type: ignore[attr-defined]  # sealed_models chose it for having one
    columns = [field.column for field in model._meta.local_concrete_fields]
    fixed = [column for column in columns if column not in seal.may_change]
    changed = " OR ".join(f'OLD."{column}" {differs} NEW."{column}"' for column in fixed)
    refused = [
        ("update", f"({seal.when or '1=1'}) AND ({changed})"),
        ("delete", seal.delete_when or "1=1"),
    ]
    return [*refused, ("insert", seal.insert_when)] if seal.insert_when else refused


def _sqlite(table: str, verb: str, when: str) -> list[str]:
    return [
        f"CREATE TRIGGER {table}_sealed_{verb} BEFORE {verb.upper()} ON {table} "
        f"WHEN {when} BEGIN SELECT RAISE(ABORT, '{table}: sealed'); END"
    ]


def _postgresql(table: str, verb: str, when: str) -> list[str]:
    # The condition stands in the function: a trigger's WHEN may not look into other tables.
    name = f"{table}_sealed_{verb}"
    row = "OLD" if verb == "delete" else "NEW"
    return [
        f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF {when} THEN RAISE EXCEPTION '{table}: sealed' "
        f"USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN {row}; END $$",
        f"CREATE TRIGGER {name} BEFORE {verb.upper()} ON {table} FOR EACH ROW "
        f"EXECUTE FUNCTION {name}()",
    ]
