"""The text of API keys: drawn at random, parted, and told true from false."""

import random
import secrets
from itertools import pairwise

import pytest

from fleet.calc.api_keys import digest_of, draw_key, opens, read_key


def test_a_drawn_key_reads_back_and_opens_only_its_own_digest() -> None:
    keys = [draw_key(secrets.choice) for _ in range(200)]
    assert len({key.secret for key in keys}) == 200
    for key, other in pairwise(keys):
        assert read_key(str(key)) == key
        assert opens(key.secret, digest_of(key.secret))
        assert not opens(key.secret, digest_of(other.secret))


def test_the_secret_has_256_bits_and_shows_in_no_print_of_the_key() -> None:
    key = draw_key(random.Random(1).choice)
    assert 62 ** len(key.secret) > 2**256
    assert key.secret not in repr(key)


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text[:-1],
        lambda text: text + "a",
        lambda text: text.upper(),
        lambda text: text.replace("layline", "layfine"),
        lambda text: text.replace("_", "-"),
        lambda text: " " + text,
        lambda text: text[:-1] + "é",
        lambda text: text[:-1] + "٣",
        lambda text: text + "\n",
        lambda text: "",
    ],
)
def test_what_is_not_shaped_like_a_key_is_none(change: object) -> None:
    assert callable(change)
    assert read_key(change(str(draw_key(random.Random(2).choice)))) is None
