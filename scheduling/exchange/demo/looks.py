"""The demo's looks at hoses, and what they found."""

import datetime as dt
from dataclasses import dataclass

from fleet.models import Person
from scheduling.exchange.demo.days import Days, last_up_to, moment
from scheduling.exchange.demo.fleet import FleetPlan, Look
from scheduling.exchange.demo.hoses import Hose
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.tables import FindingRow, tables
from scheduling.exchange.demo.timeline import Came, Fit
from scheduling.models import Finding, Inspection

NOT_SEEN_SHARE = 0.012
FOUND_SHARE = 0.04


@dataclass(frozen=True)
class Looker:
    """Who goes round the machines and writes down what is seen."""

    register: Register
    days: Days
    fleet: FleetPlan

    def look_at(self, hose: Hose, fit: Fit) -> None:
        """All looks at one hose while it was on its position."""
        dice = self.days.stream("looks", *fit.place.key, fit.fitted_on)
        if fit.came is Came.FOUND:
            self._inspect(hose, fit, fit.fitted_on, occasion="walk-down")
        for look in self._looks(fit):
            if fit.seen is not None and look.on == fit.seen.on:
                self._found_bad(hose, fit)
            elif dice.random() < NOT_SEEN_SHARE:
                self._inspect(hose, fit, look.on, occasion=_occasion(look), not_seen=True)
            else:
                done = self._inspect(hose, fit, look.on, occasion=_occasion(look))
                if look.full and dice.random() < FOUND_SHARE:
                    self._found_little(hose, fit, done, dice.random())
        if fit.fault is not None and fit.fault.kind == "take_out_now":
            self._take_out(hose, fit)

    def _looks(self, fit: Fit) -> list[Look]:
        """The machine's looks at this place between fitting and removal."""
        until = fit.removed_on or self.days.today
        within = [look for look in fit.place.plan.looks if fit.fitted_on < look.on <= until]
        own = [look for look in within if look.full or fit.place.half_yearly]
        seen_on = fit.seen.on if fit.seen else None
        return own + [look for look in within if look.on == seen_on and look not in own]

    def _inspect(
        self, hose: Hose, fit: Fit, on: dt.date, *, occasion: str, not_seen: bool = False
    ) -> Inspection:
        person = self._inspector(fit, on, occasion)
        at = moment(on, 9.0)
        inspection = Inspection(
            assembly=hose.assembly,
            position=fit.place.position,
            site=fit.place.plan.site_on(on),
            inspected_on=on,
            machine_h=fit.place.plan.machine_h(on),
            not_seen=not_seen,
            occasion=occasion,
            inspected_by=person,
            inspector_name=str(person),
            competent_person=True,
            note="behind a guard that stayed on" if not_seen else "",
            recorded_at=at,
        )
        return self.register.add(inspection)

    def _inspector(self, fit: Fit, on: dt.date, occasion: str) -> Person:
        if occasion == "between stops":
            fitters = {"BQ": "fitter.bq", "SW": "fitter.sw"}
            return self.fleet.people[fitters[fit.place.plan.site_on(on).code]]
        return self.fleet.people["inspector"]

    def _found_bad(self, hose: Hose, fit: Fit) -> None:
        """What a look found that took the hose off, at once or by a day."""
        if fit.seen is None:
            return
        done = self._inspect(hose, fit, fit.seen.on, occasion="six-monthly look")
        by_on, verdict = fit.seen.by_on, "replace" if fit.seen.by_on else "out_now"
        finding = self._finding(done, fit.seen.what, verdict, by_on)
        if fit.removed_on is not None:
            self._deal(finding, fit.removed_on, "hose changed", done.inspected_by)
        if fit.seen.row is not None:
            finding.note = fit.seen.row.note

    def _found_little(self, hose: Hose, fit: Fit, done: Inspection, chance: float) -> None:
        """Something to keep an eye on, or put right at once."""
        exposure = fit.place.spec.row.exposure
        rows = [r for r in tables().findings if r.verdict != "replace" and exposure in r.exposures]
        row = _by_chance(rows, chance)
        if row is None:
            return
        on = done.inspected_on
        by_on = on + dt.timedelta(days=row.days) if row.days else None
        finding = self._finding(done, row.what, row.verdict, by_on)
        finding.note = row.note
        if by_on is None:
            self._deal(finding, on, row.note, done.inspected_by)
        else:
            self._recheck(hose, fit, finding, by_on)

    def _recheck(self, hose: Hose, fit: Fit, finding: Finding, by_on: dt.date) -> None:
        """Looked at again on the last service day before it must be, unless its hose goes first."""
        again_on = last_up_to(fit.place.plan.services, by_on)
        again_on = again_on if again_on and again_on > finding.found_on else by_on
        if fit.removed_on is not None and fit.removed_on <= again_on:
            self._deal(finding, fit.removed_on, "hose changed", finding.made_by)
        elif again_on < self.days.today and self._works(fit, again_on):
            done = self._inspect(hose, fit, again_on, occasion="recheck")
            self._deal(finding, again_on, "looked at again: keep", done.inspected_by)

    def _works(self, fit: Fit, on: dt.date) -> bool:
        stood_from = fit.place.plan.stood_from
        return stood_from is None or on < stood_from

    def _take_out(self, hose: Hose, fit: Fit) -> None:
        """A planted fault: somebody saw it between two stops, and nobody has taken it off yet."""
        if fit.fault is None or fit.fault.days_ago is None:
            return
        on = self.days.ago(fit.fault.days_ago)
        done = self._inspect(hose, fit, on, occasion="between stops")
        self._finding(done, fit.fault.how, "out_now", None)

    def _finding(self, done: Inspection, what: str, verdict: str, by_on: dt.date | None) -> Finding:
        finding = Finding(
            assembly=done.assembly,
            inspection=done,
            site=done.site,
            what=what[:40],
            verdict=verdict,
            found_on=done.inspected_on,
            by_on=by_on,
            source="look",
            made_by=done.inspected_by,
        )
        self.register.tell(
            "looked at a hose",
            done.assembly,
            at=moment(done.inspected_on, 9.1),
            by=done.inspected_by,
            site=done.site,
            after={"on": done.inspected_on, "found": [what[:40]], "verdict": verdict, "by": by_on},
        )
        return self.register.add(finding)

    def _deal(self, finding: Finding, on: dt.date, how: str, by: Person | None) -> None:
        finding.dealt_with_at, finding.dealt_with_by = moment(on, 16), by
        finding.dealt_with_how = how


def _occasion(look: Look) -> str:
    return "yearly look" if look.full else "six-monthly look"


def _by_chance(rows: list[FindingRow], chance: float) -> FindingRow | None:
    """The row that a number between 0 and 1 falls on, each as wide as its weight."""
    mark = chance * sum(row.weight for row in rows)
    for row in rows:
        mark -= row.weight
        if mark < 0:
            return row
    return None
