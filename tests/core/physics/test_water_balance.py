"""Grams of water by the heat a pot took and did not show, on a model wall and on a model lump of another make."""

import random
from functools import cache

import pytest

from rampwarden.core.physics.water_balance import DryHeat, learn_dry_heat, water_gone
from wet_pot import climbing_oven, wet_pot_c
from wet_wall import POT_J_PER_K, wet_wall

Course = list[tuple[float, float, float]]
AMOUNTS_G = (0.0, 50.0, 100.0, 150.0, 250.0, 400.0)


@cache
def of_wall(grams: float, k_per_h: float = 90.0, noise_c: float = 0.15) -> Course:
    """Give the course of a wall of 5 kg, with a board's noise on both probes; a minute's mean of readings has less."""
    dice = random.Random(f"wet wall {grams} {k_per_h}")
    course, gone_g = wet_wall(grams, climbing_oven(k_per_h), round(200.0 / k_per_h * 4700.0) + 4000)
    assert gone_g == pytest.approx(grams, abs=1.0)
    return [
        (at_s, pot_c + dice.gauss(0.0, noise_c), oven_c + dice.gauss(0.0, noise_c)) for at_s, pot_c, oven_c in course
    ]


@cache
def of_lump(grams: float, k_per_h: float = 90.0) -> Course:
    """Give that of a lump that is heated by air alone."""
    oven_c = climbing_oven(k_per_h)
    temps = wet_pot_c(grams, oven_c, round(200.0 / k_per_h * 4700.0) + 4000)
    return [(float(at_s), temp_c, oven_c(float(at_s))) for at_s, temp_c in enumerate(temps) if at_s % 60 == 0]


def dry_heat(course: Course) -> DryHeat:
    """Learn from a dry heat that can be fitted."""
    dry = learn_dry_heat(course, POT_J_PER_K)
    assert dry is not None
    return dry


@pytest.mark.parametrize("grams", AMOUNTS_G)
def test_within_40_g_of_the_model_wall_when_its_dry_heat_is_known(grams: float) -> None:
    """And the interval holds it. 40 g are asked for; here it comes to less than ten."""
    gone = water_gone(of_wall(grams), POT_J_PER_K, dry_heat(of_wall(0.0)))
    assert gone is not None
    assert gone.grams == pytest.approx(grams, abs=10.0)
    assert gone.low_g <= grams <= gone.high_g
    assert gone.high_g - gone.low_g <= 0.3 * grams + 60.0


@pytest.mark.parametrize("grams", AMOUNTS_G)
@pytest.mark.parametrize("k_per_h", [60.0, 120.0])
def test_within_40_g_of_a_lump_of_another_make_in_ovens_of_another_pace(grams: float, k_per_h: float) -> None:
    """Its oven gives by air alone: the dry heat has shown that too."""
    gone = water_gone(of_lump(grams, k_per_h), POT_J_PER_K, dry_heat(of_lump(0.0)))
    assert gone is not None
    assert gone.grams == pytest.approx(grams, abs=40.0)
    assert gone.low_g <= grams <= gone.high_g


@pytest.mark.parametrize("grams", AMOUNTS_G)
def test_without_a_dry_heat_the_interval_is_wide_and_holds_it(grams: float) -> None:
    """How the oven gives is assumed then, and what left below 60 °C is missed."""
    for course in (of_wall(grams), of_lump(grams)):
        gone = water_gone(course, POT_J_PER_K)
        assert gone is not None
        assert gone.low_g <= grams <= gone.high_g
        assert gone.high_g - gone.low_g > 60.0


def test_a_dry_heat_tells_how_the_oven_gives() -> None:
    """By air alone into the lump, with radiation into the wall; and dry, neither seems to lose anything."""
    wall, lump = dry_heat(of_wall(0.0)), dry_heat(of_lump(0.0))
    assert lump.radiated < 0.01
    assert 0.3 < wall.radiated < 0.5
    assert abs(wall.zero_g) < 5.0
    assert abs(lump.zero_g) < 5.0


def test_what_is_still_leaving_is_told_so_far() -> None:
    """In the midst of it less than all has gone."""
    course, dry = of_wall(250.0), dry_heat(of_wall(0.0))
    half = water_gone(course[: len(course) // 3], POT_J_PER_K, dry)
    whole = water_gone(course, POT_J_PER_K, dry)
    assert half is not None
    assert whole is not None
    assert 10.0 < half.grams < whole.grams - 30.0


def test_what_begins_warm_or_is_too_short_tells_nothing() -> None:
    """Nothing there to fit."""
    warm = [each for each in of_wall(100.0) if each[1] > 70.0]
    assert water_gone(warm, POT_J_PER_K) is None
    assert water_gone(warm, POT_J_PER_K, dry_heat(of_wall(0.0))) is None
    assert learn_dry_heat(warm, POT_J_PER_K) is None
    assert water_gone(of_wall(100.0)[:5], POT_J_PER_K) is None
    assert water_gone([], POT_J_PER_K) is None
