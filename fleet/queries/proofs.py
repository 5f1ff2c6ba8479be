"""Proofs: what must hold of the whole register, each shown from the rows themselves.

An app adds its own in its `queries/proofs.py`; `manage.py verify` runs them all.
"""

from collections.abc import Callable, Iterator
from typing import Any

from django.apps import apps
from django.db import connection
from django.db.models import F, Q

from fleet.calc.keys import text_key
from fleet.models import Machine, SiteSpell
from fleet.models.fields import TextKeyField
from fleet.models.seals import sealed_models

Proof = Callable[[], Iterator[str]]
proofs: dict[str, Proof] = {}
MOST_SHOWN = 20


def register_proof(name: str) -> Callable[[Proof], Proof]:
    """Register a function that yields a sentence for each thing that does not hold."""

    def registered(proof: Proof) -> Proof:
        proofs[name] = proof
        return proof

    return registered


def prove_all() -> Iterator[tuple[str, list[str]]]:
    """Each proof's name, with what does not hold by it: nothing, where all is well."""
    for name in sorted(proofs):
        yield name, list(proofs[name]())


@register_proof("the database file is whole")
def database_is_whole() -> Iterator[str]:
    """SQLite's own checks of the file, and every reference that leads nowhere."""
    if connection.vendor != "sqlite":
        return  # PostgreSQL holds references always, and checks its pages itself
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        yield from (line for (line,) in cursor.fetchall() if line != "ok")
        cursor.execute("PRAGMA foreign_key_check")
        for table, row, target, _ in cursor.fetchall():
            yield f"{table} row {row} names a row of {target} that is not there"


@register_proof("every seal is on")
def seals_are_on() -> Iterator[str]:
    """A restore by other tools, or a hand in the database, may have lost a trigger."""
    source = "sqlite_master WHERE type = 'trigger'"
    column = "name"
    if connection.vendor == "postgresql":
        source, column = "pg_trigger WHERE NOT tgisinternal AND tgenabled = 'O'", "tgname"
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {column} FROM {source}")
        there = {name for (name,) in cursor.fetchall()}
    for model in sealed_models():
        for verb in ("update", "delete"):
            name = f"{model._meta.db_table}_sealed_{verb}"
            if name not in there:
                yield f"the trigger {name} is missing: run manage.py migrate"


@register_proof("every key is that of its text")
def keys_are_of_their_texts() -> Iterator[str]:
    for label in ("fleet", "assemblies", "scheduling"):
        for model in apps.get_app_config(label).get_models():
            for field in model._meta.local_fields:
                if isinstance(field, TextKeyField):
                    yield from _wrong_keys(model, field)


def _wrong_keys(model: Any, field: TextKeyField) -> Iterator[str]:
    rows = model._base_manager.values_list("pk", field.source, field.attname)
    for pk, text, key in rows.iterator():
        if key != text_key(text or ""):
            yield f"{model._meta.verbose_name} {pk}: “{text}” is kept under “{key}”"


@register_proof("every machine is at the site of its open spell")
def machines_are_at_their_sites() -> Iterator[str]:
    elsewhere = SiteSpell.objects.filter(to_on=None).exclude(site_id=F("machine__site_id"))
    for spell in elsewhere.select_related("machine", "site"):
        yield f"machine {spell.machine} is at another site than its open spell, {spell.site}"
    at_none = Machine.objects.exclude(site_spells__to_on=None, site_spells__isnull=False)
    for machine in at_none.filter(Q(withdrawn_at=None) & ~Q(status="sold")):
        yield f"machine {machine} has no open spell at a site"
