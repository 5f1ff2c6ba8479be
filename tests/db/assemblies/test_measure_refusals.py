"""Every box of the measuring form, with every reason it is refused for and its sentence."""

import pytest

from assemblies.forms.measure import SLEEVES, OldHoseForm
from assemblies.forms.measure_ends import EndForm
from tests import factories as make
from tests.db.assemblies import old_hoses as old

pytestmark = pytest.mark.django_db

HOSE_CASES: list[tuple[str, dict[str, str], str]] = [
    ("title", {"title": ""}, "This field is required."),
    ("title", {"title": "x" * 161}, "at most 160 characters"),
    ("layline", {"layline": "x" * 201}, "at most 200 characters"),
    ("hose_type", {"hose_type": "9XX"}, "Select a valid choice"),
    ("hose_type", {"hose_type": "1SN"}, "The layline says 2SN, you chose 1SN: which is it?"),
    ("size", {"size": "12"}, "could be"),
    ("size", {"size": "DN13.5"}, "is no hose size"),
    ("size", {"size": "DN16"}, "The layline says DN12, you wrote DN16: which is it?"),
    ("size", {"size": "x" * 21}, "at most 20 characters"),
    ("made", {"made": "07/10", "layline": ""}, "say which"),
    ("made", {"made": "nonsense"}, "“nonsense”"),
    ("made", {"made": "2031-01-01", "layline": ""}, "2031"),
    ("made", {"made": "3Q16"}, "The layline has another date than this: which is it?"),
    ("made", {"made": "x" * 61}, "at most 60 characters"),
    ("outside_mm", {"outside_mm": "thick"}, "thick"),
    ("outside_mm", {"outside_mm": "0"}, "0.00 mm can’t be: it lies above 0 and up to 200 mm."),
    ("outside_mm", {"outside_mm": "201"}, "201.00 mm can’t be"),
    ("over_wire_mm", {"over_wire_mm": "-3"}, "-3"),
    ("over_wire_mm", {"over_wire_mm": "201"}, "201.00 mm can’t be"),
    (
        "over_wire_mm",
        {"outside_mm": "22", "over_wire_mm": "23"},
        "The wire lies under the cover of 22.00 mm.",
    ),
    ("layers", {"layers": "two"}, "Enter a whole number."),
    ("layers", {"layers": "0"}, "greater than or equal to 1"),
    ("layers", {"layers": "9"}, "less than or equal to 8"),
    ("length_mm", {"length_mm": ""}, "This field is required."),
    ("length_mm", {"length_mm": "long"}, "long"),
    ("length_mm", {"length_mm": "0"}, "0.00 mm can’t be"),
    ("length_mm", {"length_mm": "101 m"}, "101000.00 mm can’t be"),
    ("length_basis", {"length_basis": ""}, "This field is required."),
    ("length_basis", {"length_basis": "elbow"}, "Select a valid choice"),
    ("orientation_deg", {"orientation_deg": "north"}, "Enter a whole number."),
    ("orientation_deg", {"orientation_deg": "360"}, "less than or equal to 359"),
    ("orientation_deg", {"orientation_deg": "-1"}, "greater than or equal to 0"),
    (
        "orientation_deg",
        {"orientation_deg": "90"},
        "No angle: end A is straight, end B is straight. Leave it empty.",
    ),
    (
        "orientation_deg",
        {
            "orientation_deg": "0", "a_form": "elbow_90", "b_form": "elbow_90",
            "b_turns": "live_swivel",
        },
        "No angle: end B turns about the hose. Leave it empty.",
    ),
    ("marks", {"marks": "x" * 201}, "at most 200 characters"),
    ("note", {"note": "x" * 1001}, "at most 1000 characters"),
    ("client_id", {"client_id": ""}, "This field is required."),
    ("client_id", {"client_id": "x" * 41}, "at most 40 characters"),
    *(
        case
        for n in SLEEVES
        for case in (
            (f"sleeve_{n}", {f"sleeve_{n}": "x" * 81}, "at most 80 characters"),
            (f"sleeve_{n}", {f"sleeve_{n}_to": "300"}, "Say what kind it is."),
            (f"sleeve_{n}_from", {f"sleeve_{n}": "guard", f"sleeve_{n}_from": "here"}, "here"),
            (
                f"sleeve_{n}_from",
                {f"sleeve_{n}": "guard", f"sleeve_{n}_from": "1201"},
                "The hose is 1200.00 mm long: this lies past its end.",
            ),
            (f"sleeve_{n}_to", {f"sleeve_{n}": "guard", f"sleeve_{n}_to": "there"}, "there"),
            (
                f"sleeve_{n}_to",
                {f"sleeve_{n}": "guard", f"sleeve_{n}_from": "300", f"sleeve_{n}_to": "300"},
                "It ends where it begins, or before.",
            ),
            (
                f"sleeve_{n}_to",
                {f"sleeve_{n}": "guard", f"sleeve_{n}_to": "1.3 m"},
                "The hose is 1200.00 mm long: this lies past its end.",
            ),
        )
    ),
]  # fmt: skip
END_CASES: list[tuple[str, dict[str, str], str]] = [
    ("form", {"form": ""}, "This field is required."),
    ("form", {"form": "bow"}, "Select a valid choice"),
    ("turns", {"turns": "round"}, "Select a valid choice"),
    ("kind", {"kind": "neuter"}, "Select a valid choice"),
    ("kind", {"kind": "", "is_key": ""}, "Say what this diameter is of"),
    ("diameter_mm", {"diameter_mm": ""}, "Measure the diameter, or say that it was not measured."),
    ("diameter_mm", {"diameter_mm": "wide"}, "wide"),
    ("diameter_mm", {"diameter_mm": "0"}, "0.00 mm is no size of an end"),
    ("diameter_mm", {"diameter_mm": "201"}, "201.00 mm is no size of an end"),
    ("pitch_mm", {"pitch_mm": "fine"}, "“fine” is not a plain figure"),
    ("pitch_mm", {"pitch_mm": "0.2"}, "0.2 mm is no pitch"),
    ("pitch_mm", {"pitch_mm": "14"}, "14 mm is no pitch"),
    ("per_inch", {"per_inch": "x"}, "“x” is not a plain figure"),
    ("per_inch", {"per_inch": "3"}, "3 is no number of threads an inch"),
    ("per_inch", {"per_inch": "81"}, "81 is no number of threads an inch"),
    ("per_inch", {"per_inch": "14"}, "14 threads an inch are a pitch of 1.814 mm, not 2 mm"),
    ("seat", {"seat": "12"}, "Select a valid choice"),
    ("flank", {"flank": "90"}, "Select a valid choice"),
    ("tapered", {"tapered": "perhaps"}, "Select a valid choice"),
    ("tube_mm", {"tube_mm": "a tube"}, "a tube"),
    ("tube_mm", {"tube_mm": "250"}, "250.00 mm is no size of an end"),
    ("spacing_mm", {"spacing_mm": "apart"}, "apart"),
    ("spacing_mm", {"spacing_mm": "0"}, "0.00 mm is no size of an end"),
    ("is_key", {"is_key": "37° cone|-8"}, "This no longer fits what was measured: choose again."),
    ("is_key", {"is_key": "magic"}, "This no longer fits what was measured: choose again."),
    ("drop_mm", {"drop_mm": "deep"}, "deep"),
    ("drop_mm", {"drop_mm": "201"}, "201.00 mm is no size of an end"),
    ("marks", {"marks": "x" * 81}, "at most 80 characters"),
]


@pytest.mark.parametrize(("field", "changes", "sentence"), HOSE_CASES)
def test_a_box_of_the_hose_is_refused(field: str, changes: dict[str, str], sentence: str) -> None:
    forms = old.read(old.typed(**changes))
    assert not forms.is_valid()
    assert any(sentence in error for error in forms.hose.errors[field]), forms.hose.errors


@pytest.mark.parametrize("letter", ["a", "b"])
@pytest.mark.parametrize(("field", "changes", "sentence"), END_CASES)
def test_a_box_of_an_end_is_refused(
    letter: str, field: str, changes: dict[str, str], sentence: str
) -> None:
    named = {f"{letter}_{name}": text for name, text in changes.items()}
    forms = old.read(old.typed(**named))
    assert not forms.is_valid()
    form = forms.near if letter == "a" else forms.far
    assert any(sentence in error for error in form.errors[field]), form.errors


def test_the_site_is_asked_where_there_are_several() -> None:
    sites = {site.pk: site for site in (make.site(), make.site())}
    for text, sentence in (("", "This field is required."), ("999", "Select a valid choice")):
        forms = old.read(old.typed(site=text), sites=sites)
        assert not forms.is_valid()
        assert any(sentence in error for error in forms.hose.errors["site"])


def test_every_box_has_a_case() -> None:
    two = {site.pk: site for site in (make.site(), make.site())}
    hose = set(OldHoseForm(today=make.TODAY, sites=two).fields)
    assert hose == {field for field, _, _ in HOSE_CASES} | {"site"}
    assert set(EndForm(which="A").fields) == {field for field, _, _ in END_CASES}


def test_the_plain_hose_is_taken() -> None:
    forms = old.read(old.typed())
    assert forms.is_valid(), [form.errors for form in forms.all]
