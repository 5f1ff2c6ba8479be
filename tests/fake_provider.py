"""A provider of hours on this machine alone, as well-behaved or as hostile as a test wants it."""

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

Answer = Callable[[BaseHTTPRequestHandler], None]
XMLNS = "http://standards.iso.org/iso/15143/-3"


@dataclass
class Provider:
    """A running provider: `at[path]` says how it answers; `asked` keeps what it was asked."""

    host: str
    at: dict[str, Answer] = field(default_factory=dict)
    asked: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    over: threading.Event = field(default_factory=threading.Event)

    def url(self, path: str = "/fleet/1") -> str:
        return f"http://{self.host}{path}"


@contextmanager
def provider() -> Iterator[Provider]:
    """A provider on a free port of the loopback, ended with the block."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            made.asked.append((self.path, dict(self.headers)))
            try:
                made.at.get(self.path, status(404))(self)
            except OSError:
                self.close_connection = True  # the asker went away, as it should

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    made = Provider(f"127.0.0.1:{server.server_port}")
    Handler.provider = made  # type: ignore[attr-defined]  # answers that wait look for its end
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield made
    finally:
        made.over.set()
        server.shutdown()
        server.server_close()
        thread.join()


def body(payload: bytes, **headers: str) -> Answer:
    """Answer with a payload."""

    def answer(to: BaseHTTPRequestHandler) -> None:
        to.send_response(200)
        for name, value in {"Content-Length": str(len(payload)), **_named(headers)}.items():
            to.send_header(name, value)
        to.end_headers()
        to.wfile.write(payload)

    return answer


def status(code: int, **headers: str) -> Answer:
    """Answer with a status and headers alone."""

    def answer(to: BaseHTTPRequestHandler) -> None:
        to.send_response(code)
        for name, value in {"Content-Length": "0", **_named(headers)}.items():
            to.send_header(name, value)
        to.end_headers()

    return answer


def in_turn(*answers: Answer) -> Answer:
    """Answer differently each time; the last for ever."""
    left = list(answers)

    def answer(to: BaseHTTPRequestHandler) -> None:
        (left.pop(0) if len(left) > 1 else left[0])(to)

    return answer


def hang(to: Any) -> None:
    """Say nothing at all."""
    to.provider.over.wait(60)


def drip(to: Any) -> None:
    """Send a byte at a time, each just soon enough."""
    to.send_response(200)
    to.send_header("Content-Length", "100000")
    to.end_headers()
    while not to.provider.over.wait(0.05):
        to.wfile.write(b" ")


def drip_headers(to: Any) -> None:
    """Never come to the end of the headers."""
    to.wfile.write(b"HTTP/1.1 200 OK\r\nX-Slow: ")
    while not to.provider.over.wait(0.05):
        to.wfile.write(b"a")


def cut_off(to: BaseHTTPRequestHandler) -> None:
    """Promise more than comes."""
    to.send_response(200)
    to.send_header("Content-Length", "100000")
    to.end_headers()
    to.wfile.write(b"<Fleet>")
    to.close_connection = True


def _named(headers: Mapping[str, str]) -> dict[str, str]:
    return {name.replace("_", "-"): value for name, value in headers.items()}


def machine(pin: str = "HAR0001", hours: str = "1000", at: str = "2026-03-09T06:00:00Z") -> str:
    return (
        f"<Equipment><EquipmentHeader><OEMName>Harrow</OEMName><Model>L90</Model><PIN>{pin}</PIN>"
        f'</EquipmentHeader><CumulativeOperatingHours datetime="{at}"><Hour>{hours}</Hour>'
        "</CumulativeOperatingHours></Equipment>"
    )


def fleet(*machines: str, then: str = "") -> bytes:
    """A page of a snapshot, with its link to the next."""
    link = f"<Links><rel>next</rel><href>{then}</href></Links>" if then else ""
    head = f'<Fleet xmlns="{XMLNS}" version="1" snapshotTime="2026-03-09T07:00:00Z">'
    return f"{head}{link}{''.join(machines)}</Fleet>".encode()
