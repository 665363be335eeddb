"""The displayed slope: exact on lines, as good as can be on noise, honest about its error."""

import random

import numpy as np
import pytest

from rampwarden.core.limits.slope_fit import SlopeFit, slope_standard_error
from rampwarden.core.model import Noise, Ramp

QUIET = Noise(0.1, 0.0, 10.0, 1.0)


def fed(fit: SlopeFit, readings: list[tuple[float, float]], noise: Noise = QUIET) -> list[Ramp | None]:
    return [fit.feed(time_s, temp_c, noise) for time_s, temp_c in readings]


@pytest.mark.parametrize("start_s", [0.0, 1.7e9])
@pytest.mark.parametrize("c_per_s", [-1.7, 0.0, 0.028, 6.7])
def test_a_line_gives_its_slope(c_per_s: float, start_s: float) -> None:
    """At an uneven pace, with gaps, from any time stamp on."""
    rng = random.Random(1)
    offset_s = 0.0
    readings = []
    for _ in range(2000):
        offset_s += rng.choice((0.05, 1.0, 1.3, 20.0))
        readings.append((start_s + offset_s, 500.0 + c_per_s * offset_s))
    ramps = [ramp for ramp in fed(SlopeFit(300.0), readings) if ramp is not None]
    assert [ramp.c_per_s for ramp in ramps] == pytest.approx([c_per_s] * len(ramps), abs=2e-6)


def test_fewer_than_three_readings_say_nothing() -> None:
    assert fed(SlopeFit(60.0), [(0.0, 20.0), (1.0, 21.0)]) == [None, None]


def test_readings_of_one_moment_say_nothing() -> None:
    assert fed(SlopeFit(60.0), [(5.0, 20.0)] * 4) == [None] * 4


def test_the_window_forgets_what_is_older() -> None:
    """A minute after the corner a one-minute window knows only the new ramp."""
    readings = [(float(n), max(0.0, 0.5 * (n - 200))) for n in range(300)]
    last = fed(SlopeFit(60.0), readings)[-1]
    assert last is not None
    assert last.c_per_s == pytest.approx(0.5)
    assert last.span_s == 60.0


def test_a_restart_forgets_everything() -> None:
    fit = SlopeFit(60.0)
    fed(fit, [(float(n), float(n)) for n in range(60)])
    fit.restart()
    last = fed(fit, [(70.0, 500.0), (71.0, 500.0), (72.0, 500.0)])[-1]
    assert last is not None
    assert (last.c_per_s, last.span_s) == (0.0, 2.0)


def test_days_of_readings_leave_the_sums_exact() -> None:
    """Sums that are only ever added to and taken from would drift; these are made afresh from the window."""
    rng = random.Random(2)
    fit = SlopeFit(100.0)
    readings = [(1.7e9 + 0.5 * n, 900.0 + rng.gauss(0.0, 1.0)) for n in range(60_000)]
    last = fed(fit, readings)[-1]
    assert last is not None
    window = np.array([reading for reading in readings if reading[0] >= readings[-1][0] - 100.0])
    expected = np.polyfit(window[:, 0] - window[-1, 0], window[:, 1], 1)[0]
    assert last.c_per_s == pytest.approx(expected, abs=1e-12)


def test_white_noise_scatters_the_slope_no_more_than_it_must() -> None:
    """Within 1.05 of the Cramér-Rao bound 12 σ²/(N (N² - 1) Δt²), and the stated error is that scatter."""
    rng = random.Random(3)
    noise = Noise(0.5, 0.0, 10.0, 1.0)
    ramps = fed(SlopeFit(99.5), [(float(n), rng.gauss(0.0, 0.5)) for n in range(20_000)], noise)
    slopes = [ramp.c_per_s for ramp in ramps[100:] if ramp is not None]
    bound = 0.5 * np.sqrt(12.0 / (100.0 * (100.0**2 - 1.0)))
    last = ramps[-1]
    assert last is not None
    assert np.std(slopes) < 1.05 * bound
    assert last.standard_error_c_per_s == pytest.approx(bound, rel=0.02)


@pytest.mark.parametrize(
    ("flicker_s", "window_s"), [(5.0, 60.0), (12.0, 60.0), (12.0, 300.0), (30.0, 60.0), (400.0, 30.0)]
)
def test_the_stated_error_counts_flicker_as_correlated(flicker_s: float, window_s: float) -> None:
    """The scatter of the slope over simulated flicker is what the closed form says, from slow flicker to fast."""
    rng = np.random.default_rng(4)
    steps = round(window_s)
    keep = np.exp(-1.0 / flicker_s)
    flicker = np.empty((steps + 1, 20_000))
    flicker[0] = rng.standard_normal(20_000)
    for n in range(1, steps + 1):
        flicker[n] = keep * flicker[n - 1] + np.sqrt(1.0 - keep * keep) * rng.standard_normal(20_000)
    time_s = np.arange(steps + 1) - 0.5 * steps
    spread_s2 = float(time_s @ time_s)
    scatter = float(np.std(time_s @ flicker / spread_s2))
    stated = slope_standard_error(Noise(0.0, 1.0, flicker_s, 1.0), window_s, spread_s2)
    assert stated == pytest.approx(scatter, rel=0.05)


def test_the_stated_error_is_smooth_where_its_series_takes_over() -> None:
    below, above = (slope_standard_error(Noise(0.0, 1.0, 1000.0, 1.0), span_s, 1.0) for span_s in (99.9, 100.1))
    assert below == pytest.approx(above, rel=2e-3)


def test_a_slope_that_is_drawn_only_when_somebody_looks_is_the_same() -> None:
    rng = random.Random(4)
    readings = [(1.3 * n, 500.0 + 0.4 * n + rng.gauss(0.0, 0.1)) for n in range(500)]
    looked_at, unseen = SlopeFit(60.0), SlopeFit(60.0)
    for number, (time_s, temp_c) in enumerate(readings):
        noise = Noise(0.1, 0.2 + 0.001 * number, 10.0, 1.3)
        last = looked_at.feed(time_s, temp_c, noise)
        unseen.add(time_s, temp_c, noise)
    assert unseen.ramp() == last
    unseen.restart()
    assert unseen.ramp() is None
