"""Geometry of a crimp: a place to start a trial, never a crimp figure for release.

The shell's metal keeps its cross-section and does not lengthen; the hose wall is measured over
the reinforcement.
"""

from dataclasses import dataclass
from math import isfinite, sqrt

# One trade page, indicative: wall compression by number of wire layers.
INDICATIVE_COMPRESSION = {1: (0.40, 0.43), 2: (0.43, 0.46), 3: (0.46, 0.50), 4: (0.50, 0.54)}


@dataclass(frozen=True)
class Joint:
    """The parts of a joint before crimping, all in mm.

    shell_od, shell_id: the shell; hose_bore, reinforcement: the hose; tail_od: the tail.
    """

    shell_od_mm: float
    shell_id_mm: float
    hose_bore_mm: float
    reinforcement_mm: float
    tail_od_mm: float

    def __post_init__(self) -> None:
        sizes = vars(self).values()
        if not all(isfinite(size) and size > 0 for size in sizes):
            raise ValueError("Every size of a joint must be a number of mm above zero.")
        if self.shell_od_mm <= self.shell_id_mm:
            raise ValueError("The shell's outside diameter must be above its inside diameter.")
        if self.reinforcement_mm <= self.hose_bore_mm:
            raise ValueError("The reinforcement diameter must be above the hose's bore.")

    @property
    def wall_mm(self) -> float:
        """Hose wall under the shell before crimping, to the outside of the reinforcement."""
        return (self.reinforcement_mm - self.hose_bore_mm) / 2

    @property
    def shell_area(self) -> float:
        """D₀² − d₀² of the shell in mm² (times π/4 for the true area)."""
        return self.shell_od_mm**2 - self.shell_id_mm**2


def crimped_bore_mm(shell_od_mm: float, shell_id_mm: float, crimp_od_mm: float) -> float:
    """Bore of the shell crimped to an outside diameter, its metal's area kept.

    d(D) = √(D² − (D₀² − d₀²)); all in mm. Raises ValueError where the metal would fill the bore.
    Source: derived (constant area, no lengthening).

    >>> round(crimped_bore_mm(27, 21, 23.645), 2)
    16.46
    """
    left = crimp_od_mm**2 - (shell_od_mm**2 - shell_id_mm**2)
    if not isfinite(left) or left <= 0:
        raise ValueError(f"Crimped to {crimp_od_mm} mm the shell would have no bore left.")
    return sqrt(left)


def crimp_od_for_bore_mm(joint: Joint, bore_mm: float) -> float:
    """Outside diameter at which the crimped shell has a bore, in mm: D = √(d² + D₀² − d₀²).

    Source: derived, the inverse of `crimped_bore_mm`.

    >>> joint = Joint(27, 21, 12.7, 19.8, 12.9)
    >>> round(crimp_od_for_bore_mm(joint, 16.4647), 3)
    23.645
    """
    if not isfinite(bore_mm) or bore_mm <= 0:
        raise ValueError("A bore must be a number of mm above zero.")
    return sqrt(bore_mm**2 + joint.shell_area)


def wall_compression(joint: Joint, crimp_od_mm: float) -> float:
    """Share of the hose wall that is pressed away: c = 1 − W/W₀, W = (d(D) − t)/2.

    Dimensionless; below 0 the shell does not touch yet. Source: derived.

    >>> joint = Joint(27, 21, 12.7, 19.8, 12.9)
    >>> round(wall_compression(joint, 23.645), 3)
    0.498
    """
    bore = crimped_bore_mm(joint.shell_od_mm, joint.shell_id_mm, crimp_od_mm)
    return 1 - (bore - joint.tail_od_mm) / 2 / joint.wall_mm


def crimp_od_for_compression_mm(joint: Joint, compression: float) -> float:
    """Estimated crimp OD in mm for a wall compression 0 ≤ c < 1: inverts `wall_compression`.

    Source: derived.

    >>> joint = Joint(27, 21, 12.7, 19.8, 12.9)
    >>> round(wall_compression(joint, crimp_od_for_compression_mm(joint, 0.45)), 9)
    0.45
    """
    if not 0 <= compression < 1:
        raise ValueError("A wall compression lies between 0 and 1.")
    bore = joint.tail_od_mm + 2 * joint.wall_mm * (1 - compression)
    return crimp_od_for_bore_mm(joint, bore)


def stretched_reinforcement_mm(joint: Joint) -> float:
    """Reinforcement diameter of the hose pushed on the tail, its wall's area kept, in mm.

    A tail no larger than the bore does not stretch the hose. Source: derived.

    >>> round(stretched_reinforcement_mm(Joint(27, 21, 12.7, 19.8, 12.9)), 3)
    19.929
    """
    if joint.tail_od_mm <= joint.hose_bore_mm:
        return joint.reinforcement_mm
    wall_area = joint.reinforcement_mm**2 - joint.hose_bore_mm**2
    return sqrt(joint.tail_od_mm**2 + wall_area)


def contact_od_mm(joint: Joint) -> float:
    """Outside diameter at which the shell first touches the reinforcement, in mm.

    Returns at most the uncrimped OD: a shell that touches already is at contact. Source: derived.

    >>> joint = Joint(27, 21, 12.7, 19.8, 12.9)
    >>> round(crimped_bore_mm(27, 21, contact_od_mm(joint)), 3)
    19.929
    """
    contact = crimp_od_for_bore_mm(joint, stretched_reinforcement_mm(joint))
    return min(contact, joint.shell_od_mm)


def trade_estimate_mm(joint: Joint, layers: int) -> tuple[float, float]:
    """Crimp OD in mm by the trade's compression band for a number of wire layers (low, high).

    Indicative: seen on one trade page. Raises ValueError for layers outside 1 to 4.

    >>> low, high = trade_estimate_mm(Joint(27, 21, 12.7, 19.8, 12.9), 2)
    >>> low < high
    True
    """
    if layers not in INDICATIVE_COMPRESSION:
        raise ValueError("The trade's rule speaks of one to four wire layers.")
    least, most = INDICATIVE_COMPRESSION[layers]
    return crimp_od_for_compression_mm(joint, most), crimp_od_for_compression_mm(joint, least)


def shop_sum_od_mm(joint: Joint, compression: float) -> float:
    """Crimp OD in mm by the shop's sum: tail, the pressed hose wall twice, the shell's wall twice.

    D = t + 2·W₀·(1 − c) + (D₀ − d₀): the shell's wall is taken to stay as thick as it was, so the
    sum lies below the estimate that keeps the metal's area. Common practice, no published source.

    >>> joint = Joint(27, 21, 12.7, 19.8, 12.9)
    >>> round(shop_sum_od_mm(joint, 0.45), 3), round(crimp_od_for_compression_mm(joint, 0.45), 3)
    (22.805, 23.883)
    """
    if not 0 <= compression < 1:
        raise ValueError("A wall compression lies between 0 and 1.")
    shell_wall = joint.shell_od_mm - joint.shell_id_mm
    return joint.tail_od_mm + 2 * joint.wall_mm * (1 - compression) + shell_wall


def external_skive_mm(insertion_mm: float, cover_left_mm: float = 5.0) -> float:
    """Length of cover to skive from the hose's end, in mm: insertion less the cover left.

    The cover left under the shell's end seals the wire from water and rust: about 5 mm (common
    practice, no published source). Raises ValueError unless 0 ≤ cover left < insertion.

    >>> external_skive_mm(34)
    29.0
    """
    if not (isfinite(insertion_mm) and 0 <= cover_left_mm < insertion_mm):
        raise ValueError("The cover left under the shell must be shorter than the insertion.")
    return insertion_mm - cover_left_mm


def insertion_mark_mm(internal_depth_mm: float) -> float:
    """Where the shell's end will lie on the hose, from the hose's end, in mm.

    It is the shell's internal depth. Source: common practice, no published source.

    >>> insertion_mark_mm(34)
    34
    """
    if not isfinite(internal_depth_mm) or internal_depth_mm <= 0:
        raise ValueError("A shell's internal depth must be a number of mm above zero.")
    return internal_depth_mm
