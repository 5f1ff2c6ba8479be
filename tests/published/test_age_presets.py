"""The named age presets against pages that quote the documents."""

from assemblies.standards import tables


def limits(preset: str) -> set[tuple[str, int, str, str]]:
    rows = tables.age_presets()
    return {(r.limit, r.value, r.unit, r.counts_from) for r in rows if r.preset == preset}


# Trade pages that quote DGUV Regel 113-020, 4.5 and DIN 20066: six years of use including at most
# two of storage, hose no older than four years at building; a page on storage draws 4, 2 and 6.
def test_normal_duty_is_four_two_and_six_years() -> None:
    assert limits("din-20066-normal") >= {
        ("reel_age_at_build", 4, "years", "hose_made"),
        ("storage", 2, "years", "built"),
        ("life", 6, "years", "built"),
    }


# The same pages: two years of use where the demands are raised.
def test_increased_duty_is_two_years_of_use_and_never_past_six() -> None:
    assert limits("din-20066-increased") >= {
        ("life", 2, "years", "fitted"),
        ("life", 6, "years", "built"),
    }


# A distributor's page that quotes ISO/TR 17165-2: 40 quarters (10 years) from the making of the
# hose, stored to ISO 2230.
def test_shelf_preset_is_forty_quarters_from_the_making_of_the_hose() -> None:
    assert limits("iso-17165-2-shelf") == {("storage", 40, "quarters", "hose_made")}


# No second source was found for the intervals of inspection (12 and 6 months): they are marked.
def test_inspection_intervals_are_marked_unverified() -> None:
    rows = [r for r in tables.age_presets() if r.limit == "inspection"]
    assert {(r.value, r.unit) for r in rows} == {(12, "months"), (6, "months")}
    assert all(row.source.is_unverified for row in rows)


def test_no_preset_gives_a_life_in_hours() -> None:
    assert {r.unit for r in tables.age_presets()} == {"years", "months", "quarters"}
