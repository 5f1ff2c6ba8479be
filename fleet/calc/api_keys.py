"""The text of an API key: a prefix to find it by, and a secret that only its holder has."""

import hashlib
import hmac
import re
import string
from collections.abc import Callable
from dataclasses import dataclass

MARK = "layline"
PREFIX_ALPHABET = string.ascii_lowercase + string.digits
SECRET_ALPHABET = string.ascii_letters + string.digits
PREFIX_LENGTH = 8
SECRET_LENGTH = 43
"""62^43 > 2^256."""
_SHAPE = re.compile(
    rf"{MARK}_([a-z0-9]{{{PREFIX_LENGTH}}})_([A-Za-z0-9]{{{SECRET_LENGTH}}})", re.ASCII
)


@dataclass(frozen=True, slots=True)
class KeyText:
    """A key in its two parts."""

    prefix: str
    secret: str

    def __str__(self) -> str:
        return f"{MARK}_{self.prefix}_{self.secret}"

    def __repr__(self) -> str:
        return f"KeyText({self.prefix})"


def draw_key(choose: Callable[[str], str]) -> KeyText:
    """Draw a new key, at random as `choose` is random.

    Parameters: choose, picks one character of the alphabet it is given (`secrets.choice`).
    Returns a prefix of 8 characters and a secret of 43, more than 256 bits. Never raises.
    Source: the project's own shape.

    >>> import random
    >>> len(str(draw_key(random.Random(7).choice)))
    60
    """
    prefix = "".join(choose(PREFIX_ALPHABET) for _ in range(PREFIX_LENGTH))
    return KeyText(prefix, "".join(choose(SECRET_ALPHABET) for _ in range(SECRET_LENGTH)))


def read_key(text: str) -> KeyText | None:
    """Part a presented key; None where it is no key at all. Never raises.

    >>> read_key("layline_abc") is None
    True
    """
    match = _SHAPE.fullmatch(text)
    return KeyText(match[1], match[2]) if match else None


def digest_of(secret: str) -> str:
    """SHA-256 of a secret, in hexadecimal. A fast hash is right: nobody guesses 256 bits.

    >>> digest_of("a")[:8]
    'ca978112'
    """
    return hashlib.sha256(secret.encode("ascii")).hexdigest()


def opens(secret: str, digest: str) -> bool:
    """Whether the secret is the one of the digest, compared in constant time.

    >>> opens("a", digest_of("a")), opens("b", digest_of("a"))
    (True, False)
    """
    return hmac.compare_digest(digest_of(secret), digest)
