"""What the API's JSON reader takes and refuses."""

import time

import pytest

from fleet.api.parsers import MOST_BYTES, read_object
from fleet.api.problems import BadRequest


def refusal(raw: bytes) -> str:
    with pytest.raises(BadRequest) as caught:
        read_object(raw)
    assert caught.value.status_code == 400
    assert caught.value.problem.sentence.endswith((".", "}."))
    return caught.value.problem.code


def test_reads_an_object_with_exact_decimals() -> None:
    found = read_object('{"h": 12450.5, "note": "“№ 7” \\" [[["}'.encode())
    assert str(found["h"]) == "12450.5"


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"[" * 100_000, "too_deep"),
        (b'{"a":' * 50 + b"1" + b"}" * 50, "too_deep"),
        (b'{"a": NaN}', "not_a_number"),
        (b'{"a": -Infinity}', "not_a_number"),
        (b'{"a": ' + b"9" * 5000 + b"}", "number_too_long"),
        (b'{"a": 1e400}', "number_too_long"),
        (b'{"a": 1e999999999}', "number_too_long"),
        (b'{"a": "x\\u0000"}', "unreadable_sign"),
        (b'{"a": ["\\ud800"]}', "unreadable_sign"),
        (b'{"a\\u0000": 1}', "unreadable_sign"),
        (b'{"a": 1, "a": 2}', "written_twice"),
        (b"[1]", "not_an_object"),
        (b'"a"', "not_an_object"),
        (b"{", "not_json"),
        (b"", "not_json"),
        (b"\xff", "not_utf8"),
        (b'{"a": "x\ny"}', "not_json"),
    ],
)
def test_refuses_what_no_client_should_send(raw: bytes, code: str) -> None:
    assert refusal(raw) == code


@pytest.mark.parametrize("piece", [b'\\"', b'"', b"\\", b'"a', b"{", b"[1,"])
def test_refuses_a_hostile_megabyte_in_a_second(piece: bytes) -> None:
    began = time.process_time()
    refusal(b'{"a": "' + piece * ((MOST_BYTES - 100) // len(piece)))
    assert time.process_time() - began < 1.5
