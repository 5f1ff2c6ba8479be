import pytest

from assemblies.actions.tags import bind_tag, draw_lot
from assemblies.calc.tags import check_tag
from assemblies.models import Assembly, Tag
from fleet.actions.refusals import Refused
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = make.NOW


def test_a_lot_holds_as_many_true_tags_as_asked() -> None:
    site = make.site()
    lot = draw_lot(site=site, size=30, person=make.person("fitter", at=site), at=NOW)
    codes = list(Tag.objects.filter(lot=lot).values_list("code", flat=True))
    assert len(set(codes)) == 30
    assert [check_tag(code) for code in codes] == codes


@pytest.mark.parametrize("size", [0, -1, 1001])
def test_refuses_a_lot_of_no_sensible_size(size: int) -> None:
    site = make.site()
    with pytest.raises(Refused) as refusal:
        draw_lot(site=site, size=size, person=make.person("fitter", at=site), at=NOW)
    assert refusal.value.code == "lot_size"


def _lot_code(hose: Assembly) -> str:
    fitter = make.person("fitter", at=hose.site)
    return str(draw_lot(site=hose.site, size=1, person=fitter, at=NOW).tags.get().code)


def test_a_blank_tag_is_bound_as_it_was_typed() -> None:
    hose = make.stored()
    code = _lot_code(hose)
    bind_tag(assembly=hose, typed=f" {code[:4].lower()}-{code[4:]} ", person=None, at=NOW)
    assert Assembly.objects.get(pk=hose.pk).tag_id == code


def test_refuses_a_tag_that_another_hose_bears() -> None:
    hose = make.stored()
    code = _lot_code(hose)
    bind_tag(assembly=hose, typed=code, person=None, at=NOW)
    with pytest.raises(Refused) as refusal:
        bind_tag(assembly=make.stored(at=hose.site), typed=code, person=None, at=NOW)
    assert refusal.value.code == "tag_used"


def test_a_mistyped_tag_is_no_tag() -> None:
    hose = make.stored()
    code = _lot_code(hose)
    wrong = ("2" if code[0] != "2" else "3") + code[1:]
    with pytest.raises(Refused, match="check character") as refusal:
        bind_tag(assembly=hose, typed=wrong, person=None, at=NOW)
    assert refusal.value.code == "not_a_tag"


def test_refuses_a_tag_of_another_sites_lot() -> None:
    code = _lot_code(make.stored())
    with pytest.raises(Refused) as refusal:
        bind_tag(assembly=make.stored(), typed=code, person=None, at=NOW)
    assert refusal.value.code == "tag_unknown"


def test_refuses_a_second_tag_on_a_hose() -> None:
    hose = make.stored()
    bind_tag(assembly=hose, typed="", person=None, at=NOW)
    with pytest.raises(Refused) as refusal:
        bind_tag(assembly=hose, typed="", person=None, at=NOW)
    assert refusal.value.code == "tagged_already"
