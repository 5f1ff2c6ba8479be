"""A bench for tests: a sheet of a spec with proven crimps, tools in date, reel and lots in stock.

What is typed of a piece comes from the sheet's own content and nothing else.
"""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from itertools import count
from typing import Any

from assemblies.actions.build_signing import Signing, sign_build
from assemblies.actions.build_writing import Typed, record_build
from assemblies.actions.builds import begin_builds
from assemblies.actions.sheets import issue_sheet
from assemblies.calc.sheet import EndLine, SheetContent
from assemblies.models import (
    BuildBatch,
    BuildRecord,
    Crimper,
    FrozenSheet,
    Instrument,
    Reel,
    SpecRevision,
    StockItem,
)
from assemblies.queries.sheets import SheetOrder, content_of
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import store

NOW, TODAY = make.NOW, make.TODAY
IN_DATE = {
    "calibrated_on": TODAY - dt.timedelta(days=90),
    "calibration_due_on": TODAY + dt.timedelta(days=275),
}
_ids = count(1)


def drawn() -> str:
    """An id as a phone would draw it."""
    return f"build-{next(_ids)}"


@dataclass
class Bench:
    """A site's bench with one sheet on it, and what is in the drawers."""

    site: Site
    fitter: Person
    spec: SpecRevision
    sheet: FrozenSheet
    reel: Reel
    lots: dict[str, StockItem]
    shells: dict[str, StockItem]
    crimper: Crimper
    micrometer: Instrument
    gauge: Instrument

    @property
    def content(self) -> SheetContent:
        return content_of(self.sheet)


def instrument(at: Site, **facts: Any) -> Instrument:
    return Instrument.objects.create(**{"site": at, "code": f"M-n{next(_ids)}", **IN_DATE, **facts})


def crimper(at: Site, **facts: Any) -> Crimper:
    return Crimper.objects.create(**{"site": at, "code": f"C-n{next(_ids)}", **IN_DATE, **facts})


def charted_spec(**facts: Any) -> SpecRevision:
    """A spec of two-braid hose with one chart's crimp at both ends, and a pin."""
    hose, end = make.hose(), shop.end()
    recipe = {"pin_mm": Decimal("9.80"), "die_set": "D 24", **facts.pop("recipe", {})}
    shop.approved_recipe(hose, end, **recipe)
    return shop.approved(f"S-n{next(_ids)}", hose=hose, near=end, far=end, **facts)


def sheet_of(spec: SpecRevision, at: Site, **facts: Any) -> FrozenSheet:
    order = SheetOrder(at, **facts)
    return issue_sheet(spec=spec, order=order, address="https://hoses.example", person=None, at=NOW)


def bench(
    spec: SpecRevision | None = None, *, site: Site | None = None, metres: str = "60", **facts: Any
) -> Bench:
    """A bench with a sheet of a spec, and all that its pieces need in stock."""
    where = site or make.site(proof_test=facts.pop("proof_test", "all"))
    of = spec or charted_spec(**facts.pop("spec_facts", {}))
    ends = {end.which: end for end in of.ends.all()}
    lots = {
        item.pk: store.fitting_lot(where, fitting=item, pieces="40")
        for item in {end.fitting for end in ends.values()}
    }
    shells = {
        item.pk: store.shell_lot(where, item, pieces="40")
        for item in {end.shell for end in ends.values() if end.shell}
    }
    return Bench(
        site=where,
        fitter=make.person("fitter", at=where),
        spec=of,
        sheet=sheet_of(of, where, **facts),
        reel=store.reel(where, metres=metres, hose=of.hose),
        lots={which: lots[end.fitting_id] for which, end in ends.items()},
        shells={w: shells[end.shell_id] for w, end in ends.items() if end.shell_id is not None},
        crimper=crimper(where),
        micrometer=instrument(where),
        gauge=instrument(where),
    )


def begun(at: Bench, quantity: int = 1, by: Person | None = None) -> BuildBatch:
    return begin_builds(
        sheet=at.sheet, quantity=quantity, client_id=drawn(), person=by or at.fitter, at=NOW
    )


def piece(at: Bench) -> BuildRecord:
    """One piece begun."""
    return begun(at).builds.get()


def by_the_sheet(at: Bench, **other: Any) -> Typed:
    """What is typed of a piece that is made exactly as its sheet says; `a_` and `b_` are ends'."""
    content = at.content
    length, test = content.length, content.test
    record: dict[str, Any] = {
        **{"reel": at.reel, "crimper": at.crimper, "made_by": at.fitter, "cut_square": True},
        **{"bore_cleaned_with": "foam plug, twice", "cut_length_mm": length.cut_length_mm},
        **{"hose_used_m": Decimal("1.200"), "finished_length_mm": length.length_mm},
        **{"stamped": True, "flushed_with": "filtered oil", "cleanliness": content.cleanliness},
        **{"proof_pressure_bar": test.pressure_bar, "proof_hold_s": test.hold_to_s},
        **{"proof_passed": True, "gauge": at.gauge},
    }
    if content.orientation.angle_deg is not None:
        record["angle_deg"] = int(content.orientation.angle_deg)
    ends = {end.label: _end(at, end) for end in content.ends}
    for name, value in other.items():
        if name[:2] in ("a_", "b_"):
            ends[name[0].upper()][name[2:]] = value
        else:
            record[name] = value
    return Typed(record, ends)


def _end(at: Bench, end: EndLine) -> dict[str, Any]:
    crimp = end.crimp
    if crimp is None:
        return {}
    return {
        **{"fitting_lot": at.lots[end.label], "shell_lot": at.shells.get(end.label)},
        **{"die_set": crimp.die or "D 1", "insertion_depth_mm": crimp.insertion_depth_mm},
        "external_skive": crimp.external_skive.kind.value,
        "external_skive_mm": crimp.external_skive.length_mm,
        "internal_skive": crimp.internal_skive.kind.value,
        "internal_skive_mm": crimp.internal_skive.length_mm,
        "od_readings": [str(crimp.crimp_od_mm)] * crimp.readings,
        "pin": crimp.pin.expected.value if crimp.pin else "",
        "must_pass_pin": "enters" if crimp.pin and crimp.pin.must_pass_mm else "",
        **{"mark_visible": True, "instrument": at.micrometer},
    }


def recorded(at: Bench, build: BuildRecord, by: Person | None = None, **other: Any) -> BuildRecord:
    """The piece with all that its sheet asks for written down."""
    fresh = BuildRecord.objects.get(pk=build.pk)
    return record_build(
        build=fresh,
        typed=by_the_sheet(at, **other),
        seen=fresh.version,
        person=by or at.fitter,
        at=NOW,
    )


def made(at: Bench, **other: Any) -> BuildRecord:
    """One piece begun and written down as its sheet says."""
    return recorded(at, piece(at), **other)


def sign(build: BuildRecord, by: Person, **facts: Any) -> BuildRecord:
    fresh = BuildRecord.objects.get(pk=build.pk)
    return sign_build(build=fresh, seen=fresh.version, signing=Signing(**facts), person=by, at=NOW)


def signed(at: Bench, **other: Any) -> BuildRecord:
    """One piece built by its sheet and signed."""
    return sign(made(at, **other), at.fitter)
