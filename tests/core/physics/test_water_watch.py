"""A drying pot's water by its heat balance while it dries: what is told when, on two model pots."""

import random
from functools import cache

import pytest

from rampwarden.core.physics.water_balance import DryHeat
from rampwarden.core.physics.water_watch import WaterWatch, balance_words
from wet_pot import climbing_oven, wet_pot_c
from wet_wall import POT_J_PER_K, wet_wall

AMOUNTS_G = (0.0, 50.0, 100.0, 150.0, 250.0, 400.0)
Course = list[tuple[float, float, float]]


@cache
def of_wall(grams: float) -> Course:
    """Give the pairs of a wall of 5 kg in an oven at 90 K/h, ten seconds apart, with a board's noise."""
    dice = random.Random(f"pairs {grams}")
    course, _ = wet_wall(grams, climbing_oven(90.0), 15000, every_s=10)
    return [(at_s, pot_c + dice.gauss(0.0, 0.15), oven_c + dice.gauss(0.0, 0.15)) for at_s, pot_c, oven_c in course]


@cache
def of_lump(grams: float) -> Course:
    """Give those of a lump that is heated by air alone."""
    oven_c = climbing_oven(90.0)
    temps = wet_pot_c(grams, oven_c, 15000)
    return [(float(at_s), temp_c, oven_c(float(at_s))) for at_s, temp_c in enumerate(temps) if at_s % 10 == 0]


def watched(course: Course, dry: DryHeat | None) -> WaterWatch:
    """Let a course pass."""
    watch = WaterWatch(POT_J_PER_K, dry)
    for pair in course:
        watch.feed(*pair)
    return watch


@cache
def dry_heat(lump: bool) -> DryHeat:
    """Give what the dry heat shows."""
    dry = watched(of_lump(0.0) if lump else of_wall(0.0), None).learnt()
    assert dry is not None
    return dry


@pytest.mark.parametrize("grams", AMOUNTS_G)
@pytest.mark.parametrize("lump", [False, True], ids=["wall", "lump"])
def test_grams_are_within_40_of_the_truth_and_within_their_interval(grams: float, lump: bool) -> None:
    """With the dry heat of the same pot in the same oven."""
    gone = watched((of_lump if lump else of_wall)(grams), dry_heat(lump)).gone
    assert gone is not None
    assert gone.grams == pytest.approx(grams, abs=40.0)
    assert gone.low_g <= grams <= gone.high_g


@pytest.mark.parametrize("grams", AMOUNTS_G)
def test_dry_is_said_of_a_wall_whose_water_has_left_and_not_before(grams: float) -> None:
    """When it is said, no more than some grams are left in it."""
    watch, told_s = WaterWatch(POT_J_PER_K, dry_heat(False)), None
    for pair in of_wall(grams):
        watch.feed(*pair)
        if watch.is_dry:
            told_s = pair[0]
            break
    assert told_s is not None
    _, gone_g = wet_wall(grams, climbing_oven(90.0), round(told_s))
    assert grams - gone_g <= 0.02 * grams + 5.0


def test_without_a_dry_heat_nothing_is_said_to_be_dry() -> None:
    """How the oven gives is assumed then: grams with a wide interval, and no more."""
    watch = watched(of_wall(150.0), None)
    assert not watch.is_dry
    assert watch.gone is not None
    assert watch.gone.low_g <= 150.0 <= watch.gone.high_g
    assert "by the heat balance of pot and oven (" in balance_words(watch.gone)


def test_what_is_still_leaving_is_not_dry() -> None:
    """At 100 °C, with half of it still in the wall."""
    half = [pair for pair in of_wall(400.0) if pair[1] < 105.0]
    watch = watched(half, dry_heat(False))
    assert not watch.is_dry
    assert not watch.is_over


def test_a_pot_that_was_taken_for_dry_and_was_not_teaches_nothing() -> None:
    """150 g that no exchange explains are no property of the oven; nor is what never got hot."""
    assert watched(of_wall(400.0), None).learnt() is None
    assert watched([pair for pair in of_wall(0.0) if pair[1] < 120.0], None).learnt() is None


def test_what_begins_warm_has_no_balance_and_what_cools_is_over() -> None:
    """Nothing there to fit; and what was seen stands."""
    warm = watched([pair for pair in of_wall(100.0) if pair[1] > 45.0], dry_heat(False))
    assert warm.is_over
    assert warm.gone is None
    climbed = [pair for pair in of_wall(100.0) if pair[1] < 90.0]
    end_s = climbed[-1][0]
    cooled = [(end_s + 10.0 * step, 90.0 - 0.2 * step, 60.0) for step in range(1, 120)]
    watch = watched(climbed + cooled, dry_heat(False))
    assert watch.is_over
    assert not watch.is_dry
    before = watch.gone
    assert not watch.feed(end_s + 9000.0, 150.0, 160.0)
    assert watch.gone == before


def test_a_watch_that_is_stopped_adds_nothing() -> None:
    """A probe that is not where it was tells nothing of heat."""
    watch = WaterWatch(POT_J_PER_K, dry_heat(False))
    watch.stop()
    assert not any(watch.feed(*pair) for pair in of_wall(100.0))
    assert watch.gone is None
