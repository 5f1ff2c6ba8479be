"""Tables of the fleet: sites and people, machines, meters, downtime, the trail."""

from .errands import Errand, SweepRun
from .keys import ApiKey, Sending
from .logins import FailedLogin
from .machines import Downtime, Machine, MachineClass, Mount, SiteSpell
from .meters import IN_DOUBT, Counter, HourMeter, HourReading, Usage
from .photos import Photo
from .sites import Person, Posting, Site, SiteScopedQuerySet
from .telematics import TelematicsMatch, TelematicsRun, TelematicsSource
from .trail import PaperCounter, TrailEntry

__all__ = [
    "IN_DOUBT",
    "ApiKey",
    "Counter",
    "Downtime",
    "Errand",
    "FailedLogin",
    "HourMeter",
    "HourReading",
    "Machine",
    "MachineClass",
    "Mount",
    "PaperCounter",
    "Person",
    "Photo",
    "Posting",
    "Sending",
    "Site",
    "SiteScopedQuerySet",
    "SiteSpell",
    "SweepRun",
    "TelematicsMatch",
    "TelematicsRun",
    "TelematicsSource",
    "TrailEntry",
    "Usage",
]
