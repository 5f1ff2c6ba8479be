"""What was read off hoses that were found, and what is still asked about it."""

import datetime as dt

from assemblies.calc.found_hose import Question, read_found
from assemblies.models import Assembly


def open_questions(assembly: Assembly, today: dt.date) -> tuple[Question, ...]:
    """What was read off a hose and reads several ways, as long as nobody has said which."""
    read = read_found(assembly.layline, assembly.built_typed, latest_on=today)
    known = {
        "made": assembly.made_earliest_on,
        "built": assembly.built_earliest_on,
        "size": assembly.size_dn,
    }
    return tuple(one for one in read.questions if known[one.asks] is None)
