"""What learnt noise does to means and differences: formulas only, for whoever must know how far chance reaches.

Noise is white plus first-order autoregressive flicker with autocorrelation exp(-|lag|/τ), as `Noise` states it. Each
function is exact for that law with readings close together; results are standard deviations in °C.
"""

import math

from rampwarden.core.model import Noise


def mean_error_c(noise: Noise, span_s: float) -> float:
    """Standard deviation of the mean of all readings of `span_s` seconds, °C; of one reading if fewer come.

    >>> round(mean_error_c(Noise(white_c=1.0, flicker_c=0.0, flicker_s=5.0, interval_s=1.0), 100.0), 3)
    0.1
    """
    flicker_c2 = noise.flicker_c * noise.flicker_c
    return math.sqrt(white_error_c(noise, span_s) ** 2 + flicker_c2 * _kept_by_mean(span_s / noise.flicker_s))


def white_error_c(noise: Noise, span_s: float) -> float:
    """Standard deviation of the mean of all readings of `span_s` seconds by the white part alone, °C."""
    return noise.white_c * math.sqrt(min(1.0, noise.interval_s / span_s))


def jump_error_c(noise: Noise, span_s: float, apart_s: float) -> float:
    """Standard deviation of the difference of two means over `span_s` seconds, `apart_s` from centre to centre, °C.

    The flicker of each mean is taken as it stands at its centre, which overstates it a little.
    """
    white_c2 = 2.0 * white_error_c(noise, span_s) ** 2
    flicker_c2 = 2.0 * noise.flicker_c * noise.flicker_c * -math.expm1(-apart_s / noise.flicker_s)
    return math.sqrt(white_c2 + flicker_c2)


def scatter_within_c(noise: Noise, span_s: float) -> float:
    """Standard deviation of readings about their own mean over `span_s` seconds, °C."""
    flicker_c2 = noise.flicker_c * noise.flicker_c * (1.0 - _kept_by_mean(span_s / noise.flicker_s))
    return math.sqrt(noise.white_c * noise.white_c + flicker_c2)


def _kept_by_mean(x: float) -> float:
    """Share of the variance of first-order autoregressive noise that its mean over x correlation times keeps."""
    if x < 0.01:  # the closed form loses its digits; its series does not
        return 1.0 - x / 3.0
    return 2.0 * (x - 1.0 + math.exp(-x)) / (x * x)
