"""The embedded server: one process, one thread for errands, stopped and started at will."""

import json
import re
import signal
import socket
import sqlite3
import threading
from contextlib import closing
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest

from tests.faults.conftest import Installation, free_port, until

pytestmark = pytest.mark.sqlite  # the embedded set-up, whatever other database is at hand


def talk(
    port: int, verb: str, path: str, body: str = "", headers: dict[str, str] | None = None
) -> tuple[int, str, str]:
    """Status, text and cookies of an answer."""
    with closing(HTTPConnection("127.0.0.1", port, timeout=10)) as http:
        http.request(verb, path, body, headers or {})
        answer = http.getresponse()
        return answer.status, answer.read().decode(), answer.headers.get("Set-Cookie", "")


def ask(port: int, path: str) -> tuple[int, str]:
    return talk(port, "GET", path)[:2]


def answers(port: int) -> bool:
    try:
        return ask(port, "/health/live")[0] == 200
    except OSError:
        return False


def leave_errand(installation: Installation, kind: str, file: Path) -> None:
    """As another process would: a row in the table, and no nudge."""
    row = {
        **{"kind": kind, "key": "", "period": "", "payload": json.dumps({"file": str(file)})},
        **{"state": "waiting", "attempts": 0, "most_attempts": 3, "lease_token": ""},
        **{"asked_at": "2026-01-01", "not_before_at": "2026-01-01", "progress_done": 0},
        **{"progress_total": 0, "result": "{}", "error": ""},
    }
    marks = ", ".join(f":{name}" for name in row)
    with closing(sqlite3.connect(installation.folder / "layline.sqlite3")) as database:
        database.execute(f"INSERT INTO fleet_errand ({', '.join(row)}) VALUES ({marks})", row)
        database.commit()


def errand_states(installation: Installation, kind: str) -> list[Any]:
    """State and attempts of the errands of a kind; the server asks for daily ones by itself."""
    asked = "SELECT state, attempts FROM fleet_errand WHERE kind = ?"
    with closing(sqlite3.connect(installation.folder / "layline.sqlite3")) as database:
        return database.execute(asked, [kind]).fetchall()


def serve(installation: Installation) -> tuple[Any, int]:
    port = free_port()
    process = installation.start("manage.py", "serve", "--port", str(port))
    until(lambda: answers(port) or process.poll() is not None)
    return process, port


def test_serves_does_the_errands_and_stops_when_told(
    embedded: Installation, tmp_path: Path
) -> None:
    process, port = serve(embedded)
    leave_errand(embedded, "note", tmp_path / "notes")
    until(lambda: errand_states(embedded, "note") == [("done", 1)])
    until(lambda: json.loads(ask(port, "/health/ready")[1])["state"] == "ready")
    process.send_signal(signal.SIGTERM)
    assert process.wait(timeout=20) == 0
    assert embedded.said(process).rstrip().endswith("Stopped.")


def test_the_files_of_a_page_are_there_from_the_first_start_on(embedded: Installation) -> None:
    _, port = serve(embedded)
    files = re.findall(r'href="(/static/[^"]+)"', ask(port, "/login/")[1])
    assert len(files) > 4
    assert {file: ask(port, file)[0] for file in files} == dict.fromkeys(files, 200)


def test_an_errand_cut_off_by_a_kill_is_done_after_the_next_start(
    embedded: Installation, tmp_path: Path
) -> None:
    process, _ = serve(embedded)
    leave_errand(embedded, "dies once", tmp_path / "notes")
    assert process.wait(timeout=30) == -signal.SIGKILL
    assert errand_states(embedded, "dies once") == [("waiting", 1)]
    serve(embedded)
    until(lambda: errand_states(embedded, "dies once") == [("done", 2)])


def test_a_busy_port_is_said_in_one_sentence_with_the_way_round(embedded: Installation) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        answer = embedded.run("manage.py", "serve", "--port", str(port))
    assert answer.returncode != 0
    assert f"Port {port} on 127.0.0.1 can't be used (Address already in use)" in answer.stderr
    assert f"--port {port + 1}" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_a_database_without_tables_is_said_with_the_line_that_mends_it(
    embedded: Installation, tmp_path: Path
) -> None:
    answer = embedded.run("manage.py", "serve", DATA_DIR=str(tmp_path / "new"))
    assert answer.returncode != 0
    assert "run manage.py migrate first" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_two_servers_on_one_data_folder_are_refused(embedded: Installation) -> None:
    serve(embedded)
    answer = embedded.run("manage.py", "serve", "--port", str(free_port()))
    assert answer.returncode != 0
    assert "Layline already serves this data folder" in answer.stderr


def test_serving_a_network_without_a_proxy_is_refused(embedded: Installation) -> None:
    answer = embedded.run("manage.py", "serve", ALLOWED_HOSTS="yard.example")
    assert answer.returncode != 0
    assert "name the proxy's address in TRUSTED_PROXY" in answer.stderr


@pytest.mark.parametrize("command", [["check"], ["migrate", "--plan"]])
def test_a_command_starts_no_thread(embedded: Installation, command: list[str]) -> None:
    show = (
        "import threading, django, sys; from django.core.management import call_command; "
        f"django.setup(); call_command(*{command!r}); "
        "sys.exit('layline-errands' in [t.name for t in threading.enumerate()])"
    )
    assert embedded.run("-c", show).returncode == 0


def test_no_test_runs_beside_the_thread() -> None:
    assert "layline-errands" not in [thread.name for thread in threading.enumerate()]
