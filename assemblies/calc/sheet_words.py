"""How a build sheet's figures are written, and the cautions that always stand on it.

A figure and its unit are joined by a space that does not break.
"""

from decimal import Decimal

CAUTIONS = (
    "Fluid under pressure can pierce skin: any injection wound is an emergency. "
    "To hospital at once.",
    "Depressurise, lower and block loads, release accumulators and lock out before loosening.",
    "Keep hands clear of the crimper. Take the pin out before every press.",
    "Never search for a leak with a hand.",
    "Test behind a guard, with liquid, air bled.",
    "Wear eye protection.",
    "Never mix parts without a proven recipe; ask both makers.",
    "Follow the makers' instructions, local law and the site's rules; this sheet does not "
    "replace a competent, authorised person.",
)


def figure(value: Decimal) -> str:
    """Write a decimal plainly, the places kept, a true minus before a negative.

    >>> figure(Decimal("26.50")), figure(Decimal("-4")), figure(Decimal("1E+3"))
    ('26.50', '−4', '1000')
    """
    return format(value, "f").replace("-", "−")


def short_figure(value: Decimal) -> str:
    """Write a decimal without idle zeros after the point.

    >>> short_figure(Decimal("1092.50")), short_figure(Decimal("1200.0")), short_figure(Decimal(0))
    ('1092.5', '1200', '0')
    """
    text = figure(value)
    return text.rstrip("0").rstrip(".") if "." in text else text


def millimetres(value: Decimal | None) -> str:
    """Write a length; what is not known is said, not left blank.

    >>> millimetres(Decimal("45.5")), millimetres(None)
    ('45.5\\xa0mm', 'not known')
    """
    return "not known" if value is None else f"{short_figure(value)}\u00a0mm"


def tolerance(plus: Decimal, minus: Decimal) -> str:
    """Write a tolerance: one figure with both signs where they are equal, else two.

    >>> tolerance(Decimal("0.10"), Decimal("0.10")), tolerance(Decimal(12), Decimal(4))
    ('±0.10', '+12/−4')
    """
    if plus == minus:
        return f"±{figure(plus)}"
    return f"+{figure(plus)}/−{figure(minus)}"


def celsius(value: Decimal) -> str:
    """Write a temperature with its sign.

    >>> celsius(Decimal(-40)), celsius(Decimal(100))
    ('−40\\xa0°C', '+100\\xa0°C')
    """
    sign = "+" if value > 0 else ""
    return f"{sign}{figure(value)}\u00a0°C"


def bars(value: Decimal | None) -> str:
    """Write a pressure in bar.

    >>> bars(Decimal("160.00")), bars(None)
    ('160\\xa0bar', 'not known')
    """
    return "not known" if value is None else f"{short_figure(value)}\u00a0bar"


def hold_words(from_s: int, to_s: int) -> str:
    """Write how long a pressure is held.

    >>> hold_words(30, 60), hold_words(60, 60)
    ('30 to 60\\xa0s', '60\\xa0s')
    """
    return f"{to_s}\u00a0s" if from_s == to_s else f"{from_s} to {to_s}\u00a0s"


def tag_in_groups(tag: str) -> str:
    """Write a tag of eight signs in two groups of four, as a person reads it out.

    >>> tag_in_groups("4KX7W2N9")
    '4KX7 W2N9'
    """
    return " ".join(tag[n : n + 4] for n in range(0, len(tag), 4))
