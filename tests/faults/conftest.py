"""Real servers and workers, on folders, databases and ports of their own."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from django.db import connection

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE_S = 60


def until(happened: Callable[[], object], seconds: float = PATIENCE_S) -> None:
    """Wait for something; fail where it doesn't happen in time."""
    end = time.monotonic() + seconds
    while not happened():
        assert time.monotonic() < end, f"did not happen within {seconds} s"
        time.sleep(0.05)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Installation:
    """One installation of Layline: its environment, and the processes started on it."""

    folder: Path
    environment: dict[str, str]
    started: list[subprocess.Popen[str]] = field(default_factory=list)

    def start(self, *words: str, **more: str) -> subprocess.Popen[str]:
        """Start a command, its output in a file; ended with the test, whatever happens."""
        self.folder.mkdir(parents=True, exist_ok=True)
        log = self.folder / f"process-{len(self.started)}.log"
        with log.open("w") as output:
            process = subprocess.Popen(
                [sys.executable, *words],
                cwd=ROOT,
                env={**self.environment, **more},
                stdout=output,
                stderr=subprocess.STDOUT,
                text=True,
                start_new_session=True,
            )
        self.started.append(process)
        return process

    def said(self, process: subprocess.Popen[str]) -> str:
        return (self.folder / f"process-{self.started.index(process)}.log").read_text()

    def run(self, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, *words],
            cwd=ROOT,
            env={**self.environment, **more},
            capture_output=True,
            text=True,
            check=False,
            timeout=PATIENCE_S * 4,
        )

    def kill_all(self) -> None:
        for process in self.started:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def environment_of(folder: Path, **more: str) -> dict[str, str]:
    """The environment of an installation in a folder: nothing of this process's own settings."""
    mine = {name: value for name, value in os.environ.items() if name in {"PATH", "HOME", "LANG"}}
    told = {"DJANGO_SETTINGS_MODULE": "tests.faults.settings", "DATA_DIR": str(folder)}
    return {**mine, **told, "SECRET_KEY": "0123456789abcdef" * 4, **more}


@pytest.fixture
def installation(transactional_db: None, tmp_path: Path) -> Iterator[Installation]:
    """Processes on the tests' own database, so that a test can ask and look in it."""
    made = Installation(tmp_path, environment_of(tmp_path, DATABASE_URL=_address()))
    connection.close()
    yield made
    made.kill_all()


def _address() -> str:
    """The tests' database, as another process is told of it."""
    told = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{told['NAME']}"
    place = f"{told['HOST']}:{told['PORT'] or 5432}"
    secret = f":{told['PASSWORD']}" if told["PASSWORD"] else ""
    return f"postgres://{told['USER']}{secret}@{place}/{told['NAME']}"


@pytest.fixture(scope="session")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an embedded installation's empty database, made by its migrations."""
    folder = tmp_path_factory.mktemp("migrated")
    answer = Installation(folder, environment_of(folder)).run("manage.py", "migrate")
    assert answer.returncode == 0, answer.stderr
    return folder


@pytest.fixture
def embedded(migrated: Path, tmp_path: Path) -> Iterator[Installation]:
    """An embedded installation of its own: SQLite in its folder, no broker."""
    folder = tmp_path / "var"
    shutil.copytree(migrated, folder)
    made = Installation(folder, environment_of(folder))
    yield made
    made.kill_all()


@dataclass
class Broker:
    """A Redis server of the test's own, which it may stop, freeze and kill."""

    port: int
    folder: Path
    process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        keep_nothing = ["--save", "", "--appendonly", "no", "--dir", str(self.folder)]
        self.process = subprocess.Popen(
            ["redis-server", "--port", str(self.port), "--bind", "127.0.0.1", *keep_nothing],
            stdout=subprocess.DEVNULL,
        )
        until(self._answers)

    def signal(self, number: signal.Signals) -> None:
        assert self.process is not None
        self.process.send_signal(number)

    def stop(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait()

    def _answers(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    made = Broker(free_port(), tmp_path)
    made.start()
    yield made
    made.stop()
