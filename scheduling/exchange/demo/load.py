"""The way in: lay out Blackmere Aggregates and write it, once, into an empty register."""

import datetime as dt
from dataclasses import dataclass

from django.db import transaction

from fleet import audit
from fleet.actions.people import post_person
from fleet.actions.refusals import Refused
from fleet.actions.usages import refresh_usage
from fleet.models import Machine, Person, Site, TrailEntry
from fleet.permissions import ensure_roles
from scheduling.actions.loss_tallies import keep_losses
from scheduling.actions.stale import mark_stale
from scheduling.exchange.demo.bench import Bench
from scheduling.exchange.demo.catalogue import Signing, lay_catalogue
from scheduling.exchange.demo.days import Days, moment
from scheduling.exchange.demo.failures import Losses
from scheduling.exchange.demo.fleet import FleetPlan, lay_fleet
from scheduling.exchange.demo.hoses import Hose, Rack
from scheduling.exchange.demo.looks import Looker
from scheduling.exchange.demo.places import Key, Place, lay_places
from scheduling.exchange.demo.recipes import RecipeBook
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.rulings import lay_exemptions, lay_releases, lay_rules
from scheduling.exchange.demo.spares import lay_spares
from scheduling.exchange.demo.specs import lay_specs
from scheduling.exchange.demo.stays import lay_stays
from scheduling.exchange.demo.stores import Stores
from scheduling.exchange.demo.studies import lay_studies
from scheduling.exchange.demo.tables import tables
from scheduling.exchange.demo.telling import tell_hours
from scheduling.exchange.demo.timeline import tell_place
from scheduling.exchange.demo.workshop import Workshop, lay_workshop

LOADED = "loaded the demo"


@dataclass(frozen=True)
class Loaded:
    """What was written: rows a table, and the words for them."""

    rows: dict[str, int]

    @property
    def sentence(self) -> str:
        counts = {name: f"{self.rows[name]:,}" for name in self.rows}
        return (
            f"{counts['machines']} machines, {counts['positions']} positions, "
            f"{counts['assemblys']} hoses, {counts['hour readings']} readings"
        )


def demo_stands() -> str:
    """When and how the demo was loaded; an empty text where it was not."""
    entry = TrailEntry.objects.filter(deed=LOADED).order_by("id").first()
    return "" if entry is None else f"loaded with {entry.reason}"


@transaction.atomic
def load_demo(*, seed: int, today: dt.date, at: dt.datetime) -> Loaded:
    """Write the demo into an empty register. Atomic: whole or not at all.

    The same seed and today give the same register. Raises every due's stale mark, for what is
    written in bulk sends no signals. Refuses: demo_stands, register_in_use.
    """
    _refuse_what_stands()
    ensure_roles()
    days = Days(seed, today)
    register, fleet = _lay(days, hash_passwords=True)
    rows = register.write()
    _post_people(today)
    tell_hours(days, fleet)
    refresh_usage(machine_ids=list(Machine.objects.values_list("pk", flat=True)))
    lay_studies(today=today, at=at)
    keep_losses(at=at)
    mark_stale(subject="everything", ids=(), at=at)
    note = audit.Deed(LOADED, register.of(Site)[0], reason=f"seed {seed} on {today}")
    audit.record(note, actor=None, at=at)
    return Loaded(rows)


def _refuse_what_stands() -> None:
    if demo_stands():
        raise Refused("demo_stands", f"The demo stands already, {demo_stands()}.")
    if Site.objects.exists() or Person.objects.exists():
        raise Refused(
            "register_in_use",
            "This register holds sites or people of its own: the demo goes into an empty one only.",
        )


def lay_register(days: Days, *, hash_passwords: bool) -> Register:
    """The whole register in memory; no database is needed."""
    return _lay(days, hash_passwords=hash_passwords)[0]


def _lay(days: Days, *, hash_passwords: bool) -> tuple[Register, FleetPlan]:
    register = Register()
    fleet = lay_fleet(register, days, hash_passwords=hash_passwords)
    workshop = lay_workshop(register, days, fleet)
    catalogue = lay_catalogue(register, _signing(days, fleet))
    book = RecipeBook(register, days, fleet, catalogue, workshop, night_on=_night(days))
    specs = lay_specs(register, days, fleet, book)
    places = lay_places(register, days, fleet, specs)
    lay_rules(register, days, fleet)
    hoses = _lay_hoses(register, days, fleet, places)
    _lay_builds(register, days, fleet, workshop, hoses)
    lay_exemptions(register, days, fleet, hoses)
    lay_releases(register, days, fleet, hoses)
    _raise_duties(days, places)
    return register, fleet


def _signing(days: Days, fleet: FleetPlan) -> Signing:
    planner, manager = fleet.people["planner"], fleet.people["manager"]
    return Signing(planner, moment(days.start, 9), manager, moment(days.start, 16))


def _night(days: Days) -> dt.date:
    release = next(row for row in tables().happenings if row.kind == "conditional_release")
    return days.ago(release.days_ago)


def _lay_hoses(
    register: Register, days: Days, fleet: FleetPlan, places: dict[Key, Place]
) -> list[Hose]:
    """Every hose that any position held, with its looks and its failure; then the spares."""
    rack = Rack(register, days, fleet, days.stream("tags"))
    looker, losses = Looker(register, days, fleet), Losses(register, days, fleet)
    fits = [fit for place in places.values() for fit in tell_place(place, days)]
    for fit in sorted(fits, key=lambda fit: (fit.fitted_on, fit.place.key)):
        hose = rack.hang(fit)
        lay_stays(rack, hose, fit)
        looker.look_at(hose, fit)
        losses.fail(hose, fit)
    losses.stop_for_looks()
    lay_spares(rack, places, days)
    return rack.hoses


def _lay_builds(
    register: Register, days: Days, fleet: FleetPlan, workshop: Workshop, hoses: list[Hose]
) -> None:
    stores = Stores(register, days, fleet, days.stream("stores"))
    Bench(stores, workshop, days.stream("bench")).lay_builds(hoses)
    stores.lay_small_parts()


def _raise_duties(days: Days, places: dict[Key, Place]) -> None:
    """A relief valve was set up after the hose was chosen: the duty rose past its rating."""
    for place in places.values():
        if place.fault is not None and place.fault.how == "duty raised":
            place.position.surge_bar = place.fault.figure
            place.position.note = f"relief valve set up on {days.ago(place.fault.days_ago or 0)}"
            place.position.version += 1


def _post_people(today: dt.date) -> None:
    """Roles at sites, as the table says; an empty site is every site."""
    at = moment(Days(0, today).start, 9)
    sites: dict[str, Site | None] = {site.code: site for site in Site.objects.all()}
    for row in tables().people:
        person = Person.objects.get(username=row.username)
        for code in row.sites or ("",):
            post_person(
                person=person,
                role=row.role,
                site=sites.get(code),
                by=None,
                at=at,
                competent_person=row.competent_person,
            )
