"""Own tags: seven drawn characters and a check character that catches a slip of the pen."""

import unicodedata
from collections.abc import Callable

ALPHABET_36 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
BODY_ALPHABET = "".join(sign for sign in ALPHABET_36 if sign not in "IOQ")
BODY_LENGTH = 7
TAG_LENGTH = BODY_LENGTH + 1
NO_CHECK = frozenset("IOQ01")
"""Check characters never issued: they look like one another."""
_LOOK_ALIKES = str.maketrans("OI", "01")
_DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2212"
_MOST_DRAWS = 1000


class NotATag(ValueError):
    """A text that is not an own tag; the message says why."""


def check_character(body: str) -> str:
    """Work out the check character of a body.

    Parameters: body, digits and capitals, one or more. Formula: P = 36; for each value v:
    P = (P + v) mod 36, 0 taken as 36, then P = 2P mod 37; check value (37 - P) mod 36.
    Limits: every single changed character is caught; of adjacent swaps nearly all.
    Errors: ValueError for another character or an empty body.
    Source: ISO/IEC 7064, MOD 37,36 (hybrid system).

    >>> check_character("A12425GABC1234002")
    'M'
    """
    if not body:
        raise ValueError("An empty body has no check character.")
    product = 36
    for sign in body:
        total = (product + ALPHABET_36.index(sign)) % 36 or 36
        product = total * 2 % 37
    return ALPHABET_36[(37 - product) % 36]


def draw_tag(choose: Callable[[str], str]) -> str:
    """Draw a new tag, at random as `choose` is random.

    Parameters: choose, picks one character of the alphabet it is given (`secrets.choice`).
    Returns seven body characters and the check character. The body has no I, O or Q; the body is
    drawn anew while its check character is I, O, Q, 0 or 1, so that no reading of a tag hangs
    on telling these apart.
    Errors: ValueError when `choose` gives another character, or never an issuable tag.
    Source: ISO/IEC 7064, MOD 37,36; the redraw is the project's own rule.

    >>> import random
    >>> tag = draw_tag(random.Random(7).choice)
    >>> check_tag(tag) == tag
    True
    """
    for _ in range(_MOST_DRAWS):
        body = "".join(choose(BODY_ALPHABET) for _ in range(BODY_LENGTH))
        if not set(body) <= set(BODY_ALPHABET):
            raise ValueError(f"The chooser gave “{body}”, which has characters of no tag.")
        check = check_character(body)
        if check not in NO_CHECK:
            return body + check
    raise ValueError(f"The chooser gave no issuable tag in {_MOST_DRAWS} draws.")


def check_tag(text: str) -> str:
    """Read a typed or scanned tag and give it back in its one spelling.

    Parameters: text; spaces, dashes and small letters are allowed; O is read as 0 and I as 1
    (safe: neither letter is ever in a tag).
    Returns eight characters. Errors: NotATag.
    Source: ISO/IEC 7064, MOD 37,36.

    >>> check_tag("oooo-ooo y")
    Traceback (most recent call last):
    assemblies.calc.tags.NotATag: not a tag: check character Y does not fit 0000000; read it again
    """
    tag = _plain(text)
    if len(tag) != TAG_LENGTH:
        raise NotATag(f"not a tag: a tag has {TAG_LENGTH} characters, this has {len(tag)}")
    strange = sorted(set(tag) - set(BODY_ALPHABET))
    if strange:
        raise NotATag(f"not a tag: {' '.join(strange)} is never in a tag; read it again")
    body, check = tag[:BODY_LENGTH], tag[BODY_LENGTH:]
    if check in NO_CHECK or check != check_character(body):
        raise NotATag(f"not a tag: check character {check} does not fit {body}; read it again")
    return tag


def _plain(text: str) -> str:
    """Capitals without spaces, dashes and unseen signs; O read as 0 and I as 1."""
    folded = unicodedata.normalize("NFKC", text)
    kept = "".join(sign for sign in folded if sign not in _DASHES and not _is_unseen(sign))
    return kept.upper().translate(_LOOK_ALIKES)


def _is_unseen(sign: str) -> bool:
    return sign.isspace() or unicodedata.category(sign) in {"Cf", "Cc"}
