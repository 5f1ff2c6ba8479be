"""Asking a provider for one page: within a time, within a size, from one host, and politely.

Nothing here waits or tries again: a page is asked for once, and what went wrong is told with
whether and when to come back. So a provider that is slow holds up nobody for longer than a page.
"""

import datetime as dt
import email.utils
import http.client
import random
import socket
import ssl
import time
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fleet.calc.web_addresses import Address
from fleet.telematics.addresses import next_address, resolve
from fleet.telematics.timed_socket import TimedSocket, TimeIsUp
from fleet.telematics.trouble import Trouble

ACCEPT = {"xml": "application/xml, text/xml;q=0.9", "json": "application/json"}
LONGEST_PAUSE = dt.timedelta(hours=6)
FIRST_PAUSE = dt.timedelta(seconds=30)
MOST_PAUSE = dt.timedelta(minutes=30)


@dataclass(frozen=True, slots=True)
class Bounds:
    """What one page may take: seconds to connect and in all, bytes unpacked, redirects."""

    connect_s: float = 10
    page_s: float = 30
    most_bytes: int = 16 * 2**20
    most_redirects: int = 3


@dataclass(frozen=True, slots=True)
class Fetched:
    """One page as it came, and the address that it came from in the end."""

    payload: bytes
    address: Address


def fetch_page(
    address: Address,
    *,
    form: str,
    authorization: str,
    bounds: Bounds | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Fetched:
    """One page of a source. Raises `Trouble` with the sentence, and whether to come back."""
    within = bounds or Bounds()
    end = clock() + within.page_s
    headers = {
        "Accept": ACCEPT[form],
        "Accept-Encoding": "gzip",
        "Connection": "close",
        "Host": address.host_and_port,
        "User-Agent": "Layline",
    }
    if authorization:
        headers["Authorization"] = authorization
    for _ in range(within.most_redirects + 1):
        answer = _ask(address, headers, end, within, clock)
        if isinstance(answer, bytes):
            return Fetched(answer, address)
        address = answer
    raise Trouble(f"{address.host_and_port} sends us from address to address.")


def backoff(tries: int, *, chance: Callable[[], float] = random.random) -> dt.timedelta:
    """The pause before the next try: doubled each time up to a cap, and never quite the same.

    tries: how often it went wrong in a row, 1 or more. From 30 s, 30 minutes at most; between
    half and all of it by chance, so that many askers do not come at once.

    >>> backoff(1, chance=lambda: 1.0), backoff(20, chance=lambda: 0.0)
    (datetime.timedelta(seconds=30), datetime.timedelta(seconds=900))
    """
    whole: dt.timedelta = min(FIRST_PAUSE * 2 ** min(tries - 1, 12), MOST_PAUSE)
    return whole * (0.5 + 0.5 * chance())


def _ask(
    address: Address,
    headers: Mapping[str, str],
    end: float,
    within: Bounds,
    clock: Callable[[], float],
) -> bytes | Address:
    """One request: the payload, or where a redirect on the same host leads."""
    sock = None
    try:
        sock = _connected(address, end, within, clock)
        return _answered(TimedSocket(sock, end, clock), address, headers, within)
    except (TimeIsUp, TimeoutError) as error:
        raise Trouble(
            f"{address.host_and_port} did not answer within {within.page_s:g} s.", again=True
        ) from error
    except ssl.SSLCertVerificationError as error:
        raise Trouble(
            f"{address.host_and_port} can’t prove that it is who it says: its certificate is "
            f"refused ({error.verify_message})."
        ) from error
    except (OSError, http.client.HTTPException) as error:
        raise Trouble(
            f"{address.host_and_port} could not be asked ({type(error).__name__}).", again=True
        ) from error
    finally:
        if sock is not None:
            sock.close()


def _connected(
    address: Address, end: float, within: Bounds, clock: Callable[[], float]
) -> socket.socket:
    """A connection to one of the numbers that were looked at, encrypted where it is HTTPS."""
    numbers = resolve(address)
    for number in numbers[:-1]:
        try:
            return _secured(number, address, end, within, clock)
        except (TimeoutError, ConnectionError):
            continue
    return _secured(numbers[-1], address, end, within, clock)


def _secured(
    number: str, address: Address, end: float, within: Bounds, clock: Callable[[], float]
) -> socket.socket:
    left = min(within.connect_s, max(end - clock(), 0.001))
    sock = socket.create_connection((number, address.port), timeout=left)
    if address.scheme != "https":
        return sock
    try:
        return ssl.create_default_context().wrap_socket(sock, server_hostname=address.host)
    except BaseException:
        sock.close()
        raise


def _answered(
    sock: TimedSocket, address: Address, headers: Mapping[str, str], within: Bounds
) -> bytes | Address:
    lines = [f"GET {address.path} HTTP/1.1", *(f"{k}: {v}" for k, v in headers.items())]
    sock.sendall("\r\n".join([*lines, "", ""]).encode("ascii"))
    answer = http.client.HTTPResponse(sock, method="GET")  # type: ignore[arg-type]  # it asks for `makefile` alone
    answer.begin()
    if answer.status in (301, 302, 303, 307, 308):
        return next_address(address, answer.headers.get("Location", ""))
    if answer.status != http.client.OK:
        raise _refused(answer, address)
    return _payload(answer, address, within)


def _refused(answer: http.client.HTTPResponse, address: Address) -> Trouble:
    """What a status that is no answer means, and whether to come back."""
    status, host = answer.status, address.host_and_port
    after = retry_after(answer.headers.get("Retry-After", ""), answer.headers.get("Date", ""))
    if status in (401, 403):
        return Trouble(f"{host} does not let us in ({status}): the credential is wrong or over.")
    if status in (404, 410):
        return Trouble(f"{host} has nothing at this address ({status}).")
    if status in (408, 425, 429) or status >= 500:
        words = "asks us to come back later" if status == 429 else "is in trouble"
        return Trouble(f"{host} {words} ({status}).", again=True, after=after)
    return Trouble(f"{host} answers with {status}, which is no page.")


def retry_after(text: str, date: str = "") -> dt.timedelta | None:
    """How long a provider asks to be left alone: seconds, or a moment against its own clock.

    Six hours at most; None where it does not say.

    >>> retry_after("120"), retry_after("soon"), retry_after("9" * 30)
    (datetime.timedelta(seconds=120), None, datetime.timedelta(seconds=21600))
    >>> retry_after("Mon, 09 Mar 2026 08:05:00 GMT", "Mon, 09 Mar 2026 08:00:00 GMT")
    datetime.timedelta(seconds=300)
    """
    text = text.strip()[:60]
    if text.isascii() and text.isdigit():
        return dt.timedelta(seconds=min(int(text), LONGEST_PAUSE.total_seconds()))
    try:
        there = email.utils.parsedate_to_datetime(date)
        pause = email.utils.parsedate_to_datetime(text) - there
    except (TypeError, ValueError):
        return None
    return min(max(pause, dt.timedelta()), LONGEST_PAUSE)


def _payload(answer: http.client.HTTPResponse, address: Address, within: Bounds) -> bytes:
    """The body, whole, unpacked, and no larger than is allowed at any moment of unpacking."""
    packing = answer.headers.get("Content-Encoding", "identity").strip().casefold()
    if packing not in ("identity", "gzip", "x-gzip", ""):
        raise Trouble(f"{address.host_and_port} packs its answer in a way that was not asked for.")
    unpack = zlib.decompressobj(wbits=31) if "gzip" in packing else None
    body = bytearray()
    while chunk := answer.read(65536):
        body += chunk if unpack is None else _unpacked(unpack, chunk, within, len(body), address)
        if len(body) > within.most_bytes:
            raise _too_large(address, within)
    if answer.length:
        raise Trouble(f"{address.host_and_port} broke off in the middle of the page.", again=True)
    if unpack is not None and not unpack.eof:
        raise Trouble(f"{address.host_and_port} sent a packed page that is not whole.", again=True)
    return bytes(body)


def _unpacked(
    unpack: "zlib._Decompress", chunk: bytes, within: Bounds, so_far: int, address: Address
) -> bytes:
    try:
        out = unpack.decompress(chunk, within.most_bytes - so_far + 1)
    except zlib.error as error:
        raise Trouble(f"{address.host_and_port} sent a packed page that is not whole.") from error
    if unpack.unconsumed_tail:
        raise _too_large(address, within)
    return out


def _too_large(address: Address, within: Bounds) -> Trouble:
    size = within.most_bytes // 2**20
    return Trouble(f"{address.host_and_port} sent more than {size} MB for one page.")
