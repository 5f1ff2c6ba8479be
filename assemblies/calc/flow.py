"""Oil flow in a hose: velocity, Reynolds number, pressure loss; and oil cleanliness codes."""

from dataclasses import dataclass
from math import isfinite, log10, pi, sqrt

# Reynolds numbers between which flow may be laminar or turbulent.
LAMINAR_BELOW, TURBULENT_FROM = 2040.0, 4000.0


@dataclass(frozen=True)
class Loss:
    """Pressure loss along a hose, with what it was worked out from."""

    velocity_m_per_s: float
    reynolds: float
    friction_factor: float
    loss_bar_per_m: float
    uncertain: bool


def velocity_m_per_s(flow_l_per_min: float, bore_mm: float) -> float:
    """Mean velocity in m/s of a flow in L/min through a bore in mm: v = 21.22 Q/d².

    The factor is 1000/60·4/π = 21.2207. Raises ValueError unless bore > 0 and flow ≥ 0.
    Source: derived (continuity).

    >>> round(velocity_m_per_s(40, 19), 3)
    2.351
    """
    if not (isfinite(flow_l_per_min) and isfinite(bore_mm) and bore_mm > 0 <= flow_l_per_min):
        raise ValueError("Flow must be 0 or more L/min and the bore above 0 mm.")
    return flow_l_per_min / 60_000 / (pi * (bore_mm / 1000) ** 2 / 4)


def pressure_loss(
    flow_l_per_min: float, bore_mm: float, viscosity_cst: float, density_kg_per_m3: float
) -> Loss:
    """Pressure loss by Darcy–Weisbach for a smooth bore.

    Flow in L/min, bore in mm, kinematic viscosity in cSt (mm²/s), density in kg/m³. Laminar
    f = 64/Re below Re 2040, else Colebrook for a smooth bore; 2040 to 4000 is marked uncertain.
    Source: derived; checked against the `fluids` library.

    >>> found = pressure_loss(40, 19, 46, 870)
    >>> round(found.reynolds, 1), round(found.loss_bar_per_m, 4)
    (971.2, 0.0834)
    """
    if not (viscosity_cst > 0 and density_kg_per_m3 > 0):
        raise ValueError("Viscosity and density must be above zero.")
    v = velocity_m_per_s(flow_l_per_min, bore_mm)
    reynolds = v * (bore_mm / 1000) / (viscosity_cst * 1e-6)
    if reynolds == 0:
        return Loss(0.0, 0.0, 0.0, 0.0, uncertain=False)
    f = 64 / reynolds if reynolds < LAMINAR_BELOW else _smooth(reynolds)
    loss_pa_per_m = f / (bore_mm / 1000) * density_kg_per_m3 * v**2 / 2
    return Loss(v, reynolds, f, loss_pa_per_m / 1e5, LAMINAR_BELOW <= reynolds < TURBULENT_FROM)


def _smooth(reynolds: float) -> float:
    """Friction factor of a smooth bore: 1/√f = −2 log10(2.51/(Re √f)), by iteration."""
    x = 8.0
    for _ in range(60):
        x = -2 * log10(2.51 * x / reynolds)
    return 1 / x**2


def bore_for_velocity_mm(flow_l_per_min: float, limit_m_per_s: float) -> float:
    """Smallest bore in mm that keeps a flow in L/min at or below a velocity in m/s.

    Source: derived, the inverse of `velocity_m_per_s`.

    >>> round(bore_for_velocity_mm(60, 4), 3)
    17.841
    """
    if not limit_m_per_s > 0:
        raise ValueError("A velocity limit must be above zero.")
    return sqrt(flow_l_per_min / 60_000 * 4 / pi / limit_m_per_s) * 1000


# ISO 4406: upper limits in particles per ml of classes 0 to 28, each inclusive.
_ISO_4406_UPPER = (
    *(0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5, 10, 20, 40, 80, 160, 320, 640),
    *(1300, 2500, 5000, 10_000, 20_000, 40_000, 80_000, 160_000, 320_000, 640_000),
    *(1_300_000, 2_500_000),
)


def iso_4406_class(particles_per_ml: float) -> str:
    """ISO 4406 scale number of a count per ml; the upper limit of a class belongs to it.

    Source: ISO 4406 table 1, as public pages quote it.

    >>> iso_4406_class(5000), iso_4406_class(5001)
    ('19', '20')
    """
    if not (isfinite(particles_per_ml) and particles_per_ml >= 0):
        raise ValueError("A particle count is 0 or more per ml.")
    for number, upper in enumerate(_ISO_4406_UPPER):
        if particles_per_ml <= upper:
            return str(number)
    return ">28"


def iso_4406_code(at_4: float, at_6: float, at_14: float) -> str:
    """ISO 4406 code of counts per ml at ≥4, ≥6 and ≥14 µm(c).

    Raises ValueError where a coarser count exceeds a finer one.

    >>> iso_4406_code(4500, 900, 250)
    '19/17/15'
    """
    if not at_4 >= at_6 >= at_14:
        raise ValueError("Coarser particles can't be more than finer ones: check the counts.")
    return "/".join(iso_4406_class(count) for count in (at_4, at_6, at_14))
