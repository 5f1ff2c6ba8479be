"""Which addresses are asked at all: HTTPS on the open network, and nothing of our own house.

What a planner types or a provider links to could point at this network's own machines. So an
address is resolved first, every address that it resolves to must be a public one, and the
connection then goes to exactly that one.
"""

import ipaddress
import re
import socket
from dataclasses import dataclass
from urllib.parse import parse_qsl, urljoin, urlsplit, urlunsplit

from django.conf import settings

from fleet.telematics.trouble import Trouble

LONGEST = 1000
_SECRET = re.compile(r"key|token|secret|pass|auth|credential|signature", re.IGNORECASE)
_PLAIN = re.compile(r"[!-~]+", re.ASCII)


@dataclass(frozen=True, slots=True)
class Address:
    """An address taken apart. `private` is one that the settings allow on our own network."""

    scheme: str
    host: str
    port: int
    path: str
    private: bool

    @property
    def origin(self) -> tuple[str, str, int]:
        return (self.scheme, self.host, self.port)

    @property
    def host_and_port(self) -> str:
        usual = {"https": 443, "http": 80}[self.scheme]
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == usual else f"{host}:{self.port}"

    def __str__(self) -> str:
        return f"{self.scheme}://{self.host_and_port}{self.path}"


def read_address(text: str, *, typed: bool = False) -> Address:
    """Take an address apart. Raises `Trouble` with the sentence that says what is wrong.

    `typed`: by a person, who must not put a secret into it.
    """
    if len(text) > LONGEST or not _PLAIN.fullmatch(text):
        raise Trouble("The address is too long or holds signs that no address has.")
    try:
        parts = urlsplit(text)
        host, port = (parts.hostname or "").rstrip("."), parts.port
    except ValueError as error:
        raise Trouble(f"“{text[:80]}” is not an address.") from error
    if parts.scheme not in ("https", "http") or not host:
        raise Trouble("The address begins with https:// and a host.")
    if parts.username is not None or parts.password is not None:
        raise Trouble("No name or password in the address: the environment holds the credential.")
    if typed and any(_SECRET.search(name) for name, _ in parse_qsl(parts.query, True)):
        raise Trouble(
            "The address looks as if it held a secret: the environment holds the credential."
        )
    port = port or {"https": 443, "http": 80}[parts.scheme]
    private = {host, f"{host}:{port}"} & set(settings.TELEMATICS_PRIVATE_HOSTS)
    if parts.scheme == "http" and not private:
        raise Trouble("The address must begin with https://: http can be read on the way.")
    path = urlunsplit(("", "", parts.path or "/", parts.query, ""))
    return Address(parts.scheme, host, port, path, bool(private))


def next_address(here: Address, href: str) -> Address:
    """The address that a link or a redirect on this page leads to; another host is refused."""
    try:
        joined = urljoin(str(here), href.strip())
    except ValueError as error:
        raise Trouble("The link to the next page is not an address.") from error
    found = read_address(joined)
    if found.origin != here.origin:
        raise Trouble(
            f"The provider sends us on from {here.host_and_port} to {found.host_and_port}: "
            "another host is not followed."
        )
    return found


def resolve(address: Address) -> list[str]:
    """The numbers of a host, all of them public ones. Raises `Trouble`."""
    try:
        found = socket.getaddrinfo(address.host, address.port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise Trouble(f"The host {address.host} is not found.", again=True) from error
    numbers = list(dict.fromkeys(str(entry[4][0]) for entry in found))
    if not address.private and not all(_public(number) for number in numbers):
        raise Trouble(
            f"{address.host} stands on a private network: whoever runs this server must allow it "
            "by name in TELEMATICS_PRIVATE_HOSTS."
        )
    return numbers


def _public(number: str) -> bool:
    try:
        ip = ipaddress.ip_address(number.partition("%")[0])
    except ValueError:
        return False
    inner = getattr(ip, "ipv4_mapped", None) or getattr(ip, "sixtofour", None)
    if inner is None and isinstance(ip, ipaddress.IPv6Address):
        if ip in ipaddress.ip_network("64:ff9b::/96"):
            inner = ipaddress.IPv4Address(int(ip) & 0xFFFFFFFF)
        elif ip.teredo is not None:
            return False
    return ip.is_global and not ip.is_multicast and (inner is None or inner.is_global)
