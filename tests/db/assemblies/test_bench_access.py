"""Who may come to the bench's pages: the fitter, a colleague, a reader, a stranger, nobody."""

import pytest
from django.test import Client

from assemblies.models import BuildBatch
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies.test_bench_pages import at, client

pytestmark = pytest.mark.django_db

ROUTES: list[tuple[str, str]] = [
    ("build", "get"),
    ("build", "post"),
    ("build_judge", "post"),
    ("build_sign", "post"),
    ("build_scrap", "post"),
    ("build_amend", "get"),
    ("build_amend", "post"),
    ("batch", "get"),
    ("batch", "post"),
    ("batch_first_off", "post"),
    ("batch_sign", "post"),
    ("sheet_begin", "get"),
    ("sheet_begin", "post"),
    ("sheet_aside", "post"),
]


def _url(bench: bb.Bench, name: str) -> str:
    if name.startswith("sheet"):
        return at(name, bench.site.pk, bench.sheet.number)
    batch = BuildBatch.objects.first() or bb.begun(bench, quantity=2)
    if name.startswith("batch"):
        return at(name, batch.pk)
    build = batch.builds.first()
    assert build is not None
    return at(name, build.pk)


GOOD: dict[str, dict[str, str]] = {
    "build_sign": {"seen": "1", "to": "store"},
    "build_scrap": {"seen": "1", "reason": "x", "scrap_hose_m": "0"},
    "build_amend": {"text": "x", "reason": "x"},
    "batch_sign": {"to": "store"},
    "sheet_begin": {"quantity": "1", "client_id": "x"},
    "sheet_aside": {"reason": "x"},
}


@pytest.mark.parametrize(("name", "verb"), ROUTES)
def test_who_may_come_to_each_page(name: str, verb: str) -> None:
    bench = bb.bench()
    url, told = _url(bench, name), GOOD.get(name, {"seen": "1"})
    colleague = client(make.person("fitter", at=bench.site))
    reader = client(make.person("planner", at=bench.site))
    stranger = client(make.person("fitter", at=make.site()))
    assert getattr(Client(), verb)(url).status_code == 302
    assert "/login/" in getattr(Client(), verb)(url)["Location"]
    assert getattr(stranger, verb)(url, told).status_code == 404
    reads = verb == "get" and name in ("build", "batch")
    assert getattr(reader, verb)(url, told).status_code == (200 if reads else 403)
    assert getattr(colleague, verb)(url, told).status_code in (200, 302)
