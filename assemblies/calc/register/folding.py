"""A text folded to plain words, so that people's spellings of one thing meet."""

import re
import unicodedata
from functools import lru_cache

_NOT_WORD = re.compile(r"[^a-z0-9]+")


@lru_cache(maxsize=20_000)
def words_of(text: str) -> str:
    """Small letters and figures without accents or signs, one space between words.

    Parameters: text. Returns perhaps an empty string (for a script without Latin letters the
    text itself, case folded). Never raises. Source: the project's own.

    >>> words_of("Länge [mm]"), words_of("N° de série")
    ('lange mm', 'n de serie')
    """
    parted = unicodedata.normalize("NFKD", text.casefold().replace("ß", "ss"))
    plain = "".join(sign for sign in parted if not unicodedata.combining(sign))
    words = _NOT_WORD.sub(" ", plain).strip()
    return words or " ".join(plain.split())
