"""Days as the columns of the tables keep them."""

import datetime as dt

from assemblies.calc.register.facts import day_number


def day_value(on: dt.date) -> int:
    """Whole days since 1970-01-01."""
    return day_number(on)


def noon_at(on: dt.date, zone: dt.tzinfo) -> dt.datetime:
    """Noon of a local day: it stands for a day whose time is not known."""
    return dt.datetime.combine(on, dt.time(12), tzinfo=zone)
