"""How a crimp trial stands, in words."""

from assemblies.calc.trial import Evaluation, Outcome, Pin, Press

BEFORE_EVERY_PRESS = (
    "The pin is out of the bore before every press: never press on to a pin.",
    "Keep hands and sleeves clear of the crimper while it moves.",
    "Wear eye protection.",
)


def standing_words(evaluation: Evaluation, last: Press | None, *, closed: bool = False) -> str:
    """Say in one or two sentences how a trial stands and what to do.

    Parameters: the evaluation; the last press, None before the first; whether it is closed, so
    that nothing is left to do.

    >>> from assemblies.calc.trial import evaluate_trial
    >>> standing_words(evaluate_trial([]), None)
    'Nothing is pressed yet.'
    """
    if closed and evaluation.outcome in (Outcome.GOES_ON, Outcome.NO_PRESS):
        return "It was closed before the pin was refused: no collapse was found."
    if evaluation.outcome is Outcome.GOES_ON:
        return _going_on(evaluation, last)
    told = {
        Outcome.NO_PRESS: "Nothing is pressed yet.",
        Outcome.COLLAPSE_FOUND: "The pin is refused: the tail has begun to collapse, and that is "
        "the crimp. Press no further.",
        Outcome.PAST_CLOSING: "One press was made after the pin was refused: the crimp at hand is "
        "past closing. Press no further.",
        Outcome.OVER_COLLAPSED: "The tail is over-collapsed: no recipe can stand on this trial. "
        "Begin again with a new piece.",
        Outcome.NO_BRACKET: "The pin was refused at the first press: where the collapse began is "
        "not known. Begin again with a new piece, from a larger setting.",
        Outcome.SETTINGS_NOT_FALLING: "A setting did not go down: which press made the crimp can't "
        "be told. Begin again with a new piece.",
        Outcome.PIN_CONTRADICTS: "The pin went in more easily after a harder press: look at the "
        "pin and the bore, and begin again with a new piece.",
    }[evaluation.outcome]
    if closed:
        told = told.replace(" Press no further.", "")
    return f"{told} {bracket_words(evaluation)}".strip()


def bracket_words(evaluation: Evaluation) -> str:
    """The bracket of the collapse in settings, and in OD where it was measured; else empty.

    >>> from assemblies.calc.trial import evaluate_trial
    >>> bracket_words(evaluate_trial([("26.50", "tight"), ("26.25", "refuses")]))
    'Collapse begins between the settings 26.25 and 26.50 mm.'
    """
    if evaluation.bracket_mm is None:
        return ""
    low, high = evaluation.bracket_mm
    words = f"Collapse begins between the settings {low:.2f} and {high:.2f} mm"
    if evaluation.od_bracket_mm is not None:
        low, high = evaluation.od_bracket_mm
        words += f", {low:.2f} and {high:.2f} mm of OD"
    return f"{words}."


def _going_on(evaluation: Evaluation, last: Press | None) -> str:
    step = evaluation.next_setting_mm
    onward = "" if step is None else f" Dial {step:.2f} mm."
    if last is not None and last.pin is Pin.TIGHT:
        return f"The pin is tight: go on by the small step until it is refused.{onward}"
    return f"The pin still enters: go on.{onward}"
