"""The virtual environment, and the packages of a lock in it. Standard library only."""

import hashlib
import importlib.util
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from .steps import Halt, Steps

STAMP = "layline-lock"
PLAIN_FAILURES = {
    "hash": "A package is not the one that the lock names, so nothing was installed.",
    "no space left": "The disk is full.",
    "permission denied": "A folder here can't be written to by you.",
}
NO_NETWORK = "The packages could not be fetched: this machine reaches no package index."


def installed(root: Path, folder: str, lock: str, steps: Steps) -> str:
    """The Python of an environment with exactly the packages of the lock; makes what is lacking."""
    python = root / folder / "bin" / "python"
    wanted = _digest(root / lock)
    if _runs(python) and _stamped(root / folder) == wanted:
        steps.do("packages", lambda: f"as locked, kept in {folder}")
        return str(python)
    if not _runs(python):
        steps.do("virtual environment", _make_environment, root / folder)
    steps.do("installer", _install_uv, python, root / lock)
    steps.do("packages", _install_packages, python, root / lock)
    (root / folder / STAMP).write_text(wanted)
    return str(python)


def uv_block(lock_text: str) -> str:
    """The lines of a lock that name uv: its version and the hashes of its files.

    >>> uv_block("tzdata==1\\n    --hash=sha256:a\\nuv==2 \\\\\\n    --hash=sha256:b\\nw==3\\n")
    'uv==2 \\\\\\n    --hash=sha256:b\\n'
    """
    found = re.search(r"^uv==.*\\\n(?:[ \t]+--hash=.*\n)+", lock_text, re.MULTILINE)
    if found is None:
        raise Halt("The lock names no uv with its hashes.", "git checkout requirements.lock")
    return found.group()


def _digest(lock: Path) -> str:
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def _stamped(folder: Path) -> str:
    stamp = folder / STAMP
    return stamp.read_text() if stamp.exists() else ""


def _runs(python: Path) -> bool:
    """Whether the environment's Python is there, starts, and is new enough."""
    test = "import sys; sys.exit(sys.version_info < (3, 11))"
    try:
        answer = subprocess.run([python, "-c", test], capture_output=True, check=False)
    except OSError:
        return False
    return answer.returncode == 0


def _make_environment(folder: Path) -> str:
    name = f"python{sys.version_info.major}.{sys.version_info.minor}"
    if not all(importlib.util.find_spec(module) for module in ("venv", "ensurepip")):
        raise Halt(
            f"This {name} comes without its venv module, which keeps Layline's packages apart.",
            f"sudo apt-get install {name}-venv",
        )
    _call([sys.executable, "-m", "venv", "--clear", str(folder)], {})
    return f"made in {folder.name}, {name}"


def _install_uv(python: Path, lock: Path) -> str:
    block = uv_block(lock.read_text())
    with tempfile.NamedTemporaryFile("w", suffix=".txt") as wanted:
        wanted.write(block)
        wanted.flush()
        pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        patience = ["--retries", "1", "--timeout", "20", "--no-input", "--no-deps"]
        _call([*pip, *patience, "--require-hashes", "-r", wanted.name], {})
    return block.split(" ", 1)[0]


def _install_packages(python: Path, lock: Path) -> str:
    uv = [str(python.with_name("uv")), "pip", "sync", "--quiet", "--python", str(python)]
    patience = {"UV_HTTP_RETRIES": "2", "UV_HTTP_TIMEOUT": "30", "UV_NO_PROGRESS": "1"}
    _call([*uv, "--require-hashes", str(lock)], patience)
    count = len(re.findall(r"^[a-z0-9].*==", lock.read_text(), re.MULTILINE))
    return f"{count} of {lock.name} checked and installed"


def _call(command: list[str], environment: dict[str, str]) -> None:
    """Run a command in silence; where it fails, halt with what it comes to in plain words."""
    answer = subprocess.run(
        command,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, **environment},
    )
    if answer.returncode:
        raise _plainly(answer.stdout + answer.stderr)


def _plainly(output: str) -> Halt:
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    text = output.lower()
    if _is_network_trouble(text):
        return Halt(NO_NETWORK, "connect it to the network, then run the same command again")
    sentence = next((s for word, s in PLAIN_FAILURES.items() if word in text), "")
    reason = f"The installer said: {' / '.join(lines[-3:])}"
    return Halt(f"{sentence} {reason}".strip(), "put that right, then run the same command again")


def _is_network_trouble(text: str) -> bool:
    signs = (
        "connection refused",
        "connection error",
        "failed to establish a new connection",
        "name or service not known",
        "name resolution",
        "failed to resolve",
        "failed to lookup address",
        "dns error",
        "network is unreachable",
        "timed out",
        "tcp connect error",
        "error sending request",
        "no matching distribution found",
        "failed to fetch",
    )
    return any(sign in text for sign in signs)
