"""The demo's specifications: one for each line of the layouts, on every such machine."""

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal

from assemblies.calc.lengths import Form, Turns, has_direction
from assemblies.models import (
    AssemblySpec,
    FittingRevision,
    HoseRevision,
    RecipeRevision,
    ShellRevision,
    SpecEnd,
    SpecRevision,
    SpecSleeve,
)
from scheduling.exchange.demo.days import Days, moment
from scheduling.exchange.demo.fleet import FleetPlan
from scheduling.exchange.demo.recipes import RecipeBook
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.tables import HoseRow, LayoutRow, tables

PROOF_FACTOR = 2
REVISED_SHARE = 0.2
_BENDS = {"elbow_45": " 45°", "elbow_90": " 90°"}
# How far from the seats a guard begins and ends, mm.
_GUARD_FROM_MM = 80
# Beyond DN51 no document gives a tolerance: the workshop's own stands in the spec.
LARGEST_WITH_TOLERANCE_DN = 51
_LARGE_PLUS_MM, _LARGE_MINUS_MM = 15, 8


@dataclass
class SpecPlan:
    """A specification with its parts, and from when each revision stood."""

    row: LayoutRow
    hose_row: HoseRow
    hose: HoseRevision
    shell: ShellRevision
    fittings: tuple[FittingRevision, FittingRevision]
    recipes: tuple[RecipeRevision | None, RecipeRevision | None]
    revisions: list[tuple[dt.date, SpecRevision]] = field(default_factory=list)

    @property
    def buildable(self) -> bool:
        """Whether both ends have an approved recipe; hoses of other specs are bought."""
        return all(recipe is not None and recipe.state == "approved" for recipe in self.recipes)

    @property
    def rating_bar(self) -> Decimal:
        """The lowest of hose, ends and approved recipes."""
        approved = [r for r in self.recipes if r is not None and r.state == "approved"]
        known: list[Decimal | None] = [self.hose.working_pressure_bar]
        known += [fitting.working_pressure_bar for fitting in self.fittings]
        known += [recipe.working_pressure_bar for recipe in approved]
        return min(bar for bar in known if bar is not None)

    @property
    def cut_length_mm(self) -> Decimal:
        allowances = [fitting.allowance_mm or Decimal(0) for fitting in self.fittings]
        return Decimal(self.row.length_mm) - sum(allowances, Decimal(0))

    def on(self, day: dt.date) -> SpecRevision:
        """The revision that stood on a day; the first for a day before them all."""
        stood = [revision for since, revision in self.revisions if since <= day]
        return stood[-1] if stood else self.revisions[0][1]


def end_text(fitting: FittingRevision) -> str:
    """An end in a few words: 24° cone L L15 M22×1.5 90°."""
    return f"{fitting.connection} {fitting.connection_size}{_BENDS.get(fitting.form, '')}"


def lay_specs(register: Register, days: Days, fleet: FleetPlan, book: RecipeBook) -> list[SpecPlan]:
    """A spec for each line of the layouts, approved in the register's first week."""
    laid = []
    for number, row in enumerate(tables().layouts, start=1):
        spec = _parts(book, row)
        title = f"{row.layout}: {_plain(row.place)}"[:160]
        header = register.add(AssemblySpec(code=f"BM-{number:04}", title=title))
        drafts = _Drafts(register, fleet, spec, header)
        for at, on in enumerate(_days_of_approval(days, spec, number), start=1):
            drafts.lay(on, at)
        drafts.approve()
        laid.append(spec)
    return laid


def _parts(book: RecipeBook, row: LayoutRow) -> SpecPlan:
    hose = tables().hoses[row.hose]
    near, far = row.ends.split("/")
    return SpecPlan(
        row=row,
        hose_row=hose,
        hose=book.catalogue.hoses[hose.code],
        shell=book.catalogue.shell(hose),
        fittings=(book.catalogue.fitting(near, hose), book.catalogue.fitting(far, hose)),
        recipes=(book.recipe(hose, near), book.recipe(hose, far)),
    )


def _days_of_approval(days: Days, spec: SpecPlan, number: int) -> list[dt.date]:
    """Once in the first week; some a second time, when a guard was added."""
    dice = days.stream("spec", number)
    first_on = days.start + dt.timedelta(days=dice.randint(1, 6))
    if spec.row.guard and dice.random() < REVISED_SHARE:
        return [first_on, days.ago(dice.randint(300, 1500))]
    return [first_on]


@dataclass
class _Drafts:
    """The revisions of one spec while they are written."""

    register: Register
    fleet: FleetPlan
    spec: SpecPlan
    header: AssemblySpec

    def lay(self, on: dt.date, number: int) -> None:
        row, spec = self.spec.row, self.spec
        large = spec.hose_row.dn > LARGEST_WITH_TOLERANCE_DN
        revision = SpecRevision(
            header=self.header,
            number=number,
            hose=spec.hose.header,
            length_mm=row.length_mm,
            tolerance_plus_mm=_LARGE_PLUS_MM if large else None,
            tolerance_minus_mm=_LARGE_MINUS_MM if large else None,
            orientation_deg=_angle(spec),
            test_pressure_bar=spec.rating_bar * PROOF_FACTOR,
            test_hold_s=60,
            cleanliness="ISO 4406 18/16/13",
            made_by=self.fleet.people["planner"],
            made_at=moment(on, 10),
            change_note="guard added: the hose was found rubbed" if number > 1 else "",
        )
        self.register.add(revision)
        for which, fitting in zip("AB", spec.fittings, strict=True):
            end = SpecEnd(
                spec=revision, which=which, fitting=fitting.header, shell=spec.shell.header
            )
            self.register.add(end)
        spec.revisions.append((on, revision))

    def approve(self) -> None:
        """The last revision is the approved one and has the guard; an earlier one had none."""
        for on, revision in self.spec.revisions:
            last = revision is self.spec.revisions[-1][1]
            manager, at = self.fleet.people["manager"], moment(on, 15)
            if last and self.spec.row.guard:
                self.register.add(_sleeve(revision, self.spec))
            state = "approved" if last else "replaced"
            self.register.close(revision, state=state, approved_by=manager, approved_at=at)
            after = {"code": self.header.code, "revision": revision.number}
            self.register.tell("approved a spec", revision, at=at, by=manager, after=after)


def _sleeve(revision: SpecRevision, spec: SpecPlan) -> SpecSleeve:
    end_mm = Decimal(spec.row.length_mm - _GUARD_FROM_MM)
    return SpecSleeve(
        spec=revision, number=1, kind=spec.row.guard, from_mm=_GUARD_FROM_MM, to_mm=end_mm
    )


def _angle(spec: SpecPlan) -> int | None:
    """An angle only where both ends point somewhere."""
    pointing = [has_direction(Form(f.form), Turns(f.turns)) for f in spec.fittings]
    if all(pointing) and spec.row.angle_deg is None:
        raise ValueError(f"layouts.csv: {spec.row.place} has two bent ends and no angle.")
    return spec.row.angle_deg if all(pointing) else None


def _plain(place: str) -> str:
    return place.replace("{", "").replace("}", "").replace("|", "/")
