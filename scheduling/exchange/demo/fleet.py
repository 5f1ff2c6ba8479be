"""Sites, people and machines of the demo, with the days on which they work and are looked at."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from django.contrib.auth.hashers import Argon2PasswordHasher, get_hasher

from fleet.models import Machine, MachineClass, Mount, Person, Site, SiteSpell
from scheduling.exchange.demo.days import Days, moment, workday_after, workday_before
from scheduling.exchange.demo.hours import Curve, hours, run_curve
from scheduling.exchange.demo.meters import (
    Glance,
    MeterLine,
    doubts,
    lay_meters,
    read_line,
    reading_days,
)
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.tables import MachineRow, MountRow, tables

HYDRAULICS_SHARE = 0.93
STOOD_DAYS = 430
MOVED_DAYS = 610
SLIPPED_DAYS = 470
FULL_LOOK_DAYS = 350
HALF_LOOK_DAYS = 175


@dataclass(frozen=True)
class Look:
    """A day on which a machine's hoses are looked at: all, or those looked at twice a year."""

    on: dt.date
    full: bool


@dataclass
class MachinePlan:
    """A machine with its clock and its calendar."""

    row: MachineRow
    machine: Machine
    first_site: Site
    joined_on: dt.date
    walked_on: dt.date
    curve: Curve
    stood_from: dt.date | None = None
    moved_on: dt.date | None = None
    lines: dict[str, MeterLine] = field(default_factory=dict)
    services: list[dt.date] = field(default_factory=list)
    looks: list[Look] = field(default_factory=list)

    def site_on(self, day: dt.date) -> Site:
        moved = self.moved_on is not None and day >= self.moved_on
        return self.machine.site if moved else self.first_site

    @property
    def counts_hours(self) -> bool:
        return self.row.hours_per_shift > 0

    @property
    def came_new(self) -> bool:
        """Bought new while the register was kept: its hoses came with it, dated."""
        return self.row.built_months_ago - self.row.joined_months_ago == 1

    @property
    def came_used(self) -> bool:
        return self.row.story == "second_hand"

    def machine_h(self, day: dt.date) -> Decimal | None:
        """What the counter of its hoses showed that morning."""
        return hours(self.clock.morning(day)) if self.counts_hours else None

    @property
    def clock(self) -> Curve:
        return self.lines[self.row.counter].curve

    def works_on(self, day: dt.date) -> bool:
        return self.curve.morning(day + dt.timedelta(days=1)) > self.curve.morning(day)


@dataclass
class FleetPlan:
    """The firm: its sites, people and machines."""

    sites: dict[str, Site]
    people: dict[str, Person]
    machines: dict[str, MachinePlan]

    def fitter(self, site: Site, number: int) -> Person:
        """Who of the site's fitters does the n-th thing."""
        if site.code == "SW":
            return self.people["fitter.sw"]
        return self.people["fitter2.bq" if number % 3 == 0 else "fitter.bq"]


def lay_fleet(register: Register, days: Days, *, hash_passwords: bool) -> FleetPlan:
    """Lay out sites, people, classes, machines, mounts, meters and readings."""
    sites = {row.code: register.add(Site(**vars(row))) for row in tables().sites}
    people = {p.username: register.add(p) for p in _people(days, hash_passwords=hash_passwords)}
    classes = {made.name: register.add(made) for made in _classes()}
    plan = FleetPlan(sites, people, {})
    for row in tables().machines:
        plan.machines[row.fleet_number] = _lay_machine(register, days, row, plan, classes)
    for mount in tables().mounts:
        register.add(_mount(days, plan, mount))
    for laid in plan.machines.values():
        _lay_readings(register, days, plan, laid)
    return plan


def _people(days: Days, *, hash_passwords: bool) -> Iterator[Person]:
    for row in tables().people:
        yield Person(
            username=row.username,
            display_name=row.name,
            password=_hashed(row.password) if hash_passwords else "!",
            demo=True,
            date_joined=moment(days.start, 9),
        )


class _QuickHasher(Argon2PasswordHasher):
    """The usual hash at a small cost: eleven of them must not hold the load up.

    These passwords stand in the README and open the door from this machine only; the first log-in
    hashes each anew at the full cost.
    """

    time_cost, memory_cost, parallelism = 1, 8 * 1024, 1


def _hashed(password: str) -> str:
    usual = get_hasher()
    hasher = _QuickHasher() if isinstance(usual, Argon2PasswordHasher) else usual
    return str(hasher.encode(password, hasher.salt()))


def _classes() -> Iterator[MachineClass]:
    for row in tables().classes:
        yield MachineClass(
            name=row.name,
            hours_per_day=row.hours_per_day,
            down_cost_per_hour_minor=int(row.down_cost_per_hour * 100),
        )


def _lay_machine(
    register: Register,
    days: Days,
    row: MachineRow,
    plan: FleetPlan,
    classes: dict[str, MachineClass],
) -> MachinePlan:
    came_on = _came_on(days, row)
    machine = Machine(
        site=plan.sites["SW" if row.story == "moved" else row.site],
        fleet_number=row.fleet_number,
        kind=row.kind,
        machine_class=classes[row.machine_class],
        maker=row.maker,
        model=row.model,
        serial_number=row.serial_number,
        in_service_from=came_on,
        status="standing" if row.story == "standing" else "in_service",
    )
    stood_from = days.ago(STOOD_DAYS) if row.story == "standing" else None
    curve = run_curve(
        days,
        days.stream("hours", row.fleet_number),
        first_on=max(came_on, days.start),
        first_h=row.first_h,
        shift_h=float(row.hours_per_shift),
        stops_on=stood_from,
    )
    on = curve.first_on
    laid = MachinePlan(row, machine, plan.sites[row.site], on, on, curve, stood_from)
    register.add(machine)
    _lay_calendar(days, laid)
    _lay_spells(register, days, laid, plan)
    _lay_lines(register, days, laid)
    return laid


def _came_on(days: Days, row: MachineRow) -> dt.date:
    """The working day on which a machine came: about as many months ago as the table says."""
    off = days.stream("came", row.fleet_number).randint(-12, 12)
    return workday_before(days.months_ago(row.joined_months_ago) + dt.timedelta(days=off))


def _lay_calendar(days: Days, laid: MachinePlan) -> None:
    """The walk-down, the service days every five to seven weeks, the looks twice a year."""
    dice = days.stream("calendar", laid.row.fleet_number)
    laid.walked_on = workday_after(laid.joined_on + dt.timedelta(days=dice.randint(2, 26)))
    at = laid.walked_on + dt.timedelta(days=dice.randint(20, 50))
    while at < (laid.stood_from or days.today):
        laid.services.append(workday_before(at))
        at += dt.timedelta(days=dice.randint(30, 48))
    laid.looks = _looks(laid, days)


def _looks(laid: MachinePlan, days: Days) -> list[Look]:
    """Every second look is a full one; one machine's looks have slipped."""
    until = days.ago(SLIPPED_DAYS) if laid.row.story == "slipped" else days.today
    found, last, full_on = [], laid.walked_on, laid.walked_on
    following = [*laid.services[1:], days.today + dt.timedelta(days=60)]
    for on, then in zip(laid.services, following, strict=True):
        if (then - last).days > HALF_LOOK_DAYS and on <= until:
            full = (on - full_on).days > FULL_LOOK_DAYS - HALF_LOOK_DAYS - 10
            found.append(Look(on, full))
            last, full_on = on, on if full else full_on
    return found


def _lay_spells(register: Register, days: Days, laid: MachinePlan, plan: FleetPlan) -> None:
    planner, row = plan.people["planner"], laid.row
    first = SiteSpell(
        machine=laid.machine, site=laid.first_site, from_on=laid.joined_on, recorded_by=planner
    )
    register.add(first)
    register.tell(
        "added a machine",
        laid.machine,
        at=moment(laid.joined_on, 9.5),
        by=planner,
        site=laid.first_site,
        after={"fleet_number": row.fleet_number, "maker": row.maker, "model": row.model},
    )
    if row.story == "moved":
        laid.moved_on = first.to_on = workday_before(days.ago(MOVED_DAYS))
        _lay_move(register, laid, laid.moved_on, planner)


def _lay_move(register: Register, laid: MachinePlan, on: dt.date, planner: Person) -> None:
    machine = laid.machine
    register.add(SiteSpell(machine=machine, site=machine.site, from_on=on, recorded_by=planner))
    register.tell(
        "moved a machine",
        machine,
        at=moment(on, 11),
        by=planner,
        site=machine.site,
        before={"site": laid.first_site},
        after={"site": machine.site},
        reason="the wharf is a loader short",
    )


def _lay_lines(register: Register, days: Days, laid: MachinePlan) -> None:
    """Every machine has its engine's counter, crushers hydraulics' too, the breaker its own."""
    curves = {laid.row.counter: laid.curve}
    if laid.row.counter == "hydraulics":
        curves = {"engine": laid.curve, "hydraulics": laid.curve.share(HYDRAULICS_SHARE)}
    for counts, curve in curves.items():
        line = lay_meters(laid.machine, counts, curve, laid.row.story, days)
        laid.lines[counts] = line
        for meter in line.meters:
            register.add(meter)


def _mount(days: Days, plan: FleetPlan, row: MountRow) -> Mount:
    return Mount(
        part=plan.machines[row.part].machine,
        carrier=plan.machines[row.carrier].machine,
        from_on=days.ago(row.from_days_ago),
        to_on=None if row.to_days_ago is None else days.ago(row.to_days_ago),
        uses_carrier_hours=row.uses_carrier_hours,
    )


def _lay_readings(register: Register, days: Days, plan: FleetPlan, laid: MachinePlan) -> None:
    if not laid.counts_hours:
        return
    number = laid.row.fleet_number
    on_days = reading_days(days.stream("readings", number), laid.walked_on, days)
    now = moment(days.today, 0)
    for counts, line in laid.lines.items():
        glances = list(_glances(plan, laid, on_days))
        if counts == laid.row.counter:
            glances += _doubtful(days, plan, laid)
        for reading in read_line(line, glances, now=now):
            register.add(reading)


def _glances(plan: FleetPlan, laid: MachinePlan, on_days: list[dt.date]) -> Iterator[Glance]:
    sent = laid.row.readings == "telematics"
    for number, day in enumerate(on_days):
        site = laid.site_on(day)
        yield Glance(day, 5.2 if sent else 6.7, site, None if sent else plan.fitter(site, number))


def _doubtful(days: Days, plan: FleetPlan, laid: MachinePlan) -> Iterator[Glance]:
    for row in doubts():
        if row.machine == laid.row.fleet_number:
            day = days.ago(row.days_ago)
            site = laid.site_on(day)
            yield Glance(
                day,
                13.2,
                site,
                plan.fitter(site, 1) if row.zone_known else None,
                added_h=row.added_h,
                zone_known=row.zone_known,
                outcome=row.outcome,
                reason=row.reason,
                decided_by=plan.people["planner"],
            )
