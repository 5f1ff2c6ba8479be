"""What an import writes, and that it is all of it or nothing."""

import datetime as dt
from decimal import Decimal
from unittest import mock

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from assemblies.actions.register import writing
from assemblies.models import Assembly, Position, Stay
from assemblies.signals import installation_changed
from fleet.actions.refusals import Refused
from fleet.models import HourMeter, HourReading, Machine, SiteSpell, TrailEntry, Usage
from scheduling.models import Inspection, StaleMark
from tests import factories as make

from .yard import HEAD, NOW, outcomes, reason, take_in

pytestmark = pytest.mark.django_db
FULL = (
    "Machine,Machine class,Make,Model,Machine serial,Position,Circuit,Consequence,Tag,"
    "Hose type,Size,Length mm,WP bar,End A,End B,Hose made,Built,Fitted,Hours at fitting,"
    "Hours now,Hours read on,Last inspected,Note"
)
ROW = (
    "EX-07,Excavator,Maker,M 1,S-77,Boom left,boom,stops the machine,H1,2SN,1/2,1200.5,275,"
    "24° cone,24° cone 90°,2Q21,2021-08-01,May 2022,8120,9000.5,2026-03-01,2026-01-15,rubbed"
)


def test_a_machine_is_made_as_if_by_hand() -> None:
    site = make.site()
    take_in(site, FULL, ROW)
    machine = Machine.objects.get()
    assert (str(machine.machine_class), machine.maker, machine.model, machine.serial_number) == (
        *("Excavator", "Maker", "M 1", "S-77"),
    )
    assert SiteSpell.objects.get().from_on == NOW.date()
    assert HourMeter.objects.get().counts == "engine"
    assert Usage.objects.get().machine == machine


def test_a_hose_is_written_with_every_fact() -> None:
    take_in(make.site(), FULL, ROW)
    hose = Assembly.objects.get()
    assert (hose.hose_type, hose.size_dn, hose.size_typed) == ("2SN", 12, "1/2")
    assert (hose.length_mm, hose.working_pressure_bar) == (Decimal("1200.5"), Decimal(275))
    assert (hose.made_earliest_on, hose.made_latest_on, hose.made_precision, hose.made_typed) == (
        *(dt.date(2021, 4, 1), dt.date(2021, 6, 30), "quarter", "2Q21"),
    )
    assert (hose.built_earliest_on, hose.known_from_on) == (dt.date(2021, 8, 1), NOW.date())
    assert (hose.end_a, hose.end_b, hose.note) == ("24° cone", "24° cone 90°", "rubbed")


def test_its_stay_and_position_too() -> None:
    take_in(make.site(), FULL, ROW)
    stay, position = Stay.objects.get(), Position.objects.get()
    assert (stay.position, stay.is_open, stay.place) == (position, True, "position")
    assert (stay.from_earliest_on, stay.from_latest_on, stay.from_typed) == (
        *(dt.date(2022, 5, 1), dt.date(2022, 5, 31), "May 2022"),
    )
    assert stay.from_machine_h == Decimal(8120)
    assert (position.place, position.circuit, position.consequence) == (
        *("Boom left", "working", "stops"),
    )


def test_hours_and_inspection_are_recorded_once() -> None:
    site = make.site()
    take_in(site, FULL, ROW)
    take_in(site, FULL, ROW)
    reading = HourReading.objects.get()
    assert (reading.reading_h, reading.read_on, reading.source) == (
        *(Decimal("9000.5"), dt.date(2026, 3, 1), "imported"),
    )
    assert Inspection.objects.values_list("inspected_on", "occasion").get() == (
        *(dt.date(2026, 1, 15), "from a register"),
    )


def test_a_later_inspection_is_new_and_an_earlier_one_is_not() -> None:
    site = make.site()
    take_in(site, FULL, ROW)
    assert outcomes(take_in(site, FULL, ROW.replace("2026-01-15", "2025-12-01"))) == "s"
    assert outcomes(take_in(site, FULL, ROW.replace("2026-01-15", "2026-02-15"))) == "c"
    assert Inspection.objects.count() == 2


def test_the_trail_tells_of_every_thing_and_of_the_row() -> None:
    person = make.person("planner")
    take_in(make.site(), FULL, ROW, person=person)
    deeds = dict(TrailEntry.objects.values_list("deed", "subject_label"))
    assert {
        *("added a machine", "added a position", "registered a hose"),
        *("recorded an inspection", "recorded a reading"),
    } <= deeds.keys()
    entry = TrailEntry.objects.get(deed="registered a hose")
    assert (entry.subject_label, entry.actor, entry.reason) == ("H1", person, "a.csv")
    assert entry.after == {
        "type of hose": "2SN", "size": "DN12", "length": "1200.5 mm",
        "working pressure": "275 bar", "end A": "24° cone", "end B": "24° cone 90°",
        "note": "rubbed", "hose made": "2021-04-01 to 2021-06-30",
        "assembly built": "2021-08-01", "row": 2, "where": "EX-07, Boom left",
    }  # fmt: skip


def test_a_change_is_told_from_what_to_what() -> None:
    site = make.site()
    take_in(site, FULL, ROW)
    plan = take_in(
        site, FULL, ROW.replace("1200.5", "1150").replace("boom,stops", "steering,stops")
    )
    assert plan.rows[0].detail()["changes"] == [
        ["length", "1200.5 mm", "1150 mm"],
        ["circuit", "working", "steering"],
    ]
    assert Assembly.objects.get().length_mm == 1150
    entry = TrailEntry.objects.get(deed="changed a hose")
    assert (entry.before, entry.after) == (
        *({"length": "1200.5 mm"}, {"length": "1150 mm", "row": 2}),
    )
    assert Position.objects.get().circuit == "steering"


def test_blank_cells_never_erase() -> None:
    site = make.site()
    take_in(site, FULL, ROW)
    before = Assembly.objects.values().get()
    silent = "EX-07,,,,,Boom left,,,H1,,,,,,,,,,,,,,"
    assert outcomes(take_in(site, FULL, silent)) == "s"
    assert Assembly.objects.values().get() == before


def test_another_spelling_is_no_change() -> None:
    site = make.site()
    take_in(site, FULL, ROW)
    said = ROW.replace(",1/2,", ",DN12,").replace("275,24°", "27.5 MPa,24°")
    assert outcomes(take_in(site, FULL, said)) == "s"


def test_machine_facts_that_differ_change_the_machine() -> None:
    site = make.site()
    take_in(site, FULL, ROW)
    plan = take_in(site, FULL, ROW.replace("M 1", "M 2"))
    assert plan.rows[0].adds == ("model of the machine EX-07: M 1 → M 2",)
    assert Machine.objects.get().model == "M 2"


def test_of_rows_that_say_different_things_of_a_machine_the_first_is_taken() -> None:
    site = make.site()
    two = [ROW, ROW.replace("M 1", "M 3").replace("H1", "H2").replace("Boom left", "Arm")]
    plan = take_in(site, FULL, *two)
    said = "“M 3” is not taken as the model of the machine EX-07: row 2 says otherwise."
    assert (outcomes(plan), plan.rows[1].notes) == ("nn", (said,))
    assert Machine.objects.get().model == "M 1"
    assert outcomes(take_in(site, FULL, *two)) == "ss"


def test_hours_of_one_day_that_differ_are_refused() -> None:
    two = [ROW, ROW.replace("9000.5", "9001").replace("H1", "H2").replace("Boom left", "Arm")]
    plan = take_in(make.site(), FULL, *two, take_good_rows=True)
    assert "Row 2 says 9000.5 h of machine EX-07" in reason(plan.rows[1])


def test_an_unknown_circuit_keeps_its_own_word() -> None:
    site = make.site()
    take_in(site, FULL, ROW.replace("left,boom", "left,Fan"))
    assert Position.objects.values_list("circuit", "note").get() == ("other", "circuit: Fan")
    assert outcomes(take_in(site, FULL, ROW.replace("left,boom", "left,Fan"))) == "s"


def test_nothing_is_written_while_a_row_is_refused() -> None:
    with pytest.raises(Refused, match="1 row is refused, so nothing was written"):
        take_in(make.site(), HEAD, "EX-07,Boom,H1,1/2,,,", "EX-07,Arm,H2,rubbish,,,")
    assert not Assembly.objects.exists()
    assert not Machine.objects.exists()


def test_the_good_rows_alone_are_a_stated_choice() -> None:
    rows = ("EX-07,Boom,H1,1/2,,,", "EX-08,Arm,H2,rubbish,,,")
    assert outcomes(take_in(make.site(), HEAD, *rows, take_good_rows=True)) == "nr"
    assert [m.fleet_number for m in Machine.objects.all()] == ["EX-07"]


def test_a_failure_in_the_middle_leaves_nothing() -> None:
    with (
        mock.patch.object(writing, "write_trail", side_effect=IntegrityError("torn")),
        pytest.raises(Refused, match="The register has changed"),
    ):
        take_in(make.site(), HEAD, "EX-07,Boom,H1,1/2,,,")
    assert not Assembly.objects.exists()
    assert not Machine.objects.exists()


def test_news_is_sent_once_and_the_dues_are_marked() -> None:
    told: list[list[int]] = []

    def hear(assembly_ids: list[int], **_: object) -> None:
        told.append(assembly_ids)

    installation_changed.connect(hear)
    try:
        take_in(make.site(), HEAD, *(f"EX-{n},Boom,H{n},1/2,,," for n in range(9)))
    finally:
        installation_changed.disconnect(hear)
    assert [len(ids) for ids in told] == [9]
    assert StaleMark.objects.exists()


def test_queries_do_not_grow_with_the_rows() -> None:
    counts = []
    for size in (5, 20, 400):
        site = make.site()
        with CaptureQueriesContext(connection) as seen:
            take_in(site, HEAD, *(f"EX-07,P{n},H{n},1/2,,," for n in range(size)))
        counts.append(len(seen))
    assert counts[1] == counts[2]  # the first makes the class of machine as well
