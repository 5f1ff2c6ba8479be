"""Fleet snapshots of ISO 15143-3 read whole.

Source: ISO 15143-3 (element names as quoted in the project's design; from public pages, the
standard itself was not at hand). The payloads in fixtures/telematics are invented.
"""

import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest

from fleet.calc.snapshots import Snapshot, Told
from fleet.telematics.parse import parse_snapshot

PAYLOADS = Path(__file__).resolve().parent.parent.parent / "fixtures" / "telematics"


def read(name: str) -> Snapshot:
    path = PAYLOADS / name
    return parse_snapshot(path.read_bytes(), form=path.suffix[1:])


def in_utc(told: Told) -> str:
    assert told.read_at is not None
    return told.read_at.isoformat()


@pytest.mark.parametrize("name", ["snapshot.xml", "snapshot.json"])
def test_reads_a_page_with_all_of_its_names(name: str) -> None:
    page = read(name)
    assert (page.taken, page.next_href) == (
        "2026-03-09T07:00:00Z",
        "https://data.harrow.example/fleet/2",
    )
    first, second = page.machines
    assert first.identity is not None
    assert (first.identity.kind, first.identity.pin) == ("pin", "HARPL90X000014")
    assert (first.identity.maker, first.identity.model) == ("Harrow Plant", "L90")
    assert (first.identity.equipment_ref, first.identity.serial_number) == ("EX-014", "900014")
    assert (first.hours, first.typed) == (Decimal("12450.5"), "12450.55")
    assert in_utc(first) == "2026-03-09T06:58:12+00:00"
    assert (second.hours, in_utc(second)) == (Decimal("310.0"), "2026-03-09T06:58:12+00:00")


def test_both_forms_tell_the_same() -> None:
    assert read("snapshot.xml").machines == read("snapshot.json").machines


@pytest.mark.parametrize("name", ["other_names.xml", "other_names.json"])
def test_names_are_known_in_any_case_and_namespace(name: str) -> None:
    (told,) = read(name).machines
    assert told.identity is not None
    assert told.identity.key == "harpl90x000014"
    assert (told.hours, in_utc(told)) == (Decimal("233.7"), "2026-03-09T06:00:00+00:00")
    assert read(name).next_href in ("2", "/fleet/2")
    assert read(name).taken == "2026-03-09T07:00:00.000Z"


def test_the_last_page_links_to_itself() -> None:
    assert read("last_page.xml").next_href == "https://data.harrow.example/fleet/9"


TRAPS = [
    ("pin", None, "told no operating hours"),
    ("pin", None, "without a figure"),
    ("pin", None, "without a figure"),
    ("serial", "4", ""),
    ("serial", "5", ""),
    ("equipment", "6", ""),
    ("equipment", "7", ""),
    (None, None, "neither PIN nor make and serial number"),
    ("pin", None, "more than one figure"),
    ("pin", None, "without the time they are of"),
    ("pin", None, "without the time they are of"),
    ("pin", "12", ""),
    ("pin", "13", ""),
    ("pin", None, "“NaN” are not a figure"),
    ("pin", None, "“-15” are not between"),
    ("pin", "1600", ""),
    ("pin", None, "“1e400” are not between"),
    ("pin", None, "“10000000.5” are not between"),
    ("pin", None, "“12,450.5” are not a figure"),
    ("pin", None, "“yesterday” is not a moment"),
    ("pin", None, "not between 1970 and 2100"),
    ("serial", "22", ""),
]


@pytest.mark.parametrize("n", range(len(TRAPS)))
def test_every_trap_is_taken_as_it_is_or_said(n: int) -> None:
    told, (kind, hours, words) = read("traps.xml").machines[n], TRAPS[n]
    assert (told.identity.kind if told.identity else None) == kind
    assert told.hours == (None if hours is None else Decimal(hours))
    assert told.usable is (hours is not None)
    assert words in told.problem
    assert bool(words) is bool(told.problem)


def test_every_trap_has_its_row() -> None:
    assert len(read("traps.xml").machines) == len(TRAPS)


def test_a_time_without_a_zone_stays_without_and_a_thousandth_goes() -> None:
    without, fine = read("traps.xml").machines[11:13]
    assert without.read_at == dt.datetime(2026, 3, 9, 6)  # noqa: DTZ001  # it came without a zone
    assert without.zone_known is False
    assert (in_utc(fine), fine.zone_known) == ("2026-03-09T06:00:00+00:00", True)
