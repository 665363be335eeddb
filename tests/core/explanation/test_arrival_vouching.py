"""Vouching for the pot: only while what does not die away of a rise keeps to its limit."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from rampwarden.core.explanation.arrival import ProbeRise
from rampwarden.core.explanation.slots import Slot
from rampwarden.core.quantities import Rate


def vouched(rise: ProbeRise, course: Callable[[float], float], seconds: int, seed: int) -> list[bool]:
    dice = np.random.default_rng(seed)
    out = []
    for n in range(seconds // 5):
        time_s = 5.0 * n + 2.5
        rise.feed(Slot(time_s, course(time_s) + 0.3 * float(dice.standard_normal()), 5, 0, 0.01, False))
        out.append(rise.vouches(time_s))
    return out


def test_a_probe_put_back_on_a_warm_pot_is_vouched_for() -> None:
    for seed in range(10):
        rise = ProbeRise()
        rise.arrive(0.0, Rate(120.0, 180.0))
        contact_s = 8.0 + 2.0 * seed
        said = vouched(rise, lambda t: 170.0 - 130.0 * math.exp(-t / contact_s) + 0.2 * t, 150, seed)  # noqa: B023
        assert all(said[2:]), seed


def test_a_pot_that_truly_climbs_too_fast_is_never_vouched_for_beyond_the_first_moments() -> None:
    for seed in range(40):
        dice = np.random.default_rng(100 + seed)
        limit = Rate(float(dice.uniform(40.0, 150.0)), float(dice.choice((120.0, 180.0, 300.0))))
        pace = float(dice.uniform(1.25, 3.0)) * limit.c_per_s
        rise = ProbeRise()
        rise.arrive(0.0, limit)
        said = vouched(rise, lambda t: 150.0 + pace * t, 300, seed)  # noqa: B023
        # Its budget is broken where the climb within the window is: not before this.
        breaks_s = limit.climb_c / pace
        assert not any(said[int(max(breaks_s, 45.0) / 5.0) :]), seed


def test_nothing_is_vouched_for_without_a_rise_or_a_limit_or_long_after() -> None:
    flat = ProbeRise()
    flat.arrive(0.0, Rate(120.0, 180.0))
    assert not any(vouched(flat, lambda t: 170.0, 150, 1))
    free = ProbeRise()
    free.arrive(0.0, None)
    assert not any(vouched(free, lambda t: 170.0 - 130.0 * math.exp(-t / 20.0), 150, 1))
    late = ProbeRise()
    late.arrive(-900.0, Rate(120.0, 180.0))
    assert not any(vouched(late, lambda t: 170.0 - 130.0 * math.exp(-t / 20.0), 150, 1))


@pytest.mark.parametrize("pace", [0.1, 2.0])
def test_a_dip_regained_is_vouched_for_while_the_pot_behind_it_keeps_its_limit(pace: float) -> None:
    rise = ProbeRise()
    course = lambda t: 900.0 - 90.0 * math.exp(-t / 6.0) + pace * t  # noqa: E731
    first = [Slot(2.5 - 5.0 * n, 810.0, 5, 0, 0.01, False) for n in (3, 2, 1)]
    rise.regain(0.0, Rate(60.0, 120.0), first)
    said = vouched(rise, course, 120, 3)
    assert said[-1] is (pace < 0.5)
