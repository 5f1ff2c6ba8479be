"""Published sets of lives, each with where it was printed. Ages in hours unless said."""

from typing import Final

from scheduling.calc.life.records import Lives, lives


def _censored(failed: list[float], running: dict[float, int]) -> Lives:
    ages = [*failed, *running]
    dead = [True] * len(failed) + [False] * len(running)
    return lives(ages, dead, count=[1] * len(failed) + list(running.values()))


# Nelson, Applied Life Data Analysis (Wiley 1982), pages 133 and 318: fans of diesel generators,
# 70 units, 12 failures. The same set is `genfan` of R's survival package.
FANS: Final = _censored(
    [450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750],
    {
        **{460: 1, 1560: 1, 1660: 1, 1850: 5, 2030: 3, 2200: 1, 3000: 4, 3200: 1, 3750: 2},
        **{4150: 4, 4300: 4, 4850: 4, 5000: 3, 6100: 3, 6300: 1, 6450: 2, 6700: 1, 7450: 1},
        **{7800: 2, 8100: 2, 8200: 1, 8500: 3, 8750: 2, 9400: 1, 9900: 1, 10100: 3, 11500: 1},
    },
)

# Lieblein & Zelen, J. Res. Nat. Bur. Stand. 57 (1956): 23 ball bearings, millions of
# revolutions. This is the copy with 48.48 (some have 48.40).
BEARINGS: Final = [
    *[17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.48, 51.84, 51.96, 54.12, 55.56, 67.80],
    *[68.64, 68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40],
]

# NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: 20 units, stopped at 500 hours.
HANDBOOK_FAILURES: Final = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
HANDBOOK: Final = _censored([float(age) for age in HANDBOOK_FAILURES], {500: 10})

# Abernethy et al., AFWAL-TR-83-2079 (1983); Meeker & Escobar (1998): bearing cages of a fleet of
# engines, 1703 units, 6 failures.
CAGES: Final = _censored(
    [230, 334, 423, 990, 1009, 1510],
    {
        **{50: 288, 150: 148, 250: 124, 350: 111, 450: 106, 550: 99, 650: 110, 750: 114},
        **{850: 119, 950: 127, 1050: 123, 1150: 93, 1250: 47, 1350: 41, 1450: 27, 1550: 11},
        **{1650: 6, 1850: 1, 2050: 2},
    },
)

# Krivtsov & Case, SAE 1999-01-3220 (1999): field data of a part, kilometres; the set is
# `automotive` of the package reliability.
FIELD_FAILURES: Final = [5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900]
FIELD_RUNNING: Final = [
    *[3961, 4007, 4734, 6054, 7298, 10190, 23060, 27160, 28690, 37100, 40060, 45670, 53000],
    *[67000, 69630, 77350, 78470, 91680, 105700, 106300, 150400],
]
FIELD: Final = lives([*FIELD_FAILURES, *FIELD_RUNNING], [True] * 10 + [False] * 21)

# Invented, with the values that several libraries agree on: late entries beside failures.
LATE_EXIT: Final = [
    *[1200, 2500, 3100, 1800, 4000, 5200, 2900, 6100, 4700, 3600, 5600, 2200, 4400, 6800, 5000]
]
LATE_FAILED: Final = [1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 0, 1, 0, 1]
LATE_ENTRY: Final = [0, 0, 500, 900, 1500, 2000, 0, 3500, 2600, 1000, 4200, 600, 0, 5000, 3000]
LATE: Final = lives(LATE_EXIT, LATE_FAILED, entry=LATE_ENTRY)

COMPLETE_BEARINGS: Final = lives(BEARINGS, [True] * len(BEARINGS))
SETS: Final = {
    "fans": FANS,
    "bearings": COMPLETE_BEARINGS,
    "handbook": HANDBOOK,
    "cages": CAGES,
    "field": FIELD,
    "late": LATE,
}
