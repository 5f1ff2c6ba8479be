"""Reading a database's plan for a statement: which of the big tables would it read through?"""

import json
import re
from collections.abc import Iterator, Sequence
from typing import Any

from django.db import connection

# Tables that grow with the fleet. Sites, classes, rules and people are few.
BIG = {
    "assemblies_assembly",
    "assemblies_position",
    "assemblies_stay",
    "assemblies_tag",
    "fleet_machine",
    "fleet_hourmeter",
    "fleet_hourreading",
    "fleet_usage",
    "scheduling_due",
    "scheduling_finding",
    "scheduling_inspection",
    "scheduling_failure",
}
MANY = 400  # a sort of more rows than a page and its joins can have
_WHOLE_WAYS = ("seqscan", "bitmapscan", "hashjoin", "mergejoin", "material", "memoize")
_STOPPERS = {"Sort", "Aggregate", "Hash", "HashAggregate", "Materialize"}


def faults_of(sql: str, params: Sequence[Any]) -> list[str]:
    """What a plan would read through or sort whole; nothing where an index serves it."""
    return list((_postgresql if connection.vendor == "postgresql" else _sqlite)(sql, params))


def _sqlite(sql: str, params: Sequence[Any]) -> Iterator[str]:
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
        steps = [(row[0], row[1], row[3]) for row in cursor.fetchall()]
    sorts = {parent for _, parent, step in steps if step == "USE TEMP B-TREE FOR ORDER BY"}
    big = _aliases(sql)
    for _, parent, step in steps:
        words = step.split()
        if words[0] != "SCAN" or not big.get(words[1]):
            continue
        if "USING" not in words:
            yield f"reads all of {words[1]}: {step}"
        elif parent in sorts:
            yield f"walks all of {words[1]} and sorts it: {step}"
        elif not _walks_may_stop(sql):
            yield f"walks all of {words[1]}, whatever it is narrowed by: {step}"


def _walks_may_stop(sql: str) -> bool:
    """Whether a walk in the order of the list ends with the page: it does where nothing that is
    asked for by its own key can be found later."""
    return " LIMIT " in sql and " = %s" not in sql.partition(" WHERE ")[2]


def _aliases(sql: str) -> dict[str, bool]:
    """Whether a name in a plan is that of a big table. A short name may stand for several: then
    only if all of them are."""
    big = dict.fromkeys(BIG, True)
    for table, alias in re.findall(r'"(\w+)" ([A-Z]\d+)', sql):
        big[alias] = big.get(alias, True) and table in BIG
    return big


def _postgresql(sql: str, params: Sequence[Any]) -> Iterator[str]:
    with connection.cursor() as cursor:
        # So few rows are read through sooner than by an index: what is asked is whether one could.
        # A page's rows should come in order; what a machine carries may be sorted.
        ways = [*_WHOLE_WAYS, "sort"] if " LIMIT " in sql else _WHOLE_WAYS
        cursor.execute("".join(f"SET LOCAL enable_{way} = off;" for way in ways))
        cursor.execute(f"EXPLAIN (FORMAT JSON) {sql}", params)
        told = cursor.fetchone()[0]
        cursor.execute("".join(f"SET LOCAL enable_{way} = on;" for way in ways))
    plan = json.loads(told) if isinstance(told, str) else told
    yield from _node(plan[0]["Plan"], stops=False)


def _node(node: dict[str, Any], *, stops: bool) -> Iterator[str]:
    """`stops`: whether a limit above ends the reading before the table's end."""
    kind, table = node["Node Type"], node.get("Relation Name", "")
    if table in BIG and kind == "Seq Scan":
        yield f"reads all of {table}"
    if table in BIG and kind.startswith("Index") and "Index Cond" not in node and not stops:
        yield f"walks all of {node.get('Index Name')}"
    if kind == "Sort" and node["Plan Rows"] > MANY:
        yield f"sorts {node['Plan Rows']} rows by {node.get('Sort Key')}"
    below = (stops or kind == "Limit") and kind not in _STOPPERS
    for child in node.get("Plans", ()):
        yield from _node(child, stops=below)
