"""From a bare machine with Python 3.11 to a running demo, or to the tests: needs no package."""

import os
import socket
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from .packages import installed
from .steps import Halt, Steps

ROOT = Path(__file__).resolve().parent.parent.parent
WORDS = ("demo", "fresh", "serve", "test", "bench")


def start(words: Sequence[str]) -> int:
    """Do what `make` was asked for; the exit code says whether all of it was done."""
    if len(words) != 1 or words[0] not in WORDS:
        sys.stderr.write(f"Say one of: {', '.join(WORDS)}.\n")
        return 2
    steps = Steps()
    try:
        return _run(words[0], steps)
    except Halt as halt:
        steps.halted(halt)
        return 1
    except KeyboardInterrupt:
        sys.stdout.write("\nStopped.\n")
        return 130


def _run(word: str, steps: Steps) -> int:
    if word in {"demo", "fresh", "serve"}:
        return _demo(word, steps)
    python = installed(ROOT, ".venv-test", "requirements-dev.lock", steps)
    module = {"test": "tests.check_all", "bench": "tests.benchmarks"}[word]
    return subprocess.call([python, "-m", module], cwd=ROOT)


def _demo(word: str, steps: Steps) -> int:
    serving = os.environ.get("SERVE", "1") != "0"
    if serving:
        steps.do("port free", _port_is_free, os.environ.get("PORT") or "8000", word)
    python = installed(ROOT, ".venv", "requirements.lock", steps)
    command = [python, "manage.py", *_command(word, serving)]
    return subprocess.call(command, cwd=ROOT)


def _command(word: str, serving: bool) -> list[str]:
    if word == "serve":
        return ["serve"]
    return ["demo", *(["--fresh"] if word == "fresh" else []), *([] if serving else ["--no-serve"])]


def _port_is_free(port: str, word: str) -> str:
    """The address, or a halt. Asked first: nobody should wait for the rest and then hear it."""
    host = os.environ.get("HOST") or "127.0.0.1"
    if not port.isdecimal() or not 1 <= int(port) <= 65535:
        raise Halt(f"PORT is “{port}”: write a number from 1 to 65535.", f"make {word} PORT=8001")
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, int(port)))
        except OSError as error:
            sentence = f"Port {port} on {host} can't be used ({error.strerror})."
            raise Halt(sentence, f"make {word} PORT={int(port) % 65535 + 1}") from error
    return f"{host}:{port}"
