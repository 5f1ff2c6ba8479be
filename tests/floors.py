"""The floors of the house, and the import contracts that follow from them.

`python -m tests.floors` prints the contracts for pyproject.toml; a test holds the two together.
"""

APPS = ("fleet", "assemblies", "scheduling")

# From the top: who starts things, entrances, shapes for others, writes, reads, gates, tables,
# drawing, computation, cited tables.
FLOORS: tuple[tuple[str, ...], ...] = (
    ("receivers", "management", "urls", "api_urls"),
    ("views", "api", "tasks"),
    ("exchange", "reports", "telematics", "forms"),
    ("actions",),
    ("queries",),
    ("permissions", "audit"),
    ("models", "signals"),
    ("pdf",),
    ("calc",),
    ("standards", "tabular"),
)
PLAIN = ("pdf", "calc", "standards", "tabular")
FRAMEWORKS = ("django", "rest_framework", "celery", "kombu", "redis", "environ", "drf_spectacular")
# Beside the floors: Django's own places, each of which Django or a page calls.
BESIDE = (
    *("apps", "config", "migrations", "navigation"),
    *("static", "templates", "templatetags", "jinja2", "quick_parts"),
)


def contracts() -> list[dict[str, object]]:
    """Every contract, as pyproject.toml holds it."""
    return [_across_apps(), _inside_apps(), *_across_floors(), _plain_python(), _wiring()]


def _across_apps() -> dict[str, object]:
    return {
        "name": "The apps stand on one another: fleet, assemblies, scheduling",
        "type": "layers",
        "layers": list(reversed(APPS)),
    }


def _inside_apps() -> dict[str, object]:
    return {
        "name": "Inside each app imports point down",
        "type": "layers",
        "containers": list(APPS),
        "layers": [" | ".join(f"({room})" for room in floor) for floor in FLOORS],
    }


def _across_floors() -> list[dict[str, object]]:
    """A floor of any app reaches no higher floor of any app."""
    return [
        {
            "name": f"From {' and '.join(floor)} nothing reaches up, in any app",
            "type": "forbidden",
            "source_modules": [f"*.{room}" for room in floor],
            "forbidden_modules": [f"*.{room}" for above in FLOORS[:level] for room in above],
        }
        for level, floor in enumerate(FLOORS)
        if level
    ]


def _plain_python() -> dict[str, object]:
    return {
        "name": "Drawing, computation and tables are plain Python",
        "type": "forbidden",
        "source_modules": [f"*.{room}" for room in PLAIN],
        "forbidden_modules": list(FRAMEWORKS),
    }


def _wiring() -> dict[str, object]:
    return {
        "name": "Nobody imports the wiring",
        "type": "forbidden",
        "source_modules": [f"*.{room}" for floor in FLOORS for room in floor],
        "forbidden_modules": ["fleet.config"],
    }


def as_toml() -> str:
    """The contracts as text for pyproject.toml."""
    return "\n".join(_table(contract) for contract in contracts())


def _table(contract: dict[str, object]) -> str:
    lines = ["[[tool.importlinter.contracts]]"]
    for name, value in contract.items():
        if isinstance(value, list):
            inside = "".join(f'    "{item}",\n' for item in value)
            lines.append(f"{name} = [\n{inside}]")
        else:
            lines.append(f'{name} = "{value}"')
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    import sys

    sys.stdout.write(as_toml())
