"""Payloads that are hostile, huge, odd or none: read within bounds or refused in a sentence."""

import json
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from fleet.telematics.nodes import PayloadError
from fleet.telematics.parse import parse_snapshot, read_hours, read_moment
from tests.fake_provider import fleet, machine

REFUSED = Path(__file__).resolve().parents[4] / "fixtures" / "telematics" / "refused"
WORDS = {
    "entities.xml": "entities",
    "external_entity.xml": "entities",
    "document_type.xml": "document type",
    "too_deep.xml": "too deep",
    "cut_short.xml": "not whole XML",
    "a_page_for_people.xml": "no “Fleet”",
    "too_deep.json": "too deep",
    "cut_short.json": "not whole JSON",
    "an_error.json": "no “Fleet”",
}


@pytest.mark.parametrize("path", sorted(REFUSED.iterdir()), ids=lambda path: path.name)
def test_refuses_a_payload_in_a_sentence(path: Path) -> None:
    with pytest.raises(PayloadError) as refused:
        parse_snapshot(path.read_bytes(), form=path.suffix[1:])
    assert WORDS[path.name] in str(refused.value)


@pytest.mark.parametrize("form", ["xml", "json"])
@pytest.mark.parametrize(
    "payload",
    [b"", b"\x00", b"\xff\xfe\x00", b"[" * 10**6, b"<a>" * 10**6, b'{"a":' * 10**5, b"null", b"1"],
    ids=["nothing", "nul", "odd", "brackets", "tags", "objects", "null", "one"],
)
def test_refuses_what_is_no_payload(form: str, payload: bytes) -> None:
    with pytest.raises(PayloadError):
        parse_snapshot(payload, form=form)


def test_a_hundred_thousand_machines_are_refused_in_bounded_time_and_room() -> None:
    payload = fleet(*[machine("A", "1")] * 100_000)
    tracemalloc.start()
    began = time.process_time()
    with pytest.raises(PayloadError, match="too much for one page"):
        parse_snapshot(payload, form="xml")
    spent, (_, most) = time.process_time() - began, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 400 * 2**20
    assert spent < 60  # it takes about two; without a bound it would grow with what is sent


def test_a_page_of_too_many_machines_is_refused_with_their_number() -> None:
    with pytest.raises(PayloadError, match="holds 5001 machines"):
        parse_snapshot(fleet(*["<Equipment/>"] * 5001), form="xml")


@pytest.mark.parametrize("figure", ["NaN", "Infinity", "-Infinity", "1" * 5000, "-1", "1e999"])
def test_a_number_of_json_that_is_none_is_said(figure: str) -> None:
    payload = (
        '{"Equipment": [{"EquipmentHeader": {"PIN": "A"}, "CumulativeOperatingHours": '
        f'{{"Hour": {figure}, "datetime": "2026-03-09T06:00:00Z"}}}}]}}'
    )
    (told,) = parse_snapshot(payload.encode(), form="json").machines
    assert not told.usable
    assert "operating hours" in told.problem


@pytest.mark.parametrize("value", [None, True, [], {}, [None], "", " "])
def test_a_figure_of_json_that_is_empty_is_said(value: Any) -> None:
    hours = {"Hour": value, "datetime": "2026-03-09T06:00:00Z"}
    page = {"Equipment": [{"EquipmentHeader": {"PIN": "A"}, "CumulativeOperatingHours": hours}]}
    (told,) = parse_snapshot(json.dumps(page).encode(), form="json").machines
    assert told.problem == "It told operating hours without a figure."


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("<PIN>A</PIN><PIN>B</PIN>", "names itself twice"),
        (f"<PIN>{'A' * 81}</PIN>", "can't be a name"),
        ("<PIN>A&#xE000;</PIN>", "can't be a name"),
        ("<PIN>A&#xFDFA;" + "&#xFDFA;" * 70 + "</PIN>", "can't be a name"),
        ("<PIN>n/a</PIN><SerialNumber>7</SerialNumber>", "neither PIN"),
    ],
)
def test_a_name_that_can_not_be_one_is_said(header: str, words: str) -> None:
    page = fleet(f"<Equipment><EquipmentHeader>{header}</EquipmentHeader></Equipment>")
    (told,) = parse_snapshot(page, form="xml").machines
    assert told.identity is None
    assert words in told.problem


def test_an_empty_fleet_is_a_fleet() -> None:
    assert parse_snapshot(b"<Fleet/>", form="xml").machines == ()
    assert parse_snapshot(b'{"Equipment": []}', form="json").machines == ()


@pytest.mark.parametrize("text", ["2026-03-09 06:00:00Z", "20260309T060000Z", "2026-03-09T06:00Z"])
def test_a_moment_in_other_spellings_is_the_same(text: str) -> None:
    moment, known = read_moment(text)
    assert (moment.isoformat(), known) == ("2026-03-09T06:00:00+00:00", True)


@pytest.mark.parametrize(
    "text", ["2026-03-09T24:00:00Z", "2026-02-29T06:00:00Z", "9999-12-31T23:59:59-14:00", "7"]
)
def test_a_moment_that_is_none_is_said(text: str) -> None:
    with pytest.raises(ValueError, match="Its time"):
        read_moment(text)


def said(read: Callable[[], object], refusal: type[Exception]) -> str:
    """The sentence of a refusal; “read” where there is none."""
    try:
        read()
    except refusal as refused:
        return str(refused)
    return "read"


@settings(max_examples=300, deadline=None)
@given(some.text(max_size=60))
def test_any_text_is_hours_or_a_sentence(text: str) -> None:
    hours, moment = (
        said(lambda: read_hours(text), ValueError),
        said(lambda: read_moment(text), ValueError),
    )
    assert hours.startswith(("read", "Its operating hours"))
    assert moment.startswith(("read", "Its time", "It told"))


@settings(max_examples=200, deadline=None)
@given(some.binary(max_size=300), some.sampled_from(["xml", "json"]))
def test_any_bytes_are_a_snapshot_or_a_sentence(payload: bytes, form: str) -> None:
    assert said(lambda: parse_snapshot(payload, form=form), PayloadError)


NAMES = (
    *("Fleet", "Equipment", "EquipmentHeader", "PIN", "CumulativeOperatingHours", "Hour"),
    *("datetime", "Links", "rel", "href"),
)
TREES = some.recursive(
    some.none() | some.booleans() | some.floats() | some.text(max_size=5),
    lambda inner: (
        some.lists(inner, max_size=3)
        | some.dictionaries(some.sampled_from(NAMES), inner, max_size=4)
    ),
    max_leaves=20,
)


@settings(max_examples=300, deadline=None)
@given(TREES)
def test_any_json_is_a_snapshot_or_a_sentence(told: Any) -> None:
    payload = json.dumps(told).encode()
    assert said(lambda: parse_snapshot(payload, form="json"), PayloadError)
