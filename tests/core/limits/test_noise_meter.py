"""The noise meter: right about what scatters, blind to what the heat does."""

import math
import random
from functools import cache

import numpy as np
import pytest

from benchmarks.furnaces.sampling import Board, Disturbed, sample
from benchmarks.noise_model import CLASSES, Array, Pace, Programme, simulate
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.limits.noise_meter import MOST_FLICKER_C, PRIOR_FLICKER_C, PRIOR_WHITE_C, NoiseMeter
from rampwarden.core.model import Noise, Quality

# What one reading of each class scatters by: EMF noise and mains at 40.8 µV/°C, and the converter's step over √12.
TRUE = {"low": (0.070, 0.3, 5.0), "mid": (0.173, 0.7, 12.0), "high": (0.322, 1.5, 30.0)}
TWO_HOURS = 7200
PACE = Pace()


def level(time_s: Array) -> Array:
    return 0.0 * time_s


def learnt(
    noise: str, programme: Programme = level, readings: int = TWO_HOURS, pace: Pace = PACE, seed: int = 1
) -> Noise:
    """What a meter says after a simulated heat behind a gate."""
    heats = simulate(programme, CLASSES[noise], readings, 1, seed, pace)
    gate, meter = OutlierGate(), NoiseMeter()
    for time_s, temp_c in zip(heats.time_s[:, 0].tolist(), heats.temp_c[:, 0].tolist(), strict=True):
        if gate.feed(time_s, temp_c) is Quality.GOOD:
            meter.feed(time_s, temp_c)
    return meter.noise


def density(noise: Noise) -> float:
    """What is left by long averages, per √Hz: the figure that the margins live on."""
    return float(np.sqrt(2.0 * noise.flicker_c**2 * noise.flicker_s + noise.white_c**2 * noise.interval_s))


@cache
def calm_density() -> float:
    return float(np.mean([density(learnt("mid", readings=3600, seed=seed)) for seed in range(3)]))


def true_density(name: str) -> float:
    white_c, flicker_c, flicker_s = TRUE[name]
    return density(Noise(white_c, flicker_c, flicker_s, 1.0))


@pytest.mark.parametrize("name", TRUE)
def test_white_noise_flicker_and_colour_are_told_apart(name: str) -> None:
    """After two hours: each within a third, and what long averages leave within a quarter or a little above."""
    white_c, flicker_c, flicker_s = TRUE[name]
    noises = [learnt(name, seed=seed) for seed in range(4)]
    assert np.mean([noise.white_c for noise in noises]) == pytest.approx(white_c, rel=0.33)
    assert np.mean([noise.flicker_c for noise in noises]) == pytest.approx(flicker_c, rel=0.25)
    assert np.mean([noise.flicker_s for noise in noises]) == pytest.approx(flicker_s, rel=0.4)
    assert 0.9 < np.mean([density(noise) for noise in noises]) / true_density(name) < 1.3


@pytest.mark.parametrize("c_per_s", [-1.7, 0.028, 1.7])
def test_a_steady_ramp_is_no_noise(c_per_s: float) -> None:
    """A second difference does not see a slope, whatever the jitter of the time stamps."""
    steep = np.mean([density(learnt("mid", lambda time_s: c_per_s * time_s, 3600, seed=seed)) for seed in range(3)])
    assert steep == pytest.approx(calm_density(), rel=0.15)


def test_corners_are_little_noise() -> None:
    """A ramp and a hold of a quarter of an hour each: corners are clipped, not averaged in."""

    def programme(time_s: Array) -> Array:
        return np.interp(time_s, np.arange(0, 9001, 900), 20.0 * np.floor(np.arange(0, 11) / 2 + 0.5))

    assert density(learnt("mid", programme)) < 1.5 * true_density("mid")


@pytest.mark.parametrize(("name", "most_c"), [("low", 1.0), ("mid", 1.6), ("high", 2.2)])
def test_a_burner_that_cycles_is_not_learnt_as_flicker(name: str, most_c: float) -> None:
    """16 °C a minute for 150 s, off for as long: once 4 °C of flicker, and no excess passed such a margin."""

    def programme(time_s: Array) -> Array:
        turns = np.floor(time_s / 300.0)
        return 16.0 / 60.0 * (150.0 * turns + np.minimum(time_s - 300.0 * turns, 150.0))

    noise = learnt(name, programme, 5400)
    assert TRUE[name][1] <= noise.flicker_c <= most_c
    assert density(noise) > 0.9 * true_density(name)


def test_no_flicker_is_learnt_without_bound() -> None:
    """A probe that swings by 40 °C within a minute: beyond 5 °C it is no flame."""

    def programme(time_s: Array) -> Array:
        return 20.0 * np.sin(time_s / 8.0)

    assert learnt("low", programme).flicker_c == MOST_FLICKER_C


def test_flame_smoothed_by_the_probe_is_not_taken_for_a_small_one() -> None:
    """Flicker that arises before a lag of 8 s shows little in short blocks: the whole fit must stay in force."""
    found = []
    for seed in range(4):
        dice = np.random.default_rng(seed)
        board = Board("high", 1.0, 0.03, 1.0, 8.0, 0.0)
        times_s, temps_c, _ = sample(dice, board, np.zeros(5400), np.ones(5400), pink=False, disturbed=Disturbed())
        gate, meter = OutlierGate(), NoiseMeter()
        for time_s, temp_c in zip(times_s.tolist(), temps_c.tolist(), strict=True):
            if gate.feed(time_s, temp_c) is Quality.GOOD:
                meter.feed(time_s, temp_c)
        found.append(density(meter.noise))
    assert np.mean(found) > 0.85 * true_density("high")


def test_flicker_of_many_time_constants_is_known_to_spread() -> None:
    """Its slow part is more than a law of one time constant says; noise of one spreads no further."""
    pink = [learnt("pink", readings=5400, seed=seed).spread for seed in range(5)]
    mid = [learnt("mid", readings=5400, seed=seed).spread for seed in range(5)]
    assert np.mean(pink) > 1.15
    assert np.mean(mid) < 1.05
    assert max(pink) <= 1.35


def test_how_long_it_has_listened_is_told_with_it() -> None:
    """From the first reading on, and from another fire's first reading anew."""
    meter = NoiseMeter()
    assert meter.noise.learnt_s == 0.0
    for second in range(1000):
        meter.feed(100.0 + second, 20.0 + 0.1 * (second % 3))
    assert meter.noise.learnt_s == pytest.approx(999.0, abs=64.0)
    meter.begin_anew()
    assert meter.noise.learnt_s == 0.0


def test_a_quiet_start_is_not_taken_for_a_quiet_flame() -> None:
    """Before two minutes the prior holds: ignorance is silent."""
    meter = NoiseMeter()
    for second in range(100):
        meter.feed(float(second), 20.0)
    assert (meter.noise.white_c, meter.noise.flicker_c) == (PRIOR_WHITE_C, PRIOR_FLICKER_C)


def test_what_is_not_yet_known_counts_as_noise() -> None:
    """After ten minutes the margin must allow for the meter's own ignorance; after two hours hardly."""
    early = np.mean([density(learnt("mid", readings=600, seed=seed)) for seed in range(6)])
    assert early > 1.1 * calm_density()


def test_a_single_bend_among_quiet_readings_is_not_flicker() -> None:
    """Hold, then a ramp, without any noise: the one long block that has the bend does not rule."""
    meter = NoiseMeter()
    for second in range(900):
        meter.feed(float(second), 100.0 + max(0.0, 0.2 * (second - 60)))
    assert meter.noise.flicker_c < 0.5


class TestAFlameGrownRougher:
    def meter_after(self, readings: int, factor: float, seed: int = 9) -> NoiseMeter:
        """Run half an hour of class mid, then `readings` at `factor` times the flicker."""
        heats = simulate(level, CLASSES["mid"], 1800 + readings, 1, seed, Pace(gaps_per_h=0.0), (1800, factor))
        gate, meter = OutlierGate(), NoiseMeter()
        for time_s, temp_c in zip(heats.time_s[:, 0].tolist(), heats.temp_c[:, 0].tolist(), strict=True):
            if gate.feed(time_s, temp_c) is Quality.GOOD:
                meter.feed(time_s, temp_c)
        return meter

    def test_is_noticed_within_a_minute(self) -> None:
        """The slow memory alone would need half an hour, and every flicker until then would be a false alarm."""
        assert np.mean([self.meter_after(60, 3.0, seed).noise.flicker_c for seed in range(12, 18)]) > 1.4

    def test_stays_known(self) -> None:
        """Half an hour later the slow memory has followed: no gap between the fast one's fading and its own rise."""
        assert self.meter_after(1800, 3.0).noise.flicker_c == pytest.approx(2.1, rel=0.4)

    def test_as_rough_as_before_changes_nothing(self) -> None:
        assert self.meter_after(60, 1.0).noise.flicker_c < 1.1


class TestAMissingReading:
    """A bad frame among good ones, which the meter never gets."""

    def learnt(self, seed: int, missing: bool) -> float:
        """Learn from five minutes of a young fire, with every twentieth reading or without."""
        heats, meter = simulate(level, CLASSES["mid"], 300, 1, seed, Pace(gaps_per_h=0.0)), NoiseMeter()
        readings = zip(heats.time_s[:, 0].tolist(), heats.temp_c[:, 0].tolist(), strict=True)
        for number, (time_s, temp_c) in enumerate(readings):
            if not missing or number % 20 != 7:
                meter.feed(time_s, temp_c)
        return density(meter.noise)

    def test_changes_little_of_what_is_known(self) -> None:
        """Its place stays empty. When the next one took it, a young fire's margin moved by half and more."""
        apart = [np.log(self.learnt(seed, True) / self.learnt(seed, False)) for seed in range(8)]
        assert np.sqrt(np.mean(np.square(apart))) < 0.2

    def test_again_and_again_is_a_slower_pace(self) -> None:
        """Every other one from some moment on: soon half as many are what is usual."""
        meter = NoiseMeter()
        for number in range(1000):
            if number < 200 or number % 2:
                meter.feed(float(number), 20.0 + 0.1 * (number % 3))
        assert meter.noise.interval_s == pytest.approx(2.0, rel=0.1)

    def test_is_no_change_of_pace(self) -> None:
        meter = NoiseMeter()
        for number in range(400):
            if number % 10:
                meter.feed(float(number), 20.0 + 0.1 * (number % 3))
        assert meter.noise.interval_s == pytest.approx(1.0, rel=0.001)


class TestGapsEarlyInAHeat:
    """A dozen restarts or pulled cables in the first minutes: blocks of the longer lengths never become whole."""

    def learnt(self, seed: int, gaps: int, lasts_s: float = 215.0) -> Noise:
        """Learn from quiet readings of a climb, two a second, with gaps of 2.5 to 6 s."""
        dice, meter = random.Random(seed), NoiseMeter()
        begin_s = [10.0 + 190.0 * n / gaps + dice.uniform(0.0, 6.0) for n in range(gaps)]
        missing = [(from_s, from_s + dice.uniform(2.5, 6.0)) for from_s in begin_s]
        for number in range(round(2.0 * lasts_s)):
            time_s, temp_c = 0.5 * number, 25.0 + 0.45 * number + dice.gauss(0.0, 0.2)
            if not any(from_s < time_s < to_s for from_s, to_s in missing):
                meter.feed(time_s, temp_c)
        return meter.noise

    @pytest.mark.parametrize("gaps", [0, 6, 12])
    def test_leave_no_rough_flame_that_never_was(self, gaps: int) -> None:
        """What was assumed at first is no reading of the last moments; once it was told as five times the noise."""
        for seed in range(6):
            noise = self.learnt(seed, gaps)
            assert noise.learnt_s > 150.0
            assert noise.white_c < 0.27
            assert noise.flicker_c < 1.2

    def test_or_none_leave_nothing_of_what_was_assumed_before_it_was_known(self) -> None:
        """As soon as readings have a say, the last moments' scatter is theirs and not the prior's."""
        noises = [self.learnt(seed, 0, 140.0) for seed in range(6)]
        assert max(noise.white_c for noise in noises) < 0.3

    def test_leave_a_flame_that_is_rougher_told(self) -> None:
        """From the lengths that are known, however few."""
        scatters = []
        for rough_c in (0.2, 1.5):
            dice, meter = random.Random(5), NoiseMeter()
            for number in range(1000):
                if number % 80 > 9:
                    meter.feed(0.5 * number, 100.0 + dice.gauss(0.0, 0.2 if number < 920 else rough_c))
            scatters.append(math.hypot(meter.noise.white_c, meter.noise.flicker_c))
        assert scatters[1] > 2.5 * scatters[0]


class TestThePace:
    @pytest.mark.parametrize("interval_s", [0.05, 0.2, 2.0, 5.0])
    def test_is_found_and_the_noise_with_it(self, interval_s: float) -> None:
        """From 20 readings a second to one in five: the same flame."""
        pace = Pace(interval_s=interval_s, gaps_per_h=0.0)
        noise = learnt("mid", readings=int(4000 / interval_s) if interval_s >= 0.2 else 40_000, pace=pace)
        assert noise.interval_s == pytest.approx(interval_s, rel=0.1)
        assert 0.6 < noise.flicker_c * np.sqrt(noise.flicker_s) / (0.7 * np.sqrt(12.0)) < 1.9

    def test_that_slows_down_is_followed(self) -> None:
        """A board set to five seconds in mid-heat is not a string of gaps."""
        meter = NoiseMeter()
        rng = random.Random(3)
        time_s = 0.0
        for interval_s, readings in ((1.0, 600), (5.0, 600)):
            for _ in range(readings):
                time_s += interval_s
                meter.feed(time_s, rng.gauss(500.0, 0.3))
        assert meter.noise.interval_s == pytest.approx(5.0, rel=0.05)
        assert meter.noise.white_c == pytest.approx(0.3, rel=0.3)

    def test_is_not_learnt_from_a_night_without_a_board(self) -> None:
        meter = NoiseMeter()
        meter.feed(0.0, 20.0)
        for second in range(40_000, 40_300):
            meter.feed(float(second), 20.0)
        assert meter.noise.interval_s == pytest.approx(1.0)

    def test_of_one_reading_a_minute_is_enough_to_go_on(self) -> None:
        """Slower than it is made for; it says the prior until it can say more, and does not fail."""
        meter = NoiseMeter()
        rng = random.Random(4)
        for minute in range(200):
            meter.feed(60.0 * minute, rng.gauss(500.0, 0.5))
        assert meter.noise.interval_s == pytest.approx(60.0)

    def test_of_the_year_2024_costs_no_digits(self) -> None:
        """Time stamps of 1.7e9 s give the noise of time stamps from nought."""
        early, late = NoiseMeter(), NoiseMeter()
        rng = random.Random(6)
        for second in range(1200):
            temp_c = rng.gauss(500.0, 0.3)
            early.feed(float(second), temp_c)
            late.feed(1.7e9 + second, temp_c)
        assert late.noise.white_c == pytest.approx(early.noise.white_c, rel=1e-3)

    def test_that_stands_still_adds_nothing(self) -> None:
        """Two readings of the same moment: the second cannot be compared."""
        meter = NoiseMeter()
        for second in (0.0, 1.0, 1.0, 2.0, 3.0):
            meter.feed(second, 20.0)
        assert meter.noise.interval_s == pytest.approx(1.0)


def test_a_restart_keeps_what_was_learnt() -> None:
    """A moved probe breaks the chain of readings, not the knowledge of the flame."""
    meter = NoiseMeter()
    rng = random.Random(8)
    for second in range(600):
        meter.feed(float(second), rng.gauss(100.0, 0.5))
    before = meter.noise
    meter.restart()
    for second in range(700, 760):
        meter.feed(float(second), rng.gauss(900.0, 0.5))
    assert meter.noise.white_c == pytest.approx(before.white_c, rel=0.2)


def test_begun_anew_it_assumes_the_prior_until_the_new_flame_is_known() -> None:
    """A pot carried from a quiet oven into a flame thirty times as rough: no threshold may come from the oven."""
    heats = simulate(level, CLASSES["high"], 1500, 1, 5, Pace(gaps_per_h=0.0))
    quiet = random.Random(5)
    meter = NoiseMeter()
    for second in range(TWO_HOURS):
        meter.feed(float(second), 110.0 + quiet.gauss(0.0, 0.05))
    assert meter.noise.flicker_c < 0.1
    meter.begin_anew()
    assert (meter.noise.white_c, meter.noise.flicker_c) == (PRIOR_WHITE_C, PRIOR_FLICKER_C)
    assert meter.noise.interval_s == pytest.approx(1.0)
    gate, lowest_c = OutlierGate(), 9.0
    for time_s, temp_c in zip(heats.time_s[:, 0].tolist(), heats.temp_c[:, 0].tolist(), strict=True):
        if gate.feed(time_s, temp_c) is Quality.GOOD:
            meter.feed(TWO_HOURS + time_s, temp_c)
        lowest_c = min(lowest_c, meter.noise.flicker_c)
    assert lowest_c > 1.0
    assert 1.0 < meter.noise.flicker_c < 4.0
