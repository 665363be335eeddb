"""What noise does to means and differences: the formulas against noise that was rolled with dice."""

import functools
import itertools
import statistics

import pytest

from courses import FLAME, ROUGH, noisy
from rampwarden.core.model import Noise
from rampwarden.core.noise_formulas import (
    climb_error_c,
    jump_error_c,
    mean_error_c,
    rise_error_c,
    scatter_within_c,
    white_error_c,
)


@functools.cache
def rolled(noise: Noise) -> list[float]:
    return [temp_c for _, temp_c in noisy(lambda _: 0.0, 250_000, noise, seed=5)]


def means(noise: Noise, span: int) -> list[float]:
    values = rolled(noise)
    return [statistics.fmean(values[at : at + span]) for at in range(0, len(values) - span, span)]


@pytest.mark.parametrize("noise", [FLAME, ROUGH])
@pytest.mark.parametrize("span", [5, 60])
def test_a_mean_scatters_as_the_law_says(noise: Noise, span: int) -> None:
    """Within a tenth, for quick and slow flicker and short and long means."""
    assert statistics.pstdev(means(noise, span)) == pytest.approx(mean_error_c(noise, span), rel=0.1)


def test_a_difference_of_means_scatters_hardly_less_than_the_law_says() -> None:
    """The law takes each mean's flicker at its centre; it may overstate by a quarter and never understates."""
    for noise in (FLAME, ROUGH):
        five = means(noise, 5)
        differences = [after - at for at, after in zip(five, five[2:], strict=False)]
        law_c = jump_error_c(noise, 5.0, 10.0)
        assert 0.75 * law_c < statistics.pstdev(differences) < 1.03 * law_c


def test_scatter_within_a_span_is_what_the_mean_does_not_keep() -> None:
    """Variances add up, for readings close together."""
    parts = mean_error_c(ROUGH, 10.0) ** 2 - white_error_c(ROUGH, 10.0) ** 2 + scatter_within_c(ROUGH, 10.0) ** 2
    assert parts == pytest.approx(ROUGH.flicker_c**2 + ROUGH.white_c**2)


def test_flicker_slower_than_a_span_is_wholly_kept_and_one_reading_is_no_mean() -> None:
    """At both ends of the formula nothing blows up."""
    slow = Noise(white_c=0.2, flicker_c=1.0, flicker_s=90.0, interval_s=10.0)
    assert mean_error_c(slow, 0.5) == pytest.approx((1.0 + 0.2**2) ** 0.5, rel=0.01)
    assert mean_error_c(slow, 0.89) == pytest.approx(mean_error_c(slow, 0.91), rel=1e-3)


@pytest.mark.parametrize("noise", [FLAME, ROUGH])
@pytest.mark.parametrize(("span", "window"), [(5, 60), (60, 60), (240, 60)])
def test_a_climb_between_two_means_scatters_as_the_law_says(noise: Noise, span: int, window: int) -> None:
    """Mean of a span less the mean a window before, apart, touching and overlapping."""
    sums = [0.0, *itertools.accumulate(rolled(noise))]
    step = max(7, span // 3)
    climbs = [
        (sums[at] - sums[at - span] - sums[at - window] + sums[at - window - span]) / span
        for at in range(span + window, len(sums), step)
    ]
    assert statistics.pstdev(climbs) == pytest.approx(climb_error_c(noise, span, window), rel=0.1)


def test_a_climb_between_two_readings_scatters_as_they_do() -> None:
    """The shortest span: twice the variance of one reading, where flicker is fast to the window."""
    one_c = climb_error_c(Noise(1.0, 2.0, 5.0, 1.0), 1.0, 900.0)
    assert one_c == pytest.approx((2.0 * (1.0 + 4.0)) ** 0.5, rel=0.05)


@pytest.mark.parametrize("noise", [FLAME, ROUGH, Noise(0.8, 0.2, 10.0, 1.0)])
@pytest.mark.parametrize(("near", "far", "span"), [(5, 5, 10), (5, 40, 60), (30, 30, 60), (20, 100, 400)])
def test_a_rise_between_unlike_means_scatters_as_the_law_says(noise: Noise, near: int, far: int, span: int) -> None:
    """Mean of the last readings less that of the first of a span, next to each other and far apart."""
    sums = [0.0, *itertools.accumulate(rolled(noise))]
    rises = [
        (sums[at] - sums[at - near]) / near - (sums[at - span + far] - sums[at - span]) / far
        for at in range(span, len(sums), max(7, span // 3))
    ]
    assert statistics.pstdev(rises) == pytest.approx(rise_error_c(noise, near, far, span), rel=0.1)
