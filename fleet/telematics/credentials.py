"""The credential of a source: it stands in the environment of the server, and goes to one host.

    TELEMATICS_KEY_NORTH="data.maker.example bearer 8f3c…"
    TELEMATICS_KEY_SOUTH="data.other.example:8443 basic user:password"

The host stands beside the secret, so that whoever may enter an address here can't send the secret
to a host of their own. It is read when it is needed, and never stored, logged or shown.
"""

import base64
import os
import re
from collections.abc import Mapping

from fleet.calc.web_addresses import Address, is_credential_name
from fleet.telematics.trouble import Trouble

_SECRET = re.compile(r"[!-~]{1,4000}", re.ASCII)


def authorization(
    variable: str, address: Address, *, environment: Mapping[str, str] = os.environ
) -> str:
    """The value of the header for an address; empty where the source has no credential.

    Raises `Trouble`, whose sentence names the variable and never what it holds.
    """
    if not variable:
        return ""
    if not is_credential_name(variable):
        raise Trouble(f"{variable} is not a name that may hold a credential.")
    parts = environment.get(variable, "").split()
    if not parts:
        raise Trouble(f"The server’s environment has no {variable}: whoever runs it must set it.")
    if len(parts) != 3 or not _SECRET.fullmatch(parts[2]):
        raise Trouble(f"{variable} must hold three words: the host, bearer or basic, the secret.")
    host, kind, secret = parts
    if host.casefold() != address.host_and_port.casefold():
        raise Trouble(
            f"{variable} is meant for another host than {address.host_and_port}: it is not sent."
        )
    if kind.casefold() == "bearer":
        return f"Bearer {secret}"
    if kind.casefold() == "basic" and ":" in secret:
        return "Basic " + base64.b64encode(secret.encode("ascii")).decode("ascii")
    raise Trouble(f"{variable} must say bearer, or basic with user:password, between the two.")
