"""Ends and hose types by every name the trade gives them; what a search means."""

import random

import pytest

from assemblies.calc.connections import ENDS, end_named, hose_type_named, standard_end
from assemblies.calc.search import MOST_TERMS, terms_of
from assemblies.calc.sizes import all_sizes
from assemblies.calc.standard_notes import end_notes, hose_notes
from assemblies.standards import tables


@pytest.mark.parametrize(
    ("text", "end"),
    [
        ("DKOL", "24° cone L"),
        ("DKO-S", None),
        ("24° cone, light", "24° cone L"),
        ("24° Cone  S", "24° cone S"),
        ("ISO 24° cone heavy", "24° cone S"),
        ("SAE flange code 61", "flange code 61"),
        ("Code 62", "flange code 62"),
        ("JIC 37°", "37° cone"),
        ("37°", "37° cone"),
        ("ORFS", "flat-face"),
        ("flat-face", "flat-face"),
        ("BSPP", "BSP 60° cone"),
        ("", None),
        ("61", None),
    ],
)
def test_an_end_is_found_by_the_trades_names(text: str, end: str | None) -> None:
    assert end_named(text) == end


def test_every_end_is_found_by_its_own_name() -> None:
    assert [end_named(end) for end in ENDS] == list(ENDS)


def test_every_row_of_the_ends_is_found_by_tube_by_thread_and_by_both() -> None:
    for row in tables.end_ratings():
        assert standard_end(row.end, row.size) is row
        if row.thread:
            assert standard_end(row.end, row.thread) is row
            written = row.thread.replace("x", "×")
            assert standard_end(row.end, f"{row.end[-1]}{row.size} {written}") is row


def test_a_tube_and_a_thread_that_do_not_belong_together_find_nothing() -> None:
    assert standard_end("DKOL", "L22 M36×2") is None
    assert standard_end("DKOS", "S14") is None
    assert standard_end("JIC", "-12") is None


def test_a_flange_is_found_by_any_notation_of_its_size() -> None:
    found = {standard_end("code 61", text) for text in ("3/4", '3/4"', "-12", "DN19", "19.05 mm")}
    assert len(found) == 1
    assert found != {None}


def test_every_hose_type_is_found_by_its_own_name() -> None:
    for kind in tables.hose_types():
        found = hose_type_named(kind.type if kind.type != "ISO 18752" else "18752")
        assert found is kind


def test_a_search_reads_each_size_in_each_notation() -> None:
    for size in all_sizes():
        for text in (f"DN{size.dn}", f"dn {size.dn}", f"-{size.dash}", f'{size.inch}"'):
            terms = terms_of(text)
            assert [term.sizes_dn for term in terms] == [frozenset({size.dn})], text


def test_a_search_never_raises_and_stays_short() -> None:
    draw = random.Random(7)
    signs = "DN12-8/\"½' ()[]{}%_\\\0\u202e№×R2ATdkol" + chr(0x1F600)
    for _ in range(2000):
        text = "".join(draw.choice(signs) for _ in range(draw.randrange(200)))
        terms = terms_of(text)
        assert len(terms) <= MOST_TERMS
        assert all(term.word and "\0" not in term.word for term in terms)


def test_every_note_names_document_edition_and_mark() -> None:
    for row in tables.hose_pressures():
        notes = hose_notes(row.type, row.dn)
        assert notes[0].figure == f"{row.working_pressure_bar:f} bar"
        assert all("," in note.document and note.standing for note in notes)
    assert "unverified" in hose_notes("2SN", 12)[-1].standing


def test_what_no_table_knows_has_no_note() -> None:
    assert hose_notes("", 12) == hose_notes("2SN", 63) == end_notes("JIC", "-8") == ()
