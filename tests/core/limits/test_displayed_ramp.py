"""The displayed ramp: not known in the first minute of anything, and less sure of itself beside a corner."""

import random
from collections.abc import Callable, Iterator

import pytest

from benchmarks.noise_model import CLASSES, Pace, simulate
from benchmarks.ramp_heats import legs
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.limits import DisplayedRamp
from rampwarden.core.limits.noise_meter import NoiseMeter
from rampwarden.core.model import Noise, Quality, Ramp

QUIET = Noise(white_c=0.1, flicker_c=0.0, flicker_s=1.0, interval_s=1.0)
WINDOW_S = 120.0


def drawn(course: Callable[[float], float], until_s: int, *, seed: int = 1, noise_c: float = 0.1) -> DisplayedRamp:
    """Give the ramp of a course of °C over s, read once a second with white noise."""
    dice, ramp = random.Random(seed), DisplayedRamp(WINDOW_S)
    for second in range(until_s):
        ramp.feed(float(second), course(float(second)) + dice.gauss(0.0, noise_c), QUIET)
    return ramp


def corner(time_s: float) -> float:
    return 0.05 * time_s if time_s < 300.0 else 15.0 + 0.5 * (time_s - 300.0)


def test_it_is_not_known_in_the_first_minute_of_anything() -> None:
    young = drawn(lambda time_s: 0.03 * time_s, 60)
    assert young.drawn is not None
    assert young.known is None
    old = drawn(lambda time_s: 0.03 * time_s, 62)
    assert old.known is not None
    assert old.known.c_per_s == pytest.approx(0.03, abs=0.005)
    old.restart()
    assert old.known is None


def test_a_short_window_is_known_once_it_is_nearly_full() -> None:
    ramp = DisplayedRamp(20.0)
    for second in range(20):
        ramp.feed(float(second), 0.1 * second, QUIET)
    assert ramp.known is not None


def test_a_straight_course_is_known_as_well_as_its_noise_lets_it() -> None:
    """Of 200 drawn courses the error states 68 %: within four standard deviations of the draw, 0.13."""
    held = 0
    for seed in range(200):
        ramp = drawn(lambda time_s: 0.05 * time_s, 200, seed=seed).known
        assert ramp is not None
        held += abs(ramp.c_per_s - 0.05) < ramp.standard_error_c_per_s
    assert 0.68 - 0.13 < held / 200 < 0.68 + 0.13


def test_across_a_corner_it_is_less_sure_than_before_and_sure_again_a_window_later() -> None:
    before, across, after = (drawn(corner, until_s).known for until_s in (299, 360, 460))
    assert before is not None
    assert across is not None
    assert after is not None
    assert across.standard_error_c_per_s > 5.0 * before.standard_error_c_per_s
    # Two of them hold the slope now, which a line across the corner misses by half.
    assert abs(across.c_per_s - 0.5) < 2.0 * across.standard_error_c_per_s
    assert after.standard_error_c_per_s < 2.0 * before.standard_error_c_per_s


def test_whoever_looks_changes_nothing() -> None:
    looked, left = DisplayedRamp(WINDOW_S), DisplayedRamp(WINDOW_S)
    for second in range(400):
        for ramp in (looked, left):
            ramp.feed(float(second), corner(float(second)), QUIET)
        assert looked.drawn is not None or second < 2
    assert looked.known == left.known


def seen(noise: str, slopes: list[float], lengths_s: list[float], heats: int) -> Iterator[Iterator[tuple[float, Ramp]]]:
    """Give the ramp of five minutes after each reading of simulated heats, known or not, its noise learnt from them."""
    readings = int(sum(lengths_s))
    made = simulate(legs(slopes, lengths_s), CLASSES[noise], readings, heats, 51, Pace(gaps_per_h=0.0))
    for heat in range(heats):
        yield ramps(made.time_s[:, heat].tolist(), made.temp_c[:, heat].tolist())


def ramps(times_s: list[float], temps_c: list[float]) -> Iterator[tuple[float, Ramp]]:
    gate, meter, shown = OutlierGate(), NoiseMeter(), DisplayedRamp(300.0)
    for time_s, temp_c in zip(times_s, temps_c, strict=True):
        if gate.feed(time_s, temp_c) is Quality.GOOD:
            meter.feed(time_s, temp_c)
            shown.feed(time_s, temp_c, meter.noise)
            if shown.known is not None:
                yield time_s, shown.known


@pytest.mark.parametrize("noise", ["mid", "high", "pink"])
def test_in_a_flame_with_and_without_a_time_constant_it_is_as_wrong_as_it_says(noise: str) -> None:
    """Two standard errors hold 95 % and one 68 %: of 104 windows, less three standard deviations of the draw."""
    off: list[float] = []
    for heat in seen(noise, [0.05], [10_500.0], heats=4):
        due_s = 2700.0
        for time_s, ramp in heat:
            if time_s >= due_s:
                off.append(abs(ramp.c_per_s - 0.05) / ramp.standard_error_c_per_s)
                due_s += 300.0
    assert len(off) >= 100
    assert sum(each < 1.0 for each in off) > (0.68 - 0.137) * len(off)
    assert sum(each < 2.0 for each in off) > (0.95 - 0.064) * len(off)
    # And not by saying that it knows nothing: it is wrong by a standard error now and then.
    assert sum(each > 1.0 for each in off) > 0.1 * len(off)


@pytest.mark.parametrize(("noise", "errors"), [("low", 1.0), ("mid", 2.0), ("pink", 2.0)])
@pytest.mark.parametrize(("before", "after"), [(0.05, 0.15), (0.15, 0.0), (0.0, 0.1)])
def test_a_quarter_of_a_window_after_a_corner_it_holds_the_slope_now(
    noise: str, errors: float, before: float, after: float
) -> None:
    """The line across the corner misses it by nearly all of the bend, and says so; a window later it is past."""
    # In the midst of an eighth of the window, by which the course is looked at: so hardly two of them have seen it.
    corner_s, window_s = 2415.0, 300.0
    held = heats = 0
    for heat in seen(noise, [before, after], [corner_s, 1.3 * window_s], heats=4):
        course = list(heat)
        soon = next(ramp for time_s, ramp in course if time_s >= corner_s + 0.25 * window_s)
        late = course[-1][1]
        assert abs(soon.c_per_s - after) > 0.6 * abs(after - before)
        assert late.standard_error_c_per_s < 0.15 * abs(after - before)
        held += abs(soon.c_per_s - after) < errors * soon.standard_error_c_per_s
        heats += 1
    assert held >= heats - 1
