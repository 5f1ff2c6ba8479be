"""The house rules that a program can check: floors, sizes, names, clocks, addresses."""

import ast
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.floors import APPS, BESIDE, FLOORS, contracts

ROOT = Path(__file__).resolve().parent.parent
LONGEST_FILE, LONGEST_FUNCTION = 400, 40
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml", "Makefile", "LICENSE"} | {
    *("requirements.lock", "requirements-dev.lock", "fixtures", "tests", *APPS)
}
VAGUE_NAMES = {"utils", "helpers", "common", "misc", "services", "managers", "base"}
# Text that says where packages or anything else is fetched from. Spelt so as not to find itself.
ADDRESS = re.compile(r"index-url|find-links|https?:/" r"/|git\+ssh", re.IGNORECASE)
REGISTRY = re.compile(r"pypi\.org|pythonhosted\.org|npmjs\.|deb\.debian\.org")
ENTRANCES = {"views", "api", "tasks", "management", "config"}


def _tracked() -> list[Path]:
    command = ["git", "ls-files", "-z"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    names = listed.stdout.split("\0") if listed.returncode == 0 else _all_names()
    return [ROOT / name for name in names if name and (ROOT / name).is_file()]


def _all_names() -> list[str]:
    hidden = {".git", ".venv", ".venv-test", "var"}
    files = (path.relative_to(ROOT) for path in ROOT.rglob("*") if path.is_file())
    return [str(path) for path in files if not hidden & set(path.parts)]


TRACKED = _tracked()
CODE = [path for path in TRACKED if path.suffix == ".py" and "migrations" not in path.parts]
APP_CODE = [path for path in CODE if path.relative_to(ROOT).parts[0] in APPS]


def _name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def _functions(path: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def _lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    return (node.end_lineno or node.lineno) - node.lineno + 1


def test_no_file_is_too_long_to_read() -> None:
    counted = {_name(p): p.read_text().count("\n") for p in CODE if "published" not in p.parts}
    assert {name: n for name, n in counted.items() if n > LONGEST_FILE} == {}


def test_no_function_is_too_long_to_read() -> None:
    drawing = [path for path in APP_CODE if "pdf" not in path.parts]
    found = [(_name(p), f.name, _lines(f)) for p in drawing for f in _functions(p)]
    assert [one for one in found if one[2] > LONGEST_FUNCTION] == []


def test_every_module_has_a_name_that_says_something() -> None:
    vague = [
        _name(path)
        for path in CODE
        if set(path.relative_to(ROOT).with_suffix("").parts) & VAGUE_NAMES
    ]
    assert vague == []


def test_every_room_of_an_app_is_on_a_floor() -> None:
    known = {room for floor in FLOORS for room in floor} | set(BESIDE) | {"__init__"}
    rooms = {
        (app, path.stem)
        for app in APPS
        for path in (ROOT / app).iterdir()
        if path.stem[0] != "_" or path.suffix == ".py"
    }
    assert {room for room in rooms if room[1] not in known} == set()


def test_nothing_stands_at_the_top_but_what_belongs_there() -> None:
    top = {path.relative_to(ROOT).parts[0] for path in TRACKED}
    assert {name for name in top if not name.startswith(".")} - TOP_LEVEL == set()


def test_pyproject_holds_the_contracts_of_the_floors() -> None:
    held = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    assert held == contracts(), "run: python -m tests.floors, and put what it prints there"


PLANTED = {
    "The apps stand on one another": ("fleet/views/planted.py", "import scheduling.models"),
    "Inside each app imports point down": ("fleet/models/planted.py", "import fleet.permissions"),
    "From views and api and tasks": ("assemblies/views/planted.py", "import fleet.receivers"),
    "From exchange and reports": ("assemblies/exchange/planted.py", "import fleet.tasks"),
    "From actions nothing": ("assemblies/actions/planted.py", "import fleet.views"),
    "From queries nothing": ("scheduling/queries/planted.py", "import assemblies.actions"),
    "From permissions and audit": ("assemblies/permissions.py", "import fleet.queries"),
    "From models and signals": ("scheduling/models/planted.py", "import fleet.audit"),
    "From pdf nothing": ("assemblies/pdf/planted.py", "import fleet.signals"),
    "From calc nothing": ("scheduling/calc/planted.py", "import assemblies.pdf"),
    "From standards and tabular": ("assemblies/standards/planted.py", "import fleet.calc"),
    "plain Python": ("scheduling/calc/planted.py", "def f():\n    import django.db"),
    "Nobody imports the wiring": ("assemblies/actions/planted.py", "import fleet.config.settings"),
}


def test_every_contract_has_a_planted_violation() -> None:
    names = [str(contract["name"]) for contract in contracts()]
    assert all(sum(words in name for words in PLANTED) == 1 for name in names)
    assert len(names) == len(PLANTED)


@pytest.mark.parametrize("words", ["", *PLANTED])
def test_a_planted_violation_breaks_its_contract(words: str, tmp_path: Path) -> None:
    """With nothing planted the contracts are kept, so what breaks one is the plant."""
    for app in APPS:
        only_code = shutil.ignore_patterns(
            "static", "templates", "typefaces", "__pycache__", "*.csv"
        )
        shutil.copytree(ROOT / app, tmp_path / app, ignore=only_code)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    if words:
        place, line = PLANTED[words]
        (tmp_path / place).parent.mkdir(exist_ok=True)
        (tmp_path / place).parent.joinpath("__init__.py").touch()
        (tmp_path / place).write_text(f"{line}\n")
    said = _lint_imports(tmp_path)
    broken = [line for line in said.splitlines() if line.endswith("BROKEN")]
    assert any(words in line for line in broken) if words else not broken, said


def _lint_imports(folder: Path) -> str:
    command = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    wide = {"COLUMNS": "200", "PATH": "", "PYTHONPATH": str(folder)}
    answer = subprocess.run(
        [sys.executable, "-c", command, "--no-cache"],
        cwd=folder,
        env=wide,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Contracts:" in answer.stdout, answer.stdout + answer.stderr
    return answer.stdout


CLOCKS = re.compile(r"\b(timezone\.now|datetime\.now|date\.today|datetime\.utcnow|time\.time)\b")


def test_only_entrances_read_the_clock() -> None:
    readers = [p for p in APP_CODE if CLOCKS.search(p.read_text())]
    rooms = {_name(p): p.relative_to(ROOT).with_suffix("").parts[1] for p in readers}
    assert {name for name, room in rooms.items() if room not in ENTRANCES} == set()


def test_every_computation_shows_an_example_that_runs() -> None:
    files = [p for p in APP_CODE if "calc" in p.parts and p.stem != "__init__"]
    with_functions = [p for p in files if any(f.name[0] != "_" for f in _functions(p))]
    assert [_name(p) for p in with_functions if ">>>" not in p.read_text()] == []


def test_every_migration_is_named_for_its_intent() -> None:
    found = [p for p in TRACKED if "migrations" in p.parts and p.stem[0].isdigit()]
    assert found
    assert [_name(p) for p in found if re.search(r"_auto_|_initial$|^\d+_[a-z]$", p.stem)] == []


def test_every_test_can_fail() -> None:
    tests = [p for p in CODE if p.relative_to(ROOT).parts[0] == "tests"]
    judged = ("assert", "raises", "expect(", "check_", "fail(", "until(")
    silent = [
        (_name(p), f.name)
        for p in tests
        for f in _functions(p)
        if f.name.startswith("test_") and not any(word in ast.unparse(f) for word in judged)
    ]
    assert silent == []


IGNORED_RULE = re.compile(r"#\s*(?:noqa|type:\s*ignore)(?P<rest>.*)")


def test_every_ignored_rule_has_its_reason_beside_it() -> None:
    found = [(p, line) for p in CODE for line in p.read_text().splitlines() if "#" in line]
    bare = [
        (_name(p), line.strip())
        for p, line in found
        if (match := IGNORED_RULE.search(line))
        and "  # " not in match["rest"]
        and "IGNORED_RULE" not in line
    ]
    assert bare == []


def test_no_lock_or_settings_file_holds_an_address() -> None:
    held = [p for p in TRACKED if _is_set_up(p) and ADDRESS.search(p.read_text())]
    assert [_name(p) for p in held] == []


def _is_set_up(path: Path) -> bool:
    """Whether a file says what is installed, from where, or how Layline is set up."""
    kinds = {".lock", ".toml", ".ini", ".cfg", ".yml", ".yaml"}
    first = path.relative_to(ROOT).parts[0]
    named = any(word in path.stem for word in ("settings", "requirements", "constraints"))
    return named or first in {"Makefile", ".ci", ".npmrc"} or path.suffix in kinds


def test_no_tracked_file_names_a_package_registry() -> None:
    texts = {p: p.read_bytes().decode(errors="ignore") for p in TRACKED}
    assert [_name(p) for p, text in texts.items() if REGISTRY.search(text)] == []


def test_every_locked_package_has_an_exact_version_and_hashes() -> None:
    for lock in ("requirements.lock", "requirements-dev.lock"):
        blocks = re.split(r"\n(?=\S)", (ROOT / lock).read_text().strip())
        assert len(blocks) > 50
        assert all(re.match(r"^[a-z0-9][\w.-]*==\S+", b) and "--hash=sha256:" in b for b in blocks)


def test_the_first_door_can_be_read_by_an_old_python() -> None:
    for name in ("fleet/__init__.py", "fleet/config/__init__.py", "fleet/config/first_start.py"):
        assert ast.parse((ROOT / name).read_text(), feature_version=(3, 4))


def test_no_check_in_the_schema_needs_a_function_of_python() -> None:
    """SQLite alone, without Python's REGEXP, must be able to read, dump and check the file."""
    uses = [p for p in CODE if "models" in p.parts and "__regex" in p.read_text()]
    assert [_name(p) for p in uses] == []
