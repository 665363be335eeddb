"""What one probe tells of another: learnt while both were good, and how far it may be off afterwards."""

import math

import numpy as np
import pytest

from rampwarden.core.standing_in import AT_ONCE, EVERY_LAW, Laws, LearntParting, PartingMeter, StandIn, Wander


def learnt(chamber_c: np.ndarray, pot_c: np.ndarray, laws: Laws = EVERY_LAW) -> LearntParting | None:  # type: ignore[type-arg]
    """Learn from two courses of a value a second."""
    meter = PartingMeter(laws)
    for second, (other_c, own_c) in enumerate(zip(chamber_c.tolist(), pot_c.tolist(), strict=True)):
        meter.feed(float(second), own_c)
        meter.feed_other(float(second), other_c)
    return meter.learnt(float(len(pot_c)))


def following(chamber_c: np.ndarray, follows_s: float, start_c: float) -> np.ndarray:  # type: ignore[type-arg]
    """Give what comes after a chamber with one time constant."""
    kept, level_c, course = math.exp(-1.0 / follows_s), start_c, []
    for each in chamber_c.tolist():
        level_c = kept * level_c + (1.0 - kept) * each
        course.append(level_c)
    return np.array(course)


def climb_and_hold(seconds: int, pace: float, top_c: float) -> np.ndarray:  # type: ignore[type-arg]
    return np.minimum(100.0 + pace * np.arange(seconds), top_c)


def test_a_law_of_exchange_comes_to_its_chamber_as_its_differential_equation_does() -> None:
    """By small steps of dx/dt = r (c - x), with the radiative part at the temperatures of the moment."""
    laws, level_c = Laws(np.array([200.0]), np.array([0.8])), 300.0
    hot, by_small_steps_c = 900.0 + 273.15, 300.0
    for _ in range(60_000):
        cold = by_small_steps_c + 273.15
        rate = (0.2 + 0.8 * (hot**2 + cold**2) * (hot + cold) / (4.0 * 1173.15**3)) / 200.0
        by_small_steps_c += 0.01 * rate * (900.0 - by_small_steps_c)
    level = np.array([level_c])
    for _ in range(60):
        level = laws.follow(level, 10.0, 900.0, 900.0)
    assert float(level[0]) == pytest.approx(by_small_steps_c, abs=1.0)
    # A long step is taken in short ones.
    assert float(laws.follow(np.array([level_c]), 600.0, 900.0, 900.0)[0]) == pytest.approx(by_small_steps_c, abs=5.0)


def test_a_pot_is_guessed_through_the_end_of_its_ramp() -> None:
    """The lag that was seen in the climb carries the guess round the corner, and what it may be off by holds."""
    chamber_c = climb_and_hold(7200, 0.15, 800.0)
    pot_c = following(chamber_c, 300.0, 100.0) - 4.0
    found = learnt(chamber_c[:4500], pot_c[:4500])
    assert found is not None
    guess = StandIn(found)
    for second in range(4500, 6300):
        guess.feed(float(second), float(chamber_c[second]))
        assert abs(guess.temp_c - pot_c[second]) <= guess.off_c, second
    assert guess.temp_c == pytest.approx(float(pot_c[6299]), abs=10.0)


def test_uncertainty_grows_with_the_time_since_both_were_good() -> None:
    """And that of a climb is no more than what can have come about within its window."""
    dice = np.random.default_rng(3)
    chamber_c = 700.0 + np.cumsum(dice.normal(0.0, 0.05, 7200))
    pot_c = chamber_c - 30.0 + np.cumsum(dice.normal(0.0, 0.05, 7200))
    found = learnt(chamber_c[:3600], pot_c[:3600])
    assert found is not None
    guess, off_c = StandIn(found), []
    for second in range(3600, 7200):
        guess.feed(float(second), float(chamber_c[second]))
        off_c.append(guess.off_c)
    assert off_c[10] < off_c[600] < off_c[3500]
    assert guess.off_over(120.0) < guess.off_over(1200.0) <= guess.off_c


def test_a_wander_beyond_what_was_seen_goes_on_growing() -> None:
    """Between the horizons a line, beyond the last a power of the time."""
    wander = Wander((0.0, 30.0, 60.0), (1.0, 1.0, 3.0))
    assert [wander.at(age_s) for age_s in (0.0, 30.0, 45.0, 60.0)] == [1.0, 1.0, 2.0, 3.0]
    assert wander.at(120.0) == pytest.approx(3.0 * 2.0**0.75)


def test_five_minutes_of_both_are_the_least() -> None:
    """Less tells nothing; and readings in doubt are none of them."""
    chamber_c = np.full(700, 500.0)
    assert learnt(chamber_c[:290], chamber_c[:290]) is None
    assert learnt(chamber_c, chamber_c) is not None
    meter = PartingMeter(EVERY_LAW)
    for second in range(700):
        meter.feed(float(second), 490.0)
        meter.feed_other(float(second), 500.0)
    assert meter.learnt(250.0) is None, "what came later is not believed"
    meter.restart()
    assert meter.learnt(700.0) is None


def test_a_chamber_is_guessed_from_its_pot_by_an_offset_alone() -> None:
    """Nobody can undo a lag; and the guess says how little it is worth while the heat climbs."""
    chamber_c = climb_and_hold(4000, 0.2, 600.0)
    pot_c = following(chamber_c, 200.0, 100.0)
    found = learnt(pot_c[:2000], chamber_c[:2000], AT_ONCE)
    assert found is not None
    assert len(found.offset_c) == 1
    guess = StandIn(found)
    for second in range(2000, 3000):
        guess.feed(float(second), float(pot_c[second]))
    assert abs(guess.temp_c - chamber_c[2999]) <= guess.off_c
    assert guess.off_c > 10.0
