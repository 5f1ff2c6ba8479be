"""Web addresses that may be asked: taken apart, compared, and kept off our own network."""

import ipaddress
import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl, urljoin, urlsplit, urlunsplit

LONGEST: Final = 1000
_USUAL_PORT: Final = {"https": 443, "http": 80}
_SECRET = re.compile(r"key|token|secret|pass|auth|credential|signature", re.IGNORECASE)
_PLAIN = re.compile(r"[!-~]+", re.ASCII)
_CREDENTIAL = re.compile(r"TELEMATICS_KEY_[A-Z0-9_]{1,40}")
_TRANSLATED = ipaddress.ip_network("64:ff9b::/96")  # RFC 6052: IPv4 numbers written as IPv6


class AddressError(ValueError):
    """The address can't be asked; the message says what is wrong with it."""


@dataclass(frozen=True, slots=True)
class Address:
    """An address taken apart. `private`: the settings allow it on our own network."""

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
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == _USUAL_PORT[self.scheme] else f"{host}:{self.port}"

    def __str__(self) -> str:
        return f"{self.scheme}://{self.host_and_port}{self.path}"


def take_apart(text: str, *, private_hosts: Collection[str], typed: bool = False) -> Address:
    """Take an address apart.

    Parameters: text; hosts (`HOST` or `HOST:PORT`) that may be private and without HTTPS; whether
    a person typed it, who must not put a secret into it. Errors: AddressError with a sentence.
    Source: RFC 3986; what is refused beyond it is the project's own choice.

    >>> take_apart("https://Data.example/fleet?page=2#x", private_hosts=()).path
    '/fleet?page=2'
    """
    if len(text) > LONGEST or not _PLAIN.fullmatch(text):
        raise AddressError("The address is too long or holds signs that no address has.")
    try:
        parts = urlsplit(text)
        host, port = (parts.hostname or "").rstrip("."), parts.port
    except ValueError as error:
        raise AddressError(f"“{text[:80]}” is not an address.") from error
    if parts.scheme not in _USUAL_PORT or not host:
        raise AddressError("The address begins with https:// and a host.")
    if parts.username is not None or parts.password is not None:
        raise AddressError(
            "No name or password in the address: the environment holds the credential."
        )
    if typed and any(_SECRET.search(name) for name, _ in parse_qsl(parts.query, True)):
        raise AddressError(
            "The address looks as if it held a secret: the environment holds the credential."
        )
    port = port or _USUAL_PORT[parts.scheme]
    private = bool({host, f"{host}:{port}"} & set(private_hosts))
    if parts.scheme == "http" and not private:
        raise AddressError("The address must begin with https://: http can be read on the way.")
    path = urlunsplit(("", "", parts.path or "/", parts.query, ""))
    return Address(parts.scheme, host, port, path, private)


def led_to(here: Address, href: str, *, private_hosts: Collection[str]) -> Address:
    """The address that a link or a redirect leads to; another host, port or scheme is refused.

    Parameters: the page's own address; the link as it was written. Errors: AddressError.

    >>> here = take_apart("https://data.example/fleet/1", private_hosts=())
    >>> str(led_to(here, "2", private_hosts=()))
    'https://data.example/fleet/2'
    """
    if not _PLAIN.fullmatch(href.strip()):
        raise AddressError("The provider sends us on to what is not an address.")
    try:
        joined = urljoin(str(here), href.strip())
    except ValueError as error:
        raise AddressError("The provider sends us on to what is not an address.") from error
    found = take_apart(joined, private_hosts=private_hosts)
    if found.origin != here.origin:
        raise AddressError(
            f"The provider sends us on from {here.host_and_port} to {found.host_and_port}: "
            "another host is not followed."
        )
    return found


def is_public(number: str) -> bool:
    """Whether an IP number is one of the open network, also where it wraps an older one.

    Sources: RFC 6890 (special purpose numbers, by Python's `ipaddress`), RFC 4291 2.5.5.2,
    RFC 3056 and RFC 6052 (IPv4 within IPv6); RFC 4380 (Teredo) is refused whole.

    >>> [is_public(n) for n in ("93.184.215.14", "10.0.0.1", "::ffff:10.0.0.1", "64:ff9b::a00:1")]
    [True, False, False, False]
    """
    try:
        ip = ipaddress.ip_address(number.partition("%")[0])
    except ValueError:
        return False
    if ip.is_multicast or not ip.is_global:
        return False
    if isinstance(ip, ipaddress.IPv4Address):
        return True
    inner = ip.ipv4_mapped or ip.sixtofour
    if ip in _TRANSLATED:
        inner = ipaddress.IPv4Address(int(ip) & 0xFFFFFFFF)
    return ip.teredo is None and (inner is None or inner.is_global)


def is_credential_name(name: str) -> bool:
    """Whether a name of the environment is one that may hold a provider's credential.

    >>> is_credential_name("TELEMATICS_KEY_NORTH"), is_credential_name("SECRET_KEY")
    (True, False)
    """
    return bool(_CREDENTIAL.fullmatch(name))
