"""Brisk coolings of simulated furnaces: is a caution for a fireclay wall right there, or cried for nothing?

Judged by the wall's own truth: the pot's course without noise, which no probe sees, led through the series solution for
a wall with one face driven (Carslaw and Jaeger, Conduction of Heat in Solids), a method the watch does not use. A
steady fall at r pulls the outer face r L²/3a below the mean: a quarter of what 12 mm of fireclay stand are 11.6 K/min.
A closed furnace whose flame is shut off at red heat falls faster than that, at 12 to 44 K/min, so most of them are
beyond it: the caution is right, and whoever cools a fireclay pot so is to hear it.
"""

import math
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import Row, SimulatedHeat
from rampwarden.core.physics import PotWall, WallWatch
from rampwarden.core.physics.wall_watch import CAUTION_SHARE

FIRECLAY = PotWall(0.012, 5.11e-7, 1.05, 72.73)
GRAPHITE = PotWall(0.020, 5.3e-6, 12.0, 141.67)
_MODES = 40
# What noise, the probe's lag and its share of the chamber put between a reading and the pot's own face, of a quarter.
_NEAR = 0.12


def pulls_k(wall: PotWall, face_c: list[float]) -> list[float]:
    """Give by how much the outer face is colder than the wall's mean, K, each second of a face's course."""
    weights, keeps, gains = [], [], []
    for number in range(1, 2 * _MODES, 2):
        decay = (number * math.pi / 2.0) ** 2 / wall.settling_s
        weights.append(8.0 / (number * math.pi) ** 2)
        keeps.append(math.exp(-decay))
        gains.append(-math.expm1(-decay) / decay)
    modes, found = np.zeros(_MODES), [0.0]
    for before_c, now_c in pairwise(face_c):
        modes = np.array(keeps) * modes + np.array(gains) * (before_c - now_c)
        found.append(float(np.dot(weights, modes)))
    return found


@cache
def cooling(simulator: str, seed: int) -> tuple[SimulatedHeat, int]:
    """Give a sound heat, and the second at which its flame is shut off."""
    heat = simulated_heat(simulator, Row.SOUND, seed, Stream.REPORTING)
    return heat, len(heat.pot_c) - 901


def first_caution_s(wall: PotWall, heat: SimulatedHeat, from_s: float) -> float | None:
    """Give when a caution that has stood for its two seconds would be raised first, s; None for never."""
    watch, found_s = WallWatch(wall, on_pot=True), None
    for time_s, temp_c in zip(heat.time_s.tolist(), heat.temp_c.tolist(), strict=True):
        if time_s < from_s - 1200.0:
            continue
        watch.feed(time_s, temp_c)
        if time_s < from_s or watch.finding(raised=False) is None:
            found_s = None
        elif found_s is None:
            found_s = time_s
        elif time_s - found_s >= 2.0:
            return time_s
    return None


def true_pull_k(wall: PotWall, heat: SimulatedHeat, from_s: int) -> list[float]:
    """Give what truly pulls at the outer face in each second of the cooling, K."""
    return pulls_k(wall, heat.pot_c[from_s - 1200 :].tolist())[1200:]


def test_a_steady_fall_pulls_as_far_as_the_textbook_says() -> None:
    """r L²/3a, when it has lasted for L²/a."""
    face_c = [900.0 - 0.2 * second for second in range(600)]
    assert pulls_k(FIRECLAY, face_c)[-1] == pytest.approx(0.2 * FIRECLAY.settling_s / 3.0, rel=0.01)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("simulator", SIMULATORS)
def test_a_brisk_cooling_rings_as_fireclay_where_it_is_beyond_a_quarter_and_only_there(
    simulator: str, seed: int
) -> None:
    """Within half a minute of the moment at which the true pull passes it; what is near a quarter may go either way."""
    heat, from_s = cooling(simulator, seed)
    pull_k, limit_k = true_pull_k(FIRECLAY, heat, from_s), CAUTION_SHARE * FIRECLAY.stands_k
    told_s = first_caution_s(FIRECLAY, heat, from_s)
    if max(pull_k) > (1.0 + _NEAR) * limit_k:
        assert told_s is not None
        passed = next(second for second, each_k in enumerate(pull_k) if each_k > limit_k)
        assert abs(told_s - from_s - passed) <= 45.0
    if told_s is not None:
        assert max(pull_k[: int(told_s - from_s) + 1]) > (1.0 - _NEAR) * limit_k
        assert max(pull_k) > (1.0 - _NEAR) * limit_k


def test_most_of_ten_brisk_coolings_are_truly_beyond_a_quarter_and_as_many_ring() -> None:
    """Counted, so that the caution's rate has its reason: it rings for what the wall feels."""
    beyond, told = 0, 0
    for simulator in SIMULATORS:
        for seed in range(5):
            heat, from_s = cooling(simulator, seed)
            beyond += max(true_pull_k(FIRECLAY, heat, from_s)) > CAUTION_SHARE * FIRECLAY.stands_k
            told += first_caution_s(FIRECLAY, heat, from_s) is not None
    assert beyond >= 7
    assert abs(told - beyond) <= 1


@pytest.mark.parametrize("simulator", SIMULATORS)
def test_the_same_coolings_ring_nothing_as_clay_graphite(simulator: str) -> None:
    """A wall of 20 mm that conducts ten times as well feels a tenth of its strength."""
    for seed in range(5):
        heat, from_s = cooling(simulator, seed)
        assert max(true_pull_k(GRAPHITE, heat, from_s)) < CAUTION_SHARE * GRAPHITE.stands_k
        assert first_caution_s(GRAPHITE, heat, from_s) is None
