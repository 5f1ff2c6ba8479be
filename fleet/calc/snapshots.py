"""What a provider of telematics told on one page, as plain facts."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Identity:
    """How a provider names a machine. `kind` is what it is known by: PIN, serial, equipment id."""

    kind: str
    key: str
    maker: str
    model: str
    equipment_ref: str
    serial_number: str
    pin: str


@dataclass(frozen=True, slots=True)
class Told:
    """What one machine told. `problem` says why there are no hours to record, else it is empty."""

    identity: Identity | None
    hours: Decimal | None = None
    typed: str = ""
    read_at: dt.datetime | None = None
    zone_known: bool = True
    problem: str = ""

    @property
    def usable(self) -> bool:
        """Whether there are hours to record, and a name to find the machine by.

        >>> Told(None, problem="It told no name.").usable
        False
        """
        return self.identity is not None and self.hours is not None and self.read_at is not None


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One page: when it was taken, as it was written, its machines, and the link to the next."""

    taken: str
    machines: tuple[Told, ...]
    next_href: str
