"""The keys of marks, machines and places, quickly: most are plain letters and figures."""

from assemblies.calc.tags import ALPHABET_36, TAG_LENGTH, NotATag, check_tag
from fleet.calc.keys import text_key

_LONGEST_TAG_TYPED = 16
_PLAIN = str.maketrans({" ": None, "-": None})
_TAG_SIGNS = frozenset(ALPHABET_36)


def quick_key(text: str) -> str:
    """The same as `text_key`, sooner where the text is printable ASCII.

    >>> quick_key("  EX  07 ") == text_key("  EX  07 ") == "ex 07"
    True
    """
    if text.isascii() and text.isprintable():
        return " ".join(text.lower().split())
    return text_key(text)


def own_tag_in(text: str) -> str:
    """The own tag that a text is, or an empty text where its check character does not fit.

    >>> own_tag_in("BQ-101")
    ''
    """
    if len(text) > _LONGEST_TAG_TYPED or len(text) < TAG_LENGTH:
        return ""
    if text.isascii() and not _may_be_tag(text):
        return ""
    try:
        return check_tag(text)
    except NotATag:
        return ""


def _may_be_tag(text: str) -> bool:
    """Whether plain letters and figures are as many, and as a tag has them; most marks are not."""
    plain = text.translate(_PLAIN).upper()
    return len(plain) == TAG_LENGTH and "Q" not in plain and _TAG_SIGNS.issuperset(plain)
