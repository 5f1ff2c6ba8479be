"""A bare machine: what is lacking is said in one sentence, with the line that mends it."""

import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from fleet.config import first_start, packages, start
from fleet.config.packages import installed, uv_block
from fleet.config.steps import Halt, Steps

pytestmark = pytest.mark.sqlite  # no database yet, so once is enough
ROOT = Path(__file__).resolve().parent.parent.parent
NOWHERE = "http://127.0.0.1:9/simple"
MAKE = shutil.which("make") or "/usr/bin/make"


def make_demo(path: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """`make demo` on a machine that has only the commands in `path`."""
    return subprocess.run(
        [MAKE, "demo"],
        cwd=ROOT,
        env={"PATH": str(path), **environment},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.fixture
def old_python(tmp_path: Path) -> Path:
    """A folder with a `python3` that takes itself for Python 3.9."""
    script = (
        "import runpy, sys; sys.version_info = (3, 9, 2, 'final', 0); "
        "sys.argv = ['first_start', 'demo']; "
        "runpy.run_module('fleet.config.first_start', run_name='__main__')"
    )
    fake = tmp_path / "python3"
    fake.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{script}"\n')
    fake.chmod(0o755)
    return tmp_path


def test_no_python_is_said_with_the_line_that_mends_it(tmp_path: Path) -> None:
    answer = make_demo(tmp_path)
    assert answer.returncode != 0
    assert "there is no python3 here. Mend it with: sudo apt-get install" in answer.stderr


def test_an_old_python_is_said_with_the_line_that_mends_it(old_python: Path) -> None:
    answer = make_demo(old_python)
    assert answer.returncode != 0
    assert "Layline needs Python 3.11 or newer, and python3 here is 3.9." in answer.stderr
    assert "Mend it with:" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_a_newer_python_under_its_own_name_is_found(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    newer = tmp_path / "python3.12"
    newer.write_text('#!/bin/sh\necho "3.12"\n')
    newer.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    monkeypatch.setattr(first_start, "OTHER_NAMES", ("python3.13-of-nobody", "python3.12"))
    assert first_start.fitting_python() == "python3.12"


def test_a_command_that_is_a_python_in_name_only_is_passed_over(tmp_path: Path) -> None:
    broken = tmp_path / "python3.13"
    broken.write_text("#!/bin/sh\nexit 127\n")
    broken.chmod(0o755)
    assert first_start.version_of(str(broken)) == (0, 0)


def test_a_python_without_venv_is_said_with_the_line_that_mends_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(Halt, match="without its venv module") as halted:
        packages._make_environment(tmp_path / ".venv")
    assert halted.value.mend == f"sudo apt-get install {_this_python()}-venv"


def _this_python() -> str:
    return f"python{sys.version_info.major}.{sys.version_info.minor}"


@pytest.fixture
def cut_off(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A folder with the locks, on a machine whose package index does not answer."""
    for lock in ("requirements.lock", "requirements-dev.lock"):
        shutil.copy(ROOT / lock, tmp_path)
    for name in [name for name in os.environ if name.startswith(("PIP_", "UV_"))]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_INDEX_URL", NOWHERE)
    monkeypatch.setenv("PIP_NO_CACHE_DIR", "1")
    monkeypatch.setenv("UV_DEFAULT_INDEX", NOWHERE)
    monkeypatch.setenv("UV_CACHE_DIR", str(tmp_path / "cache"))
    return tmp_path


def test_no_network_is_said_when_the_installer_is_fetched(cut_off: Path) -> None:
    with pytest.raises(Halt, match="reaches no package index"):
        installed(cut_off, ".venv", "requirements.lock", Steps(lambda line: None))


def test_no_network_is_said_when_the_packages_are_fetched(cut_off: Path) -> None:
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", cut_off / "new"], check=True)
    (cut_off / "new/bin/uv").symlink_to(Path(sys.executable).with_name("uv"))
    with pytest.raises(Halt, match="reaches no package index"):
        packages._install_packages(cut_off / "new/bin/python", cut_off / "requirements.lock")


@pytest.fixture
def busy_port() -> Iterator[int]:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        yield taken.getsockname()[1]


def test_a_busy_port_is_said_before_anything_is_done(busy_port: int, tmp_path: Path) -> None:
    (tmp_path / "python3").symlink_to(sys.executable)
    answer = make_demo(tmp_path, PORT=str(busy_port))
    assert answer.returncode != 0
    assert f"Port {busy_port} on 127.0.0.1 can't be used (Address already in use)." in answer.stderr
    assert f"make demo PORT={busy_port + 1}" in answer.stderr
    assert "packages" not in answer.stdout


def test_without_serving_no_port_is_needed(busy_port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PORT", str(busy_port))
    monkeypatch.setenv("SERVE", "0")
    monkeypatch.setattr(start, "installed", lambda *told: "/bin/true")
    assert start.start(["demo"]) == 0


@pytest.mark.parametrize("port", ["eighty", "0", "70000", "-1"])
def test_a_port_that_is_none_is_said(port: str) -> None:
    with pytest.raises(Halt, match="write a number from 1 to 65535"):
        start._port_is_free(port, "demo")


@pytest.fixture
def called(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands that would have been run; none is."""
    commands: list[list[str]] = []
    monkeypatch.setattr(packages, "_call", lambda command, more: commands.append(command))
    return commands


@pytest.fixture
def standing(tmp_path: Path) -> Path:
    """A folder whose environment has a Python and packages of the lock that is there."""
    (tmp_path / "requirements.lock").write_text("uv==1 \\\n    --hash=sha256:a\n")
    (tmp_path / ".venv/bin").mkdir(parents=True)
    (tmp_path / ".venv/bin/python").symlink_to(sys.executable)
    digest = packages._digest(tmp_path / "requirements.lock")
    (tmp_path / ".venv" / packages.STAMP).write_text(digest)
    return tmp_path


def prepare(folder: Path) -> None:
    installed(folder, ".venv", "requirements.lock", Steps(lambda line: None))


def test_a_second_start_installs_nothing(standing: Path, called: list[list[str]]) -> None:
    prepare(standing)
    assert called == []


def test_a_changed_lock_is_installed_again(standing: Path, called: list[list[str]]) -> None:
    with (standing / "requirements.lock").open("a") as lock:
        lock.write("zip==2 \\\n    --hash=sha256:b\n")
    prepare(standing)
    assert [command[1:3] for command in called] == [["-m", "pip"], ["pip", "sync"]]
    called.clear()
    prepare(standing)
    assert called == []


def test_an_environment_whose_python_is_gone_is_made_anew(
    standing: Path, called: list[list[str]]
) -> None:
    (standing / ".venv/bin/python").unlink()
    prepare(standing)
    assert called[0][1:4] == ["-m", "venv", "--clear"]


def test_an_installation_that_failed_is_tried_again(
    standing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (standing / ".venv" / packages.STAMP).write_text("of another lock")
    monkeypatch.setattr(packages, "_call", _fails)
    for _ in range(2):
        with pytest.raises(Halt, match="disk is full"):
            prepare(standing)


def _fails(command: list[str], more: dict[str, str]) -> None:
    raise packages._plainly("OSError: [Errno 28] No space left on device")


def test_a_package_that_is_not_the_locked_one_is_said() -> None:
    halt = packages._plainly("THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.")
    assert halt.sentence.startswith("A package is not the one that the lock names")


def test_the_lock_names_the_installer_with_its_hashes() -> None:
    block = uv_block((ROOT / "requirements.lock").read_text())
    assert block.startswith("uv==")
    assert block.count("--hash=sha256:") > 5


def test_a_lock_without_the_installer_is_said() -> None:
    with pytest.raises(Halt, match="names no uv"):
        uv_block("tzdata==2025.1 \\\n    --hash=sha256:a\n")


@pytest.mark.parametrize("words", [[], ["dance"], ["demo", "test"]])
def test_an_unknown_word_is_answered_with_the_known_ones(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert start.start(words) == 2
    assert "demo, fresh, serve, test, bench" in capsys.readouterr().err


def test_each_step_prints_a_line_with_its_time_also_when_it_fails() -> None:
    lines: list[str] = []
    steps, bend = Steps(lines.append), _raiser(ValueError("bent"))
    steps.do("database", lambda: "made")
    with pytest.raises(ValueError, match="bent"):
        steps.do("dues", bend)
    assert [line.split()[:2] for line in lines] == [["database", "made"], ["dues", "FAILED"]]
    assert all(line.endswith(" s") for line in lines)


def _raiser(error: Exception) -> Callable[[], None]:
    def bend() -> None:
        raise error

    return bend
