"""The pages of measured hoses: measured on a phone, looked up, kept, drafted, approved."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.models import CopyPhoto, SpecCopy, SpecRevision
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import old_hoses as old
from tests.db.assemblies import spec_shop as shop
from tests.db.fleet import photo_files

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


@pytest.fixture
def planner(site: Site) -> Person:
    return make.person("planner", at=site)


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def at(name: str, *args: Any) -> str:
    return reverse(f"assemblies:{name}", args=args)


def text_of(answer: Any) -> str:
    assert answer.status_code == 200
    return str(answer.content.decode())


def test_looking_up_reads_what_is_there_and_keeps_nothing(fitter: Person) -> None:
    data = old.typed(length_mm="", a_is_key="", a_tube_mm="", a_seat="", outside_mm="22,9")
    page = text_of(client(fitter).post(at("measure"), {**data, "look": "A"}))
    assert "Read as maker Harrow Hose, EN 853, 2SN, DN12" in page
    assert "Outside 22.90 mm suits 2SN DN12" in page
    assert 'value="24° cone L|22"' in page
    assert 'value="24° cone S|20"' in page
    assert "L22 or S20? Both have M30x2" in page
    assert "This field is required" not in page
    assert 'value="29,9"' in page
    assert SpecCopy.objects.count() == 0


def test_looking_up_says_what_is_wrong_with_what_is_there(fitter: Person) -> None:
    page = text_of(client(fitter).post(at("measure"), {**old.typed(a_per_inch="14"), "look": "A"}))
    assert "14 threads an inch are a pitch of 1.814 mm, not 2 mm" in page


def test_an_ambiguous_layline_is_asked_about(fitter: Person) -> None:
    data = old.typed(layline="Harrow/2SN/DN 12/DN 16/07/10", a_is_key="", b_is_key="")
    page = text_of(client(fitter).post(at("measure"), {**data, "look": "1"}))
    assert "names two sizes" in page


def test_what_is_measured_is_kept_and_waits_for_its_items(site: Site, fitter: Person) -> None:
    who = client(fitter)
    for _ in range(2):
        answer = who.post(at("measure"), {**old.typed(), "keep": "1"})
        assert answer.status_code == 302
    copy = SpecCopy.objects.get()
    page = text_of(who.get(at("measured_hose", copy.pk)))
    assert "waits for its items" in page
    assert "Someone who keeps the catalogue chooses its items" in page
    assert "None fits connection, size and form." in page
    assert "Add one to the catalogue" not in page
    assert str(copy) in text_of(who.get(at("measured_hoses")))


def test_a_wrong_box_is_named_with_its_end_and_nothing_is_kept(fitter: Person) -> None:
    page = text_of(client(fitter).post(at("measure"), {**old.typed(b_form=""), "keep": "1"}))
    assert 'href="#id_b-form">End B: Form</a>: This field is required.' in page
    assert SpecCopy.objects.count() == 0


def test_from_a_position_what_the_register_knows_stands_there(site: Site, fitter: Person) -> None:
    place = make.position(on=make.machine(at=site), place="Boom lift")
    make.fitted(
        on=place, layline="Harrow/EN 853/2SN/DN 12/2Q16", end_a="DKOL 22", owner_mark="BQ 7"
    )
    page = text_of(client(fitter).get(at("measure_at", place.pk)))
    assert "Harrow/EN 853/2SN/DN 12/2Q16" in page
    assert f"{place.machine}, Boom lift" in page
    assert "The register says end A: DKOL 22." in page
    data = {**old.typed(), "keep": "1"}
    assert client(fitter).post(at("measure_at", place.pk), data).status_code == 302
    copy = SpecCopy.objects.get()
    assert (copy.position, copy.assembly, copy.site) == (place, place.stays.get().assembly, site)


def test_from_old_hose_to_an_approved_spec(site: Site, fitter: Person, planner: Person) -> None:
    hose = make.hose()
    ends = shop.end(connection="DKOL", connection_size="L22 M30×2")
    copy, who = old.kept(site, fitter, a_turns="", sleeve_1="spiral guard"), client(planner)
    assert 'value="1200"' in text_of(who.get(at("measured_spec", copy.pk)))
    form = who.get(at("measured_spec", copy.pk)).context["form"]
    begun = {name: form[name].value() for name in form.fields}
    assert (begun["hose"], begun["end_b_fitting"]) == (hose.header.code, ends.header.code)
    assert "Left open then: End A: what it turns about." in begun["note"]
    assert begun["sleeve_1"] == "spiral guard"
    data = {name: "" if text is None else text for name, text in begun.items()}
    answer = who.post(at("measured_spec", copy.pk), {**data, "code": "SP-1"})
    assert answer.status_code == 302, answer.context["form"].errors
    draft = SpecRevision.objects.get(header__code="SP-1")
    assert f'href="{at("measured_hose", copy.pk)}"' in text_of(who.get(at("spec", draft.header_id)))
    assert shop.approve(draft).state == "approved"


def test_no_spec_is_drafted_before_its_items_are_chosen(
    site: Site, fitter: Person, planner: Person
) -> None:
    copy = old.kept(site, fitter)
    data = {"code": "SP-1", "title": "Lift", "length_mm": "1200", "length_basis": "seat_to_seat"}
    answer = client(planner).post(at("measured_spec", copy.pk), data)
    assert set(answer.context["form"].errors) == {"hose", "end_a_fitting", "end_b_fitting"}
    page = text_of(client(planner).get(at("measured_hose", copy.pk)))
    assert f'href="{at("item_add", "fitting")}"' in page


def test_a_hose_with_a_spec_is_copied_from_its_page(site: Site, planner: Person) -> None:
    hose = make.stored(at=site, spec=shop.approved("S-1"), owner_mark="BQ 9")
    who = client(planner)
    page = text_of(who.get(reverse("scheduling:hose", args=[hose.pk])))
    assert at("hose_copy", hose.pk) in page
    answer = who.post(at("hose_copy", hose.pk), {"code": "S-2", "title": "Boom lift"})
    assert answer.status_code == 302
    assert SpecRevision.objects.get(header__code="S-2").state == "draft"


@pytest.mark.parametrize(
    ("data", "field", "sentence"),
    [
        ({"code": "", "title": "T"}, "code", "This field is required."),
        ({"code": "S-1", "title": "T"}, "code", "There is a spec S-1 already."),
        ({"code": "x" * 41, "title": "T"}, "code", "at most 40"),
        ({"code": "S-2", "title": ""}, "title", "This field is required."),
        ({"code": "S-2", "title": "x" * 161}, "title", "at most 160"),
    ],
)
def test_copying_a_hose_is_refused(
    site: Site, planner: Person, data: dict[str, str], field: str, sentence: str
) -> None:
    hose = make.stored(at=site, spec=shop.approved("S-1"))
    answer = client(planner).post(at("hose_copy", hose.pk), data)
    assert sentence in answer.context["form"].errors[field][0]


def test_a_hose_without_a_spec_is_measured(site: Site, fitter: Person) -> None:
    hose = make.stored(at=site, hose_type="2SN", size_dn=12)
    answer = client(fitter).get(at("hose_copy", hose.pk))
    assert answer["Location"] == at("measure_hose", hose.pk)
    page = text_of(client(fitter).get(answer["Location"]))
    assert '<option value="2SN" selected>' in page


def test_photos_are_added_and_what_is_wrong_is_said(site: Site, fitter: Person) -> None:
    copy, who = old.kept(site, fitter), client(fitter)
    good = {"photos": photo_files.sent(photo_files.picture()), "client_id": "p"}
    assert who.post(at("measured_photos", copy.pk), good).status_code == 302
    assert CopyPhoto.objects.filter(copy=copy).count() == 1
    cases: list[tuple[dict[str, Any], str]] = [
        ({"client_id": "q"}, "Choose a photo, or take one."),
        ({"client_id": "q", "photos": photo_files.sent(photo_files.SVG)}, "read as a photo"),
        ({"client_id": "", "photos": photo_files.sent(photo_files.picture())}, "required"),
        ({"client_id": "q", "caption": "x" * 201}, "at most 200"),
    ]
    for data, sentence in cases:
        assert sentence in text_of(who.post(at("measured_photos", copy.pk), data))


def test_it_is_set_aside_from_its_page(site: Site, fitter: Person) -> None:
    copy, who = old.kept(site, fitter), client(fitter)
    page = who.post(at("measured_set_aside", copy.pk), {"reason": ""}, follow=True)
    assert "Say why it is set aside." in text_of(page)
    page = who.post(at("measured_set_aside", copy.pk), {"reason": "wrong hose"}, follow=True)
    assert "set aside" in text_of(page)


def paths(copy: SpecCopy) -> dict[str, tuple[str, str]]:
    """Every address: the method, and what the storeman of the site gets."""
    place = make.position(on=make.machine(at=copy.site))
    hose = make.stored(at=copy.site, spec=shop.approved("S-9"))
    return {
        at("measured_hoses"): ("get", "reads"),
        at("measured_hose", copy.pk): ("get", "reads"),
        at("measure"): ("get", "refused"),
        at("measure_at", place.pk): ("get", "refused"),
        at("measure_hose", hose.pk): ("get", "refused"),
        at("hose_copy", hose.pk): ("get", "sent to measure"),
        at("measured_spec", copy.pk): ("get", "refused"),
        at("measured_photos", copy.pk): ("post", "refused"),
        at("measured_set_aside", copy.pk): ("post", "refused"),
    }


def test_every_address_by_person(site: Site, fitter: Person) -> None:
    copy = old.kept(site, fitter)
    storeman, elsewhere = make.person("storeman", at=site), make.person("planner", at=make.site())
    data = {"client_id": "1", "reason": "x", "photos": photo_files.sent(photo_files.picture())}
    codes = {"reads": 200, "refused": 403, "sent to measure": 302}
    for path, (method, expected) in paths(copy).items():
        sends = {"data": data} if method == "post" else {}
        answer = getattr(client(storeman), method)(path, **sends)
        assert answer.status_code == codes[expected], path
        stranger = getattr(client(elsewhere), method)(path, **sends).status_code
        shared = path in (at("measured_hoses"), at("measure"))
        assert stranger == (200 if shared else 404), path
        nobody = getattr(Client(), method)(path, **sends)
        assert nobody.status_code == 302
        assert "/login/" in nobody["Location"]


def test_a_planner_and_a_fitter_find_the_buttons(
    site: Site, fitter: Person, planner: Person
) -> None:
    place = make.position(on=make.machine(at=site))
    make.fitted(on=place)
    for person in (fitter, planner):
        page = text_of(client(person).get(reverse("scheduling:position", args=[place.pk])))
        assert at("measure_at", place.pk) in page
