"""A scatter that was put together is taken apart again."""

import numpy as np
import pytest

from rampwarden.bench.noise_parts import mains_that_show, split_noise, step_of


def readings(seed: int, count: int, interval_s: float) -> tuple[np.ndarray, np.random.Generator]:
    """Times of readings and a generator of noise."""
    return np.arange(count) * interval_s, np.random.default_rng(seed)


def test_white_noise_mains_and_step_are_each_found_at_their_size() -> None:
    """White 3 µV, 40 µV rms of 50.13 Hz met ten times a second, steps of 4 µV, on a drift of 120 µV a minute."""
    time_s, chance = readings(1, 300, 0.1)
    values = 2.0 * time_s + chance.normal(0.0, 3.0, 300) + 40.0 * np.sqrt(2) * np.sin(2 * np.pi * 50.13 * time_s)
    parts = split_noise(time_s, np.round(values / 4.0) * 4.0, 0.1)
    assert parts is not None
    assert parts.white == pytest.approx(3.0, rel=0.2)
    assert parts.line == pytest.approx(40.0, rel=0.05)
    assert parts.line_hz == pytest.approx(0.13, abs=0.003)
    assert parts.mains_hz[:2] == (50.0, 60.0)
    assert parts.step == pytest.approx(4.0)
    assert parts.drift_per_s * 60.0 == pytest.approx(120.0, rel=0.25)


def test_white_noise_alone_has_no_line() -> None:
    """In two hundred listenings not one."""
    for seed in range(200):
        time_s, chance = readings(seed, 120, 0.25)
        parts = split_noise(time_s, chance.normal(0.0, 5.0, 120), 0.25)
        assert parts is not None
        assert parts.line_hz is None


def test_a_line_that_no_mains_would_show_there_is_not_named_after_them() -> None:
    """2.5 Hz met seven times a second: neither 50 nor 60 Hz shows there."""
    time_s, chance = readings(3, 210, 1 / 7)
    values = chance.normal(0.0, 3.0, 210) + 30.0 * np.sin(2 * np.pi * 2.5 * time_s)
    parts = split_noise(time_s, values, 1 / 7, rate_off_by=0.0)
    assert parts is not None
    assert parts.line_hz == pytest.approx(2.5, abs=0.01)
    assert parts.mains_hz == ()


@pytest.mark.parametrize(
    ("line_hz", "interval_s", "expected"),
    [
        (0.0, 0.1, (50.0, 60.0, 100.0, 120.0)),
        (1.0, 1 / 7, (50.0, 120.0)),
        (3.0, 1 / 7, (60.0,)),
        (2.0, 1 / 7, (100.0,)),
    ],
)
def test_the_mains_are_known_by_their_alias(line_hz: float, interval_s: float, expected: tuple[float, ...]) -> None:
    """|f - n·r|: at seven readings a second 50 Hz shows at 1 Hz, 60 at 3, 100 at 2."""
    assert mains_that_show(line_hz, interval_s) == expected


def test_the_step_is_told_only_where_values_come_again() -> None:
    """Not of a still reading, and not of a fine one."""
    chance = np.random.default_rng(5)
    fine = chance.normal(0.0, 5.0, 200)
    assert step_of(np.full(50, 7.0)) is None
    assert step_of(fine) is None
    assert step_of(np.round(fine / 1.953) * 1.953) == pytest.approx(1.953, rel=1e-3)


def test_a_short_listening_tells_nothing() -> None:
    """Seven readings are no scatter."""
    assert split_noise(np.arange(7.0), np.ones(7), 1.0) is None
