"""A reading is taken when it stands still, and not before."""

import math
import random

import pytest

from rampwarden.bench.steadiness import Steadiness, Steady

# Of a probe put into a bath: 23 °C to 0 °C, µV about the bath.
FALL_UV = 23.0 * 40.0


def first_steady(tau_s: float, seed: int = 1, interval_s: float = 0.5) -> tuple[float, Steady]:
    """Give when a probe of this time constant counts as steady, s, and what is taken."""
    chance, steadiness = random.Random(seed), Steadiness()
    for number in range(20_000):
        time_s = number * interval_s
        emf_uv = FALL_UV * math.exp(-time_s / tau_s) + chance.gauss(0.0, 4.0)
        steady = steadiness.feed(time_s, emf_uv, 23.0)
        if steady is not None:
            return time_s, steady
    raise AssertionError("never steady")


@pytest.mark.parametrize("tau_s", [2.0, 10.0, 35.0])
def test_a_probe_is_waited_for_as_long_as_it_needs(tau_s: float) -> None:
    """Whatever its time constant, what is taken lies within a quarter of a °C of the bath."""
    for seed in range(20):
        time_s, steady = first_steady(tau_s, seed)
        assert abs(steady.emf_uv) < 10.0 + 0.5 * tau_s
        assert time_s >= 18.0


def test_a_slow_probe_takes_longer_than_a_quick_one() -> None:
    """No stopwatch decides."""
    assert first_steady(35.0)[0] > 2.0 * first_steady(2.0)[0]


def test_one_spark_neither_delays_nor_shifts_it() -> None:
    """It lies far outside what the others scatter by."""
    steadiness, chance = Steadiness(), random.Random(4)
    taken = None
    for number in range(60):
        emf_uv = 8000.0 if number == 20 else chance.gauss(100.0, 3.0)
        taken = taken or steadiness.feed(number * 0.5, emf_uv, 23.0)
    assert taken is not None
    assert taken.emf_uv == pytest.approx(100.0, abs=3.0)


def test_after_a_fault_it_begins_anew() -> None:
    """What came before may be of another wire."""
    steadiness = Steadiness()
    for number in range(40):
        steadiness.feed(number * 0.5, 5.0, 23.0)
    steadiness.restart()
    assert steadiness.feed(20.0, 5.0, 23.0) is None
