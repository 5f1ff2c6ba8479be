"""Text keys: what a person types, folded so that look-alikes meet."""

import re
import unicodedata

# Capital and small letters of other scripts that look like a Latin letter in ordinary print.
_LOOK_ALIKES = str.maketrans(
    "асеорхукмтвнісј" + "αβεηικμνορτυχζ",
    "aceopxykmtbhicj" + "abehikmvoptyxz",
)
_UNSEEN = re.compile("[\u00ad\u034f\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]")
_SPACE = re.compile(r"\s+")


def text_key(text: str) -> str:
    """Fold a text to the key under which it is unique and ordered.

    NFKC, case folded, unseen signs dropped, runs of space made one. A word made only of
    look-alikes of Latin letters is folded to Latin; a word of another script stays.

    Parameters: text, any length. Returns a string, perhaps empty. Never raises.
    Source: Unicode Standard Annex 15 (NFKC) and section 3.13 (case folding); the look-alike
    table is the project's own choice.

    >>> text_key("  ＥＸ－０１ ") == text_key("ex-01")
    True
    >>> text_key("\u0415\u0425-01") == text_key("EX-01")
    True
    """
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
    printable = "".join(" " if _is_control(sign) else sign for sign in _UNSEEN.sub("", folded))
    words = _SPACE.split(printable.strip())
    return " ".join(_fold_word(word) for word in words)


def _is_control(sign: str) -> bool:
    return unicodedata.category(sign) == "Cc"


def _fold_word(word: str) -> str:
    candidate = word.translate(_LOOK_ALIKES)
    return candidate if all(not s.isalpha() or s < "\u0250" for s in candidate) else word
