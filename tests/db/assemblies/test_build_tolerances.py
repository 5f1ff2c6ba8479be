"""A build signed as good keeps every tolerance of its frozen sheet, whatever was typed."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assemblies.actions.build_signing import NotGood
from assemblies.calc.sheet import SheetContent
from assemblies.models import BuildEnd, BuildRecord
from tests.db.assemblies import build_bench as bb

pytestmark = pytest.mark.django_db
D = Decimal


NEAR: dict[str, st.SearchStrategy[Any]] = {
    "a_od_readings": st.lists(st.decimals(D("24.45"), D("24.75"), places=2), max_size=4).map(
        lambda found: [str(mm) for mm in found]
    ),
    "b_insertion_depth_mm": st.decimals(D(29), D(33), places=2),
    "cut_length_mm": st.decimals(D(1100), D(1125), places=1),
    "finished_length_mm": st.decimals(D(1194), D(1214), places=1),
    "proof_pressure_bar": st.decimals(D(545), D(610), places=2),
    "proof_hold_s": st.integers(25, 35),
    "b_pin": st.sampled_from(["enters", "tight", "refuses"]),
}


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data(), names=st.sets(st.sampled_from(sorted(NEAR)), max_size=2))
def test_a_build_signed_as_good_keeps_every_tolerance_of_its_frozen_sheet(
    data: st.DataObject, names: set[str]
) -> None:
    with transaction.atomic():
        at = bb.bench()
        other = {name: data.draw(NEAR[name], label=name) for name in sorted(names)}
        build = bb.made(at, **other)
        try:
            bb.sign(build, at.fitter)
        except NotGood:
            signed = False
        else:
            signed = True
        assert signed is keeps_all(build.pk, at.content)
        transaction.set_rollback(True)


def keeps_all(build_id: int, content: SheetContent) -> bool:
    """Every tolerance once more, from the stored rows, written another way."""
    build = BuildRecord.objects.get(pk=build_id)
    length, test = content.length, content.test
    assert length.cut_length_mm is not None
    assert test.pressure_bar is not None
    kept = [
        -length.minus_mm <= (build.cut_length_mm or 0) - length.cut_length_mm <= length.plus_mm,
        -length.minus_mm <= (build.finished_length_mm or 0) - length.length_mm <= length.plus_mm,
        test.pressure_bar <= (build.proof_pressure_bar or 0) <= test.pressure_bar * D("1.1"),
        (build.proof_hold_s or 0) >= test.hold_from_s,
    ]
    for end in content.ends:
        crimp, row = end.crimp, BuildEnd.objects.get(build=build, which=end.label)
        assert crimp is not None
        assert crimp.pin is not None
        readings = [D(text) for text in row.od_readings]
        kept += [
            len(readings) >= 3,
            sum(readings) >= len(readings) * (crimp.crimp_od_mm - crimp.crimp_od_minus_mm),
            sum(readings) <= len(readings) * (crimp.crimp_od_mm + crimp.crimp_od_plus_mm),
            max(readings, default=D(9)) - min(readings, default=D(0)) <= crimp.ovality_limit_mm,
            abs((row.insertion_depth_mm or 0) - (crimp.insertion_depth_mm or 0)) <= 1,
            row.pin == crimp.pin.expected.value,
        ]
    return all(kept)
