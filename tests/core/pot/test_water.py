"""Water that leaves is seen in the pot's own course, and a climb after it is not held to be steam for certain."""

from collections.abc import Callable, Iterator

import pytest

from rampwarden.core.pot import (
    Belief,
    Breach,
    BreachKind,
    Claim,
    ClaimDoubt,
    ClaimName,
    ClaimShown,
    EvidenceStretch,
    Limit,
    Place,
    PotFacts,
    PotLedger,
    Ready,
    SegmentFacts,
    SegmentSort,
    account_of,
    accumulate,
)
from rampwarden.core.pot.water import water_left_s
from wet_pot import climbing_oven, readings, slope_c_per_s, wet_pot_c

LIMIT = Limit(25.0, 900.0)
UP = SegmentFacts(1, "up", SegmentSort.RAMP, in_furnace=False, limits=(LIMIT,))
SECONDS = 9000


def ledger(course: Iterator[float], facts: PotFacts | None = None) -> PotLedger:
    kept = PotLedger([UP], facts or PotFacts(place=Place.POT), 60.0)
    for reading in readings(course):
        assert reading.temp_c is not None
        kept.feed(reading.time_s, reading.temp_c)
    return kept


def left_s(kept: PotLedger) -> float | None:
    return water_left_s(kept.evidence().stretches)


def wet(grams: float, k_per_h: float = 90.0, facts: PotFacts | None = None) -> PotLedger:
    return ledger(wet_pot_c(grams, climbing_oven(k_per_h), SECONDS), facts)


@pytest.mark.parametrize("grams", [100.0, 150.0, 250.0, 400.0])
def test_the_climb_that_recovers_is_seen_from_two_per_cent_of_water_on(grams: float) -> None:
    """Of 5 kg; the moment lies where the pot stands near 100 °C, after it was slowest."""
    course = list(wet_pot_c(grams, climbing_oven(90.0), SECONDS))
    found_s = left_s(ledger(iter(course)))
    assert found_s is not None
    assert 95.0 < course[int(found_s)] < 108.0
    assert slope_c_per_s(course, 110.0, 130.0) > 1.2 * slope_c_per_s(course, 40.0, 60.0)


@pytest.mark.parametrize("k_per_h", [40.0, 90.0, 150.0, 300.0])
def test_a_dry_pot_loses_no_water(k_per_h: float) -> None:
    assert left_s(wet(0.0, k_per_h)) is None


def test_a_pot_still_on_its_plateau_has_not_lost_its_water() -> None:
    assert left_s(ledger(wet_pot_c(400.0, climbing_oven(90.0), 6000))) is None


def test_a_pot_first_seen_warm_says_nothing() -> None:
    """How fast it would have climbed dry was not seen."""
    kept = PotLedger([UP], PotFacts(), 60.0)
    for reading in readings(wet_pot_c(250.0, climbing_oven(90.0), SECONDS)):
        if reading.temp_c is not None and reading.temp_c > 50.0:
            kept.feed(reading.time_s, reading.temp_c)
    assert left_s(kept) is None


def test_a_gap_on_the_plateau_says_nothing() -> None:
    """What was not seen is not guessed."""
    kept = PotLedger([UP], PotFacts(), 60.0)
    for reading in readings(wet_pot_c(250.0, climbing_oven(90.0), SECONDS)):
        if not 5000.0 < reading.time_s < 5600.0 and reading.temp_c is not None:
            kept.feed(reading.time_s, reading.temp_c)
    assert left_s(kept) is None


def stretches_of(course: Callable[[float], float], to_s: int) -> list[EvidenceStretch]:
    return [
        EvidenceStretch(s, s + 60.0, 1, Belief.BELIEVED, course(s), course(s + 60.0), course(s), course(s + 60.0))
        for s in (float(second) for second in range(0, to_s, 60))
    ]


@pytest.mark.parametrize("stood_s", [420.0, 1800.0])
def test_a_dial_that_stood_and_went_on_at_its_old_pace_is_no_recovery(stood_s: float) -> None:
    def course(time_s: float) -> float:
        return 20.0 + (time_s - min(max(time_s - 3000.0, 0.0), stood_s)) / 36.0

    assert water_left_s(stretches_of(course, 7200)) is None


# What the account makes of it


def breach(from_s: float, low_c: float, climb_c: float = 45.0) -> Breach:
    """Give a climb that was found too fast a window after it began."""
    to_s = from_s + LIMIT.window_s
    return Breach(
        BreachKind.CLIMBED, 1, from_s, to_s, low_c, low_c + climb_c, climb_c, LIMIT.climb_c, window_s=LIMIT.window_s
    )


def judged(kept: PotLedger, *breaches: Breach) -> tuple[Claim, Claim]:
    """Give what is claimed of a climb while wet, and of any other."""
    for each in breaches:
        kept.breach(each)
    account = account_of(kept.evidence())
    assert accumulate([account]).ready is Ready.INSPECT_FIRST
    return account.claim(ClaimName.CLIMBED_WHILE_WET), account.claim(ClaimName.CLIMBED_TOO_FAST)


def test_a_climb_after_the_water_has_left_is_too_fast_and_only_perhaps_wet() -> None:
    kept = wet(250.0)
    found_s = left_s(kept)
    assert found_s is not None
    while_wet, too_fast = judged(kept, breach(found_s, 101.0))
    assert (while_wet.shown, too_fast.shown) == (ClaimShown.IN_DOUBT, ClaimShown.SHOWN)
    assert while_wet.doubts[0] is ClaimDoubt.WATER_LEFT
    assert while_wet.evidence is not None
    assert while_wet.evidence.measure == 45.0


def test_a_climb_on_the_way_to_the_plateau_was_one_of_a_wet_pot() -> None:
    """And stays so, whatever came after it."""
    kept = wet(250.0)
    found_s = left_s(kept)
    assert found_s is not None
    while_wet, too_fast = judged(kept, breach(found_s - 2500.0, 50.0, 30.0), breach(found_s, 101.0))
    assert (while_wet.shown, too_fast.shown) == (ClaimShown.SHOWN, ClaimShown.SHOWN)
    assert while_wet.evidence is not None
    assert while_wet.evidence.measure == 30.0


def test_a_climb_that_was_found_before_the_water_had_left_is_not_excused_by_its_end() -> None:
    """It went on, and was joined with what came after."""
    kept = wet(250.0)
    found_s = left_s(kept)
    assert found_s is not None
    while_wet, _ = judged(kept, breach(found_s - 1000.0, 95.0), breach(found_s - 200.0, 99.0))
    assert while_wet.shown is ClaimShown.SHOWN


def test_a_probe_in_the_chamber_sees_no_water_leave() -> None:
    kept = wet(250.0, facts=PotFacts(place=Place.CHAMBER))
    found_s = left_s(kept)
    assert found_s is not None
    while_wet, too_fast = judged(kept, breach(found_s, 101.0))
    assert (while_wet.shown, too_fast.shown) == (ClaimShown.SHOWN, ClaimShown.NOT_SHOWN)
