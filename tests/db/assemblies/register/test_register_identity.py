"""Which hose a row means: by its tag at the site, else by its place and ordinal."""

import pytest

from assemblies.actions.installations import Moment, remove_assembly, swap_assembly
from assemblies.actions.tags import bind_tag, draw_lot
from assemblies.models import Assembly, Position, Stay, Tag
from tests import factories as make

from .yard import HEAD, NOW, outcomes, reason, take_in

pytestmark = pytest.mark.django_db
WHEN = Moment(NOW.date(), NOW)
TWO = ("EX-07,Boom,H1,1/2,1200,2021-05-01,", "EX-07,Boom,,1/2,1200,,")


def test_new_rows_come_in_as_unknown_origin() -> None:
    plan = take_in(make.site(), HEAD, *TWO)
    assert outcomes(plan) == "nn"
    assert {a.origin for a in Assembly.objects.all()} == {"unknown"}
    assert sorted(Position.objects.values_list("place", "place_no")) == [("Boom", 1), ("Boom", 2)]


def test_the_same_file_again_changes_nothing() -> None:
    site = make.site()
    take_in(site, HEAD, *TWO)
    assert outcomes(take_in(site, HEAD, *TWO)) == "ss"
    assert (Assembly.objects.count(), Stay.objects.count()) == (2, 2)


@pytest.mark.parametrize("spelling", ["h1", " H1 ", "Ｈ1", "\u200bH1"])
def test_a_tag_is_known_however_it_is_spelt(spelling: str) -> None:
    site = make.site()
    take_in(site, HEAD, TWO[0])
    again = take_in(site, HEAD, TWO[0].replace("H1", spelling))
    assert outcomes(again) == "s"


def test_the_same_tag_twice_names_the_first_row() -> None:
    site = make.site()
    rows = (TWO[0], "EX-07,Arm,H1,1/2,900,,", "EX-08,Arm,h1,1/2,900,,")
    plan = take_in(site, HEAD, *rows, take_good_rows=True)
    assert outcomes(plan) == "nrr"
    assert [reason(row) for row in plan.rows[1:]] == [
        "Row 2 has the tag H1 already: one hose, one tag.",
        "Row 2 has the tag h1 already: one hose, one tag.",
    ]


def test_another_site_may_have_the_same_mark() -> None:
    take_in(make.site(), HEAD, TWO[0])
    assert outcomes(take_in(make.site(), HEAD, TWO[0])) == "n"


def test_a_tag_that_sits_elsewhere_is_refused_with_where_it_is() -> None:
    site = make.site()
    take_in(site, HEAD, TWO[0])
    plan = take_in(site, HEAD, "EX-09,Arm,H1,1/2,1200,,", "EX-07,Arm,X,,,,", take_good_rows=True)
    assert outcomes(plan)[0] == "r"
    assert reason(plan.rows[0]) == (
        "The register has H1 on EX-07, Boom. Record the move there, or correct the row."
    )


def test_a_place_that_holds_another_hose_is_refused() -> None:
    site = make.site()
    take_in(site, HEAD, TWO[0])
    plan = take_in(site, HEAD, "EX-07,Boom,H9,1/2,1200,,", "EX-07,Arm,H8,,,,", take_good_rows=True)
    assert outcomes(plan) == "rn"
    assert "The register has H1 on this place" in reason(plan.rows[0])


def test_a_row_without_a_tag_on_a_marked_hose_asks_for_the_tag() -> None:
    site = make.site()
    take_in(site, HEAD, TWO[0])
    plan = take_in(site, HEAD, "EX-07,Boom,,1/2,1200,,", "EX-07,Arm,H8,,,,", take_good_rows=True)
    assert reason(plan.rows[0]) == "The register has H1 on this place: give the row its tag."


def test_rows_of_known_hoses_keep_their_places_whatever_their_order() -> None:
    site = make.site()
    rows = ["EX-07,Boom,A,,,,", "EX-07,Boom,,,900,,", "EX-07,Boom,B,,,,"]
    take_in(site, HEAD, *rows)
    again = take_in(site, HEAD, rows[2], rows[1], rows[0])
    assert outcomes(again) == "sss"
    assert [row.place_no for row in again.rows] == [3, 2, 1]


def test_a_refused_row_keeps_its_number_so_that_the_next_is_the_same_hose() -> None:
    site = make.site()
    rows = ["EX-07,Boom,,rubbish,900,,", "EX-07,Boom,,1/2,800,,", "EX-07,Boom,,1/2,700,,"]
    assert outcomes(take_in(site, HEAD, *rows, take_good_rows=True)) == "rnn"
    assert outcomes(take_in(site, HEAD, *rows, take_good_rows=True)) == "rss"
    mended = [rows[0].replace("rubbish", "1/2"), *rows[1:]]
    assert outcomes(take_in(site, HEAD, *mended)) == "nss"


def test_a_twice_given_tag_keeps_its_number_too() -> None:
    site = make.site()
    rows = ["EX-07,Boom,A,,,,", "EX-07,Boom,A,,,,", "EX-07,Boom,,,700,,"]
    assert outcomes(take_in(site, HEAD, *rows, take_good_rows=True)) == "nrn"
    assert outcomes(take_in(site, HEAD, *rows, take_good_rows=True)) == "srs"


def test_a_mark_given_later_makes_the_untagged_row_ask_and_changes_nothing() -> None:
    site = make.site()
    take_in(site, HEAD, *TWO)
    untagged = Assembly.objects.get(owner_mark="")
    untagged.owner_mark = "H2"
    untagged.save()
    plan = take_in(site, HEAD, *TWO, take_good_rows=True)
    assert outcomes(plan) == "sr"
    assert "give the row its tag" in reason(plan.rows[1])
    assert outcomes(take_in(site, HEAD, TWO[0], TWO[1].replace("Boom,,", "Boom,H2,"))) == "ss"


def test_an_own_tag_is_the_hose_it_was_bound_to() -> None:
    site, person = make.site(), make.person("planner")
    take_in(site, HEAD, TWO[0])
    code = draw_lot(site=site, size=1, person=person, at=NOW).tags.get().code
    bind_tag(assembly=Assembly.objects.get(), typed=code, person=person, at=NOW)
    assert (
        outcomes(take_in(site, HEAD, TWO[0].replace("H1", f"{code[:4]}-{code[4:].lower()}"))) == "s"
    )
    assert outcomes(take_in(site, HEAD, TWO[0])) == "s"


def test_a_blank_own_tag_of_the_site_is_bound() -> None:
    site, person = make.site(), make.person("planner")
    code = draw_lot(site=site, size=1, person=person, at=NOW).tags.get().code
    line = TWO[0].replace("H1", code)
    take_in(site, HEAD, line)
    assert Assembly.objects.values_list("tag_id", "owner_mark").get() == (code, "")
    assert outcomes(take_in(site, HEAD, line)) == "s"


def test_another_sites_own_tag_is_refused() -> None:
    other, person = make.site(), make.person("planner")
    code = draw_lot(site=other, size=1, person=person, at=NOW).tags.get().code
    plan = take_in(make.site(), HEAD, TWO[0].replace("H1", code), TWO[1], take_good_rows=True)
    assert "none of this site’s tags" in reason(plan.rows[0])


def test_a_mark_that_looks_like_an_own_tag_is_a_mark() -> None:
    site, code = make.site(), make_tag()
    take_in(site, HEAD, TWO[0].replace("H1", code))
    assert Assembly.objects.get().owner_mark == code
    assert not Tag.objects.exists()


def make_tag() -> str:
    import random

    from assemblies.calc.tags import draw_tag

    return draw_tag(random.Random(1).choice)


def test_a_scrapped_hose_is_not_brought_back() -> None:
    site = make.site()
    take_in(site, HEAD, *TWO)
    for hose in Assembly.objects.all():
        remove_assembly(
            assembly=hose, removal="due", to="scrapped", when=WHEN, person=None, now=NOW
        )
    plan = take_in(site, HEAD, *TWO, "EX-07,Arm,X,,,,", take_good_rows=True)
    assert outcomes(plan) == "rrn"
    assert "H1 is scrapped" in reason(plan.rows[0])
    assert "was taken off this place" in reason(plan.rows[1])


def test_a_hose_swapped_since_is_not_taken_for_the_old_one() -> None:
    site = make.site()
    take_in(site, HEAD, TWO[1])
    spare = make.assembly(at=site)
    swap_assembly(
        position=Position.objects.get(), new=spare, removal="due", old_to="scrapped",
        when=WHEN, person=None, now=NOW,
    )  # fmt: skip
    plan = take_in(site, HEAD, TWO[1], "EX-07,Arm,X,,,,", take_good_rows=True)
    assert "was taken off this place" in reason(plan.rows[0])


def test_a_row_that_is_nowhere_is_refused() -> None:
    rows = (TWO[0], ",Boom,H7,,,,")
    blank = {"machine.blanks": "blank"}
    plan = take_in(make.site(), HEAD, *rows, answers=blank, take_good_rows=True)
    assert plan.rows[1].refusals[0].cell == "A3"


STORE = "Store,Tag,Size,Length mm,Note"


def test_hoses_in_the_store_are_known_by_tag_or_by_what_they_are() -> None:
    site = make.site()
    rows = ["Bin 3,S1,1/2,900,", "Bin 3,,1/2,900,", "Bin 3,,3/4,700,", "Bin 3,,3/4,700,"]
    take_in(site, STORE, *rows)
    assert outcomes(take_in(site, STORE, *rows)) == "ssss"
    assert outcomes(take_in(site, STORE, *reversed(rows))) == "ssss"
    assert Stay.objects.filter(place="store", store_place="Bin 3").count() == 4


def test_a_refused_row_of_the_store_moves_no_other() -> None:
    site = make.site()
    rows = ["Bin 3,,rubbish,900,", "Bin 3,,1/2,800,"]
    assert outcomes(take_in(site, STORE, *rows, take_good_rows=True)) == "rn"
    assert outcomes(take_in(site, STORE, *rows, take_good_rows=True)) == "rs"
    assert outcomes(take_in(site, STORE, rows[0].replace("rubbish", "1/2"), rows[1])) == "ns"


def test_another_shelf_is_a_change_and_a_machine_is_a_move() -> None:
    site = make.site()
    take_in(site, STORE, "Bin 3,S1,1/2,900,")
    assert outcomes(take_in(site, STORE, "Bin 4,S1,1/2,900,")) == "c"
    plan = take_in(site, HEAD, "EX-07,Boom,S1,,,,", TWO[0], take_good_rows=True)
    assert "in the store (Bin 4)" in reason(plan.rows[0])


def test_a_machine_that_was_sold_takes_no_hoses() -> None:
    site = make.site()
    make.machine(at=site, fleet_number="EX-07", status="sold")
    plan = take_in(site, HEAD, TWO[0], "EX-08,Arm,X,,,,", take_good_rows=True)
    assert "Machine EX-07 is sold" in reason(plan.rows[0])
