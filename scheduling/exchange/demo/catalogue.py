"""The demo's catalogue: hose, fitting and shell items, each approved in the first week."""

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from assemblies.actions.catalogue import prepare_fitting, prepare_hose
from assemblies.calc.lengths import Basis, Form, Turns
from assemblies.models import (
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    ShellItem,
    ShellRevision,
)
from fleet.models import Person
from fleet.models.abstract import Revision
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.tables import ConnectionRow, HoseRow, ShellRow, tables

HARROW, DUNMARROW = "Harrow Fluid Ends", "Dunmarrow Couplings"
# What a connection adds to the plain tail's allowance, mm.
_LONGER: Final = {"L": 0, "S": 3, "F61": 12, "F62": 16, "FF": 2, "J": 1, "B": 2, "BJ": -3}
_FORMS: Final = {"": Form.STRAIGHT, "45": Form.ELBOW_45, "90": Form.ELBOW_90}


@dataclass(frozen=True)
class Signing:
    """Who made and who approved, and when."""

    made_by: Person
    made_at: dt.datetime
    approved_by: Person
    approved_at: dt.datetime

    def sign(self, revision: Revision) -> None:
        revision.number, revision.state = 1, Revision.State.APPROVED
        revision.made_by, revision.made_at = self.made_by, self.made_at
        revision.approved_by, revision.approved_at = self.approved_by, self.approved_at


@dataclass
class Catalogue:
    """The items by what the layouts call them."""

    register: Register
    signing: Signing
    hoses: dict[str, HoseRevision] = field(default_factory=dict)
    shells: dict[tuple[str, int], ShellRevision] = field(default_factory=dict)
    fittings: dict[str, FittingRevision] = field(default_factory=dict)

    def fitting(self, end: str, hose: HoseRow) -> FittingRevision:
        """The fitting of an end as the layouts write it (`F62-90`); made when first met."""
        code = f"{series_of(end, hose)}-{end.replace('-', '')}-{hose.dn:02}"
        if code not in self.fittings:
            self.fittings[code] = _lay_fitting(self, code, end, hose)
        return self.fittings[code]

    def shell(self, hose: HoseRow) -> ShellRevision:
        return self.shells[shell_kind(hose), hose.dn]

    def approve(self, revision: Revision, noun: str, code: str) -> None:
        self.signing.sign(revision)
        self.register.tell(
            f"approved {noun}",
            revision,
            at=self.signing.approved_at,
            by=self.signing.approved_by,
            before={"state": "draft"},
            after={"code": code, "revision": 1},
        )


def series_of(end: str, hose: HoseRow) -> str:
    """The fitting series: interlock for spiral hose, Dunmarrow's for BSP, else for braid."""
    if end.partition("-")[0] == "B":
        return "DC"
    return "HFI" if hose.reinforcement == "wire_spiral" else "HFB"


def shell_kind(hose: HoseRow) -> str:
    """The shell a hose is crimped in; three braids go into the two-layer shell, for want of one."""
    if hose.reinforcement == "helix_suction":
        return "SR"
    return "S2" if hose.layers in (2, 3) else f"S{hose.layers}"


def lay_catalogue(register: Register, signing: Signing) -> Catalogue:
    """Hose and shell items; fittings follow as the layouts ask for them."""
    catalogue = Catalogue(register, signing)
    for row in tables().hoses.values():
        catalogue.hoses[row.code] = _lay_hose(catalogue, row)
    for shell in tables().shells:
        catalogue.shells[shell.kind, shell.dn] = _lay_shell(catalogue, shell)
    return catalogue


def _lay_hose(catalogue: Catalogue, row: HoseRow) -> HoseRevision:
    in_a_table = row.type != "3-braid"
    revision = HoseRevision(
        header=catalogue.register.add(HoseItem(code=row.code)),
        maker=row.maker,
        product=row.product,
        standard_type=row.type if in_a_table else "",
        rating_source=row.rating_source,
        size_dn=row.dn,
        working_pressure_bar=row.pressure_bar,
        printed_pressure=f"{row.pressure_bar} bar",
        temperature_low_c=row.low_c,
        temperature_high_c=row.high_c,
        bend_radius_mm=row.bend_radius_mm,
        tube_material=row.tube,
        fluids="mineral oil to 100 °C; water-based fluids to 70 °C",
        reinforcement=row.reinforcement,
        layers=row.layers,
        bore_mm=row.bore_mm,
        outside_diameter_mm=row.outside_mm,
        reinforcement_diameter_mm=row.reinforcement_mm,
        note=""
        if in_a_table
        else "Three wire braids: in no standard's table, the maker's data only.",
    )
    prepare_hose(revision)
    catalogue.approve(catalogue.register.add(revision), "hose item", row.code)
    return revision


def _lay_shell(catalogue: Catalogue, row: ShellRow) -> ShellRevision:
    code = f"{row.kind}-{row.dn:02}"
    revision = ShellRevision(
        header=catalogue.register.add(ShellItem(code=code)),
        maker=HARROW,
        product=f"Shell {row.kind} DN{row.dn}",
        tail_dn=row.dn,
        layers_made_for=row.layers,
        outside_diameter_mm=row.outside_mm,
        inside_diameter_mm=row.inside_mm,
        length_mm=row.length_mm,
        internal_depth_mm=row.depth_mm,
    )
    catalogue.approve(catalogue.register.add(revision), "shell item", code)
    return revision


def _lay_fitting(catalogue: Catalogue, code: str, end: str, hose: HoseRow) -> FittingRevision:
    name, _, bend = end.partition("-")
    row, tail = tables().connections[name, hose.dn], tables().tails[hose.dn]
    form = Form.BANJO if name == "BJ" else _FORMS[bend]
    turns = Turns(row.turns)
    revision = FittingRevision(
        header=catalogue.register.add(FittingItem(code=code)),
        maker=DUNMARROW if name == "B" else HARROW,
        product=f"{row.name} {row.size} {form.value.replace('_', ' ')}",
        connection=row.name,
        connection_standard=row.standard,
        connection_size=row.size,
        form=form.value,
        turns=turns.value,
        tail_dn=hose.dn,
        tail_od_mm=tail.tail_od_mm,
        tail_bore_mm=tail.tail_bore_mm,
        nose_bore_mm=tail.nose_bore_mm,
        allowance_mm=_allowance(row, hose.dn, form),
        allowance_counts_from=Basis.SEAT_TO_SEAT.value,
        drop_mm={Form.ELBOW_45: tail.drop45_mm, Form.ELBOW_90: tail.drop90_mm}.get(form),
        working_pressure_bar=row.rating_bar,
        printed_pressure=f"{row.rating_bar} bar",
        rating_source=row.rating_source,
        torque_nm=row.torque_nm,
        torque_source=f"{DUNMARROW if name == 'B' else HARROW} fitting instructions",
        small_parts=row.small_parts,
    )
    prepare_fitting(revision)
    catalogue.approve(catalogue.register.add(revision), "fitting item", code)
    return revision


def _allowance(row: ConnectionRow, dn: int, form: Form) -> Decimal:
    tail = tables().tails[dn]
    plain = {Form.ELBOW_45: tail.elbow45_mm, Form.ELBOW_90: tail.elbow90_mm}
    return plain.get(form, tail.straight_mm) + _LONGER[row.connection]
