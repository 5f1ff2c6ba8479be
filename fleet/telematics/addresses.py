"""Which addresses are asked at all: HTTPS on the open network, and nothing of our own house.

What a planner types or a provider links to could point at this network's own machines. So an
address is resolved first, every number that it resolves to must be a public one, and the
connection then goes to exactly that one.
"""

import socket

from django.conf import settings

from fleet.calc.web_addresses import Address, AddressError, is_public, led_to, take_apart
from fleet.telematics.trouble import Trouble


def read_address(text: str, *, typed: bool = False) -> Address:
    """Take an address apart. Raises `Trouble` with the sentence that says what is wrong."""
    try:
        return take_apart(text, private_hosts=settings.TELEMATICS_PRIVATE_HOSTS, typed=typed)
    except AddressError as error:
        raise Trouble(str(error)) from error


def next_address(here: Address, href: str) -> Address:
    """The address that a link or a redirect on this page leads to; another host is refused."""
    try:
        return led_to(here, href, private_hosts=settings.TELEMATICS_PRIVATE_HOSTS)
    except AddressError as error:
        raise Trouble(str(error)) from error


def resolve(address: Address) -> list[str]:
    """The numbers of a host, all of them public ones. Raises `Trouble`."""
    try:
        found = socket.getaddrinfo(address.host, address.port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise Trouble(f"The host {address.host} is not found.", again=True) from error
    numbers = list(dict.fromkeys(str(entry[4][0]) for entry in found))
    if not address.private and not all(is_public(number) for number in numbers):
        raise Trouble(
            f"{address.host} stands on a private network: whoever runs this server must allow it "
            "by name in TELEMATICS_PRIVATE_HOSTS."
        )
    return numbers
