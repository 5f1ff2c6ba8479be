"""`manage.py serve`: the web server, and in the embedded set-up the thread that does errands."""

import contextlib
import signal
import socket
from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.config.health import migrations_applied
from fleet.config.lock import HeldElsewhere, hold
from fleet.tasks import ErrandThread


class Command(BaseCommand):
    help = "Serve Layline. Alone on its machine it also does the errands, in one thread."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default=settings.HOST)
        parser.add_argument("--port", type=int, default=settings.PORT)
        parser.add_argument("--threads", type=int, default=8)

    def handle(self, *args: Any, host: str, port: int, threads: int, **options: Any) -> None:
        if not settings.ON_LOOPBACK and not settings.TRUSTED_PROXY:
            raise CommandError(
                "ALLOWED_HOSTS opens Layline to a network, where it speaks HTTPS only: put a "
                "proxy with a certificate before it and name the proxy's address in TRUSTED_PROXY."
            )
        settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
        if not migrations_applied():
            raise CommandError(
                "The database is empty or older than this Layline: run manage.py migrate first "
                "(make demo does it by itself)."
            )
        call_command("collectstatic", interactive=False, verbosity=0)
        try:
            with hold(settings.DATA_DIR / "serving"):
                self._serve(host, port, threads)
        except HeldElsewhere as held:
            raise CommandError(
                f"Layline already serves this data folder ({settings.DATA_DIR}): stop that one "
                "first (Ctrl-C where it runs)."
            ) from held

    def _serve(self, host: str, port: int, threads: int) -> None:
        from waitress import create_server  # the server is needed by this command alone

        # Not earlier: it reads once, as it is imported, which page files have been collected.
        from fleet.config.wsgi import application

        try:
            server = create_server(application, host=host, port=port, threads=threads, **_limits())
        except OSError as error:
            raise CommandError(
                f"Port {port} on {host} can't be used ({error.strerror}): name another with "
                f"--port {port % 65535 + 1}, or PORT={port % 65535 + 1} before the command."
            ) from error
        self.stdout.write(f"Layline is at {_address(host, port)} (Ctrl-C stops it)")
        signal.signal(signal.SIGTERM, _stop)
        with _errands_done():
            server.run()
        server.close()
        self.stdout.write("Stopped.")


@contextlib.contextmanager
def _errands_done() -> Iterator[None]:
    """The errands' thread, where no broker is configured to carry them to workers."""
    if settings.REDIS_URL:
        yield
        return
    thread = ErrandThread(settings.ERRAND_LOOK_SECONDS)
    thread.start()
    try:
        yield
    finally:
        thread.stop()


def _stop(*_: Any) -> None:
    raise KeyboardInterrupt


def _limits() -> dict[str, Any]:
    """What the server takes in, and whose word it takes for where a request came from."""
    limits = {"max_request_body_size": settings.UPLOAD_LIMIT_BYTES + 2**20, "ident": None}
    if not settings.TRUSTED_PROXY:
        # Left in place, so that a request that was passed on can be told from one made here.
        return {**limits, "clear_untrusted_proxy_headers": False}
    return {
        **limits,
        "trusted_proxy": settings.TRUSTED_PROXY,
        "trusted_proxy_count": 1,
        "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        "clear_untrusted_proxy_headers": True,
    }


def _address(host: str, port: int) -> str:
    shown = f"[{host}]" if ":" in host and socket.has_ipv6 else host
    return f"http://{shown}:{port}/"
