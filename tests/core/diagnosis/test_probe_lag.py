"""A probe's time constant from a lid lifted and shut again, and from nothing else."""

import math

import pytest

from courses import CALM, FLAME, ROUGH, Course, corners, lid, trends
from rampwarden.core.diagnosis.probe_lag import LagWatch
from rampwarden.core.model import Finding, Noise


def watched(
    course: Course,
    noise: Noise = CALM,
    window_s: float | None = 120.0,
    *,
    in_place: bool = True,
    seed: int = 1,
    lid_s: float = 600.0,
    otherwise_s: float = -math.inf,
) -> tuple[LagWatch, list[Finding | None]]:
    watch = LagWatch()
    seen = trends(course, 1200.0, noise, seed)
    return watch, [
        watch.feed(
            trend, window_s, (lid_s, otherwise_s if trend.time_s >= otherwise_s else -math.inf), in_place=in_place
        )
        for trend in seen
    ]


@pytest.mark.parametrize("tau_s", [5.0, 10.0, 20.0, 40.0, 80.0])
@pytest.mark.parametrize("noise", [CALM, FLAME])
def test_the_time_constant_of_a_lid_is_found_within_a_third(tau_s: float, noise: Noise) -> None:
    """From a thin bare couple to a ceramic tube."""
    watch, _ = watched(lid(600.0, 75.0, 40.0, tau_s), noise)
    assert watch.lag_s is not None
    assert watch.lag_s == pytest.approx(tau_s, rel=0.35, abs=2.0)


def test_a_probe_too_slow_for_the_window_is_told() -> None:
    """Five time constants must fit into it."""
    _, found = watched(lid(600.0, 75.0, 40.0, 50.0))
    finding = found[-1]
    assert finding is not None
    assert finding.limit == 24.0
    assert finding.unit == "s"
    assert "the limit's window of 2 min needs 24: fast ramps are seen late and too small" in finding.what


@pytest.mark.parametrize(("tau_s", "window_s"), [(8.0, 120.0), (50.0, 900.0), (50.0, None)])
def test_a_probe_quick_enough_for_its_window_is_not(tau_s: float, window_s: float | None) -> None:
    """Nor one that no limit asks anything of."""
    _, found = watched(lid(600.0, 75.0, 40.0, tau_s), window_s=window_s)
    assert all(finding is None for finding in found)


def test_cold_metal_is_not_taken_for_a_slow_probe() -> None:
    """A fall with an exponential's shape and no rise: the pot itself."""
    watch, _ = watched(lid(600.0, 1e9, 60.0, 60.0))
    assert watch.lag_s is None


@pytest.mark.parametrize("seed", range(5))
def test_a_rough_flame_and_the_corners_of_a_ramp_are_no_lids(seed: int) -> None:
    """Nothing is fitted to noise."""
    course = corners((0.0, 600.0), (500.0, 700.0), (600.0, 690.0), (700.0, 690.0), (1200.0, 790.0))
    watch, _ = watched(course, ROUGH, seed=seed)
    assert watch.lag_s is None


def test_a_pot_that_is_carried_says_nothing_of_the_probe() -> None:
    """Out of the oven and into the furnace the pot itself cools and warms."""
    watch, _ = watched(lid(600.0, 75.0, 40.0, 50.0), in_place=False)
    assert watch.lag_s is None


def test_a_course_that_something_else_explains_says_nothing_of_the_probe() -> None:
    """Before the pulse it explains nothing of it."""
    slow = lid(600.0, 75.0, 40.0, 50.0)
    assert watched(slow, otherwise_s=700.0)[0].lag_s is None
    assert watched(slow, otherwise_s=500.0)[0].lag_s is not None


def test_a_shallow_fall_that_nobody_takes_for_a_lid_says_nothing_of_the_probe() -> None:
    """Nor does a lid at another time; a deep one speaks for itself, as a slow probe's lid is not told."""
    assert watched(lid(600.0, 75.0, 20.0, 50.0), lid_s=-math.inf)[0].lag_s is None
    assert watched(lid(600.0, 75.0, 20.0, 50.0), lid_s=500.0)[0].lag_s is None
    assert watched(lid(600.0, 75.0, 20.0, 50.0))[0].lag_s is not None
    assert watched(lid(600.0, 75.0, 80.0, 50.0), lid_s=-math.inf)[0].lag_s is not None
