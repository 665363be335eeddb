"""What learnt noise does to means and differences: formulas only, for whoever must know how far chance reaches.

Noise is white plus first-order autoregressive flicker with autocorrelation exp(-|lag|/τ), as `Noise` states it. Each
function is exact for that law with readings close together; results are standard deviations in °C.
"""

import math

from rampwarden.core.model import Noise

# How far a noise that was learnt may be wrong. Measured by the ramp benchmark, no other source.
_YOUNG_S = 1000.0
"""s. A law learnt in a time t may be wrong about long means by a share (1000 s/t)⁴ of their error, ..."""
_MOST_YOUNG = 0.5
"""... but by no more than so much: at first the rough fire that is assumed before still counts for most."""
_YOUNG_OCTAVES = 3.0
"""Octaves above what is known at which that holds in full."""
_KNOWN_S = 8.0
"""s. Means so short are known from blocks of their own length, however young or mixed a noise is."""
_SPREAD_PER_OCTAVE = 0.33
"""Share of the spread's power that each octave above adds, ..."""
_MOST_OCTAVES = 5.0
"""... for so many octaves."""


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


def climb_error_c(noise: Noise, span_s: float, window_s: float) -> float:
    """Standard deviation of the mean of `span_s` seconds less the mean of as many seconds `window_s` before, °C.

    The integral of flicker over u has the variance V(u) = 2 σ²τ² (u/τ - 1 + exp(-u/τ)); of the two spans' covariance
    four such terms are left. What they have in common, where a span is longer than the window, cancels.
    """
    apart_s = abs(window_s - span_s)
    flicker = 2.0 * _integral_variance(noise, span_s) - _integral_variance(noise, window_s + span_s)
    flicker += 2.0 * _integral_variance(noise, window_s) - _integral_variance(noise, apart_s)
    white = 2.0 * min(span_s, window_s) * noise.white_c * noise.white_c * noise.interval_s
    return math.sqrt(max(flicker + white, 0.0)) / span_s


def rise_error_c(noise: Noise, near_s: float, far_s: float, span_s: float) -> float:
    """Standard deviation of the mean of the last `near_s` of `span_s` seconds less the mean of the first `far_s`, °C.

    For near_s + far_s <= span_s. As `climb_error_c`, with ends that may differ.
    """
    between_s = span_s - near_s - far_s
    tau_s, whole = noise.flicker_s, _whole_variance(noise)
    shared = whole * _shape_of(span_s / tau_s) + whole * _shape_of(max(between_s, 0.0) / tau_s)
    shared -= whole * _shape_of((span_s - near_s) / tau_s) + whole * _shape_of((span_s - far_s) / tau_s)
    flicker = whole * _shape_of(near_s / tau_s) / (near_s * near_s) + whole * _shape_of(far_s / tau_s) / (far_s * far_s)
    white = white_error_c(noise, near_s) ** 2 + white_error_c(noise, far_s) ** 2
    return math.sqrt(max(flicker - shared / (near_s * far_s) + white, 0.0))


def wider(noise: Noise, span_s: float, most_young: float = _MOST_YOUNG) -> float:
    """By what factor errors of means over `span_s` seconds are taken wider than a noise says; `most_young` at first.

    It was not learnt for long, or it has no law of one time constant. Both leave short means alone, which blocks of
    their own length have shown by the hundred, and tell the more the longer a mean is.
    """
    octaves = math.log2(max(span_s / _KNOWN_S, 1.0))
    spread: float = noise.spread ** (_SPREAD_PER_OCTAVE * min(octaves, _MOST_OCTAVES))
    young = most_young if noise.learnt_s <= _YOUNG_S else min(most_young, (_YOUNG_S / noise.learnt_s) ** 4)
    return spread * (1.0 + young * min(1.0, octaves / _YOUNG_OCTAVES))


def white_and_flicker(
    seen: list[float], weights: list[float], expected: list[float], reference: list[float], white: float = 6.0
) -> tuple[float, float, float]:
    """Fit white and flicker variance (°C²), neither below zero, to weighted relative misfit; the misfit comes first.

    `seen` is relative to `reference`; `expected` is what flicker of unit variance shows at each length, each twice the
    one before; `white` what white noise of unit variance shows at the first.
    """
    ww = wf = ff = w1 = f1 = total = 0.0
    for value, weight, flicker, scale in zip(seen, weights, expected, reference, strict=True):
        w = white / scale
        f = flicker / scale
        ww += weight * w * w
        wf += weight * w * f
        ff += weight * f * f
        w1 += weight * w * value
        f1 += weight * f * value
        total += weight * value * value
        white *= 0.5
    determinant = ww * ff - wf * wf
    white_c2 = flicker_c2 = -1.0
    if determinant > 1e-9 * ww * ff:
        white_c2 = (w1 * ff - f1 * wf) / determinant
        flicker_c2 = (f1 * ww - w1 * wf) / determinant
    if flicker_c2 < 0.0:
        white_c2, flicker_c2 = w1 / ww, 0.0
    elif white_c2 < 0.0:
        white_c2, flicker_c2 = 0.0, f1 / ff
    return total - white_c2 * w1 - flicker_c2 * f1, white_c2, flicker_c2


def bend_variance(interval_s: float, readings: int, tau_s: float) -> float:
    """Variance of a second difference of neighbouring block means, `readings` each, of unit autoregressive noise.

    With C0, C1, C2 the covariances of a block mean with itself, the next and the one after: 6 C0 - 8 C1 + 2 C2.
    """
    phi = math.exp(-interval_s / tau_s)
    edge = 1.0 - phi
    far = phi**readings
    same = (readings * (1.0 - phi * phi) - 2.0 * phi * (1.0 - far)) / (readings * edge) ** 2
    following = phi * ((1.0 - far) / (readings * edge)) ** 2
    return 6.0 * same - 8.0 * following + 2.0 * following * far


def _kept_by_mean(x: float) -> float:
    """Share of the variance of first-order autoregressive noise that its mean over x correlation times keeps."""
    if x < 0.01:  # the closed form loses its digits; its series does not
        return 1.0 - x / 3.0
    return 2.0 * (x - 1.0 + math.exp(-x)) / (x * x)


def _integral_variance(noise: Noise, span_s: float) -> float:
    """Variance of the integral of the flicker over `span_s` seconds, °C² s²."""
    return _whole_variance(noise) * _shape_of(span_s / noise.flicker_s)


def _whole_variance(noise: Noise) -> float:
    return 2.0 * (noise.flicker_c * noise.flicker_s) ** 2


def _shape_of(x: float) -> float:
    """Variance of such an integral over x correlation times, as a share of the above."""
    return x * x * (0.5 - x / 6.0) if x < 1e-3 else x - 1.0 + math.exp(-x)
