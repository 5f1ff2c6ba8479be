"""The demo's failures in service, and the time that its machines stood for."""

import datetime as dt
import random
from dataclasses import dataclass
from decimal import Decimal

from assemblies.models import Stay
from fleet.models import Downtime
from scheduling.exchange.demo.days import Days, moment
from scheduling.exchange.demo.fleet import FleetPlan, MachinePlan
from scheduling.exchange.demo.hoses import Hose
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.timeline import Fit
from scheduling.models import Failure

HARMED_SHARE = 0.06
SERVICE_H = 7.0
_HARMS = (
    "oil spray on the sleeve, no injury",
    "first aid: bruised hand",
    "near miss: nobody within reach",
)


@dataclass(frozen=True)
class Losses:
    """Writes down failures, downtimes and planned stops."""

    register: Register
    days: Days
    fleet: FleetPlan

    def fail(self, hose: Hose, fit: Fit) -> None:
        """A failure with the downtime that it caused; open where the machine is still down."""
        row = fit.failure
        if row is None or fit.removed_on is None:
            return
        dice = self.days.stream("failure", *fit.place.key, fit.fitted_on)
        plan, on = fit.place.plan, fit.removed_on
        person = self.fleet.fitter(plan.site_on(on), on.toordinal())
        failed_at = moment(on, fit.failed_hour)
        oil = dice.uniform(float(row.oil_low_l), float(row.oil_high_l))
        hurt = fit.place.duty.consequence == "hurts" and dice.random() < 3 * HARMED_SHARE
        failure = Failure(
            assembly=hose.assembly,
            stay=_last_fitted(hose),
            machine=plan.machine,
            site=plan.site_on(on),
            failed_at=failed_at,
            failed_on=on,
            machine_h=plan.machine_h(on),
            mode=row.mode,
            cause=row.cause if dice.random() < 0.85 else "unknown",
            oil_lost_l=Decimal(str(round(oil, 1))),
            harm=dice.choice(_HARMS) if hurt else "",
            downtime=self._down(fit, plan, on),
            note=row.note,
            reported_by=person,
            reported_at=failed_at,
        )
        self._complete(failure, dice)
        self.register.add(failure)
        self.register.tell(
            "reported a failure",
            hose.assembly,
            at=failed_at,
            by=person,
            site=failure.site,
            after={"mode": row.mode, "cause": failure.cause, "place": str(fit.place.position)},
        )

    def _complete(self, failure: Failure, dice: random.Random) -> None:
        """What was told some days later; of one in six nobody has told it yet."""
        if dice.random() < 1 / 6:
            return
        failure.cost_minor = 100 * round(dice.uniform(140, 900))
        failure.cause_stated = "examined" if dice.random() < 0.4 else "supposed"
        failure.fire = "near_miss" if dice.random() < 0.04 else "none"
        failure.completed_at = failure.failed_at + dt.timedelta(days=1)
        failure.completed_by = failure.reported_by

    def _down(self, fit: Fit, plan: MachinePlan, on: dt.date) -> Downtime:
        reason, lasts_h = f"hose failed: {fit.place.position}", float(fit.down_h)
        if not fit.still_down:
            return self._downtime(plan, on, fit.failed_hour, lasts_h, reason)
        words = fit.place.happening.text if fit.place.happening else ""
        return self._downtime(plan, on, fit.failed_hour, None, f"{reason}; {words}")

    def _downtime(
        self, plan: MachinePlan, on: dt.date, hour: float, lasts_h: float | None, reason: str
    ) -> Downtime:
        site = plan.site_on(on)
        downtime = Downtime(
            machine=plan.machine,
            site=site,
            from_at=moment(on, hour),
            from_on=on,
            to_at=None if lasts_h is None else moment(on, hour + lasts_h),
            planned=False,
            reason=reason[:500],
            cost_per_hour_minor=plan.machine.machine_class.down_cost_per_hour_minor,
            recorded_by=self.fleet.fitter(site, on.toordinal()),
        )
        return self.register.add(downtime)

    def stop_for_looks(self) -> None:
        """Each full look was a planned stop."""
        for plan in self.fleet.machines.values():
            for look in plan.looks:
                if look.full:
                    downtime = self._downtime(plan, look.on, 7.0, SERVICE_H, "yearly service")
                    downtime.planned = True


def _last_fitted(hose: Hose) -> Stay:
    return [stay for stay in hose.stays if stay.place == "position"][-1]
