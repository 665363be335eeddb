"""Looking ahead: soon when the ramp is beyond its limit, silent when nothing is wrong."""

import math

import numpy as np
import pytest

from benchmarks.noise_model import CLASSES, Array, Heats, Pace, simulate
from benchmarks.ramp_heats import LIMITS, Limit, cycling, hold_and_ramp, step, up_and_down
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.limits.noise_meter import NoiseMeter
from rampwarden.core.limits.ramp_forecast import Forecast, RampForecast, rise_error
from rampwarden.core.model import Noise, Quality

DRYING, SLOW, RED_HEAT = LIMITS
QUIET = Noise(0.02, 0.05, 5.0, 1.0)
LEARNT_S = 2400.0


def told(
    limit: Limit, temps_c: Array, start_s: float = 0.0, forecast: RampForecast | None = None
) -> list[Forecast | None]:
    """Feed quiet readings, one a second."""
    forecast = forecast or RampForecast(limit.climb_c, limit.window_s)
    return [forecast.feed(start_s + n, float(temp_c), QUIET) for n, temp_c in enumerate(temps_c)]


def first_present(said: list[Forecast | None]) -> int | None:
    return next((n for n, one in enumerate(said) if one is not None and one.present), None)


def cautions(limit: Limit, heats: Heats, heat: int, start: tuple[float, float] | None = None) -> list[float]:
    """When a whole chain of gate, noise meter and forecast begins to speak in a simulated heat; s."""
    gate, meter, forecast = OutlierGate(), NoiseMeter(), RampForecast(limit.climb_c, limit.window_s)
    found: list[float] = []
    was = False
    for time_s, temp_c in zip(heats.time_s[:, heat].tolist(), heats.temp_c[:, heat].tolist(), strict=True):
        if start is not None and time_s >= start[0]:
            forecast.start(time_s, start[1])
            start = None
        if gate.feed(time_s, temp_c) is Quality.GOOD:
            meter.feed(time_s, temp_c)
            one = forecast.feed(time_s, temp_c, meter.noise)
            now = one is not None and one.present
            if now and not was:
                found.append(time_s)
            was = now
    return found


def ramp(c_per_s: float, seconds: int, from_c: float = 20.0) -> Array:
    return from_c + c_per_s * np.arange(float(seconds))


class TestARampBeyondItsLimit:
    @pytest.mark.parametrize(
        ("limit", "factor", "longest_s"),
        [
            (DRYING, 1.5, 150),
            (DRYING, 4.0, 48),
            (SLOW, 1.5, 42),
            (SLOW, 4.0, 13),
            (RED_HEAT, 1.5, 8),
            (RED_HEAT, 4.0, 4),
        ],
        ids=lambda value: value.name if isinstance(value, Limit) else str(value),
    )
    def test_is_called_soon_in_a_flame_of_middling_roughness(
        self, limit: Limit, factor: float, longest_s: float
    ) -> None:
        """From 0.8 times the limit, after forty minutes of learning; the benchmark measures it closer."""
        heats = simulate(step(limit, factor, LEARNT_S), CLASSES["mid"], 3100, 9, 31, Pace(lag_s=2.0, gaps_per_h=0.0))
        delays_s = [
            min((at for at in cautions(limit, heats, heat) if at >= LEARNT_S), default=math.inf) for heat in range(9)
        ]
        assert np.median(delays_s) - LEARNT_S <= longest_s
        assert max(delays_s) < math.inf

    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_is_called_long_before_the_budget_breaks_without_noise(self, limit: Limit) -> None:
        temps_c = np.concatenate(
            (ramp(0.8 * limit.c_per_s, 1800), ramp(1.5 * limit.c_per_s, 600, 20.0 + 1440 * limit.c_per_s))
        )
        at = first_present(told(limit, temps_c))
        assert at is not None
        assert 1800 <= at < 1800 + 0.5 * limit.break_after_s(1.5) + 3.0

    def test_is_told_with_its_slope_and_the_time_that_is_left(self) -> None:
        """A minute after a step to twice 100 °C/h: within a fifth, and the break within a fifth of what is left."""
        temps_c = np.concatenate(
            (ramp(0.8 * DRYING.c_per_s, 1800), ramp(2.0 * DRYING.c_per_s, 600, 20.0 + 1440 * DRYING.c_per_s))
        )
        one = told(DRYING, temps_c)[1860]
        assert one is not None
        assert one.present
        assert one.c_per_s == pytest.approx(2.0 * DRYING.c_per_s, rel=0.2)
        assert one.break_in_s == pytest.approx(DRYING.break_after_s(2.0) - 60.0, rel=0.3)

    def test_within_five_minutes_of_a_cold_start_is_called_too(self) -> None:
        """Four times the limit from the second minute on, nothing learnt yet."""

        def programme(time_s: Array) -> Array:
            return DRYING.c_per_s * (0.8 * time_s + 3.2 * np.maximum(time_s - 90.0, 0.0))

        heats = simulate(programme, CLASSES["mid"], 420, 5, 6)
        for heat in range(5):
            called = cautions(DRYING, heats, heat)
            assert called
            assert 90.0 <= called[0] <= 300.0

    def test_that_creeps_through_the_limit_is_called(self) -> None:
        """From 0.8 to 1.4 times the limit within an hour: no step for anybody to see."""

        def programme(time_s: Array) -> Array:
            after_s = np.maximum(time_s - LEARNT_S, 0.0)
            return DRYING.c_per_s * (0.8 * time_s + 0.3 * after_s**2 / 3600.0)

        heats = simulate(programme, CLASSES["mid"], 6000, 3, 14)
        for heat in range(3):
            called = [at for at in cautions(DRYING, heats, heat) if at > LEARNT_S]
            assert called
            assert called[0] < LEARNT_S + 2700.0  # 1.25 times the limit

    def test_that_begins_in_a_gap_is_called_after_it(self) -> None:
        forecast = RampForecast(DRYING.climb_c, DRYING.window_s)
        told(DRYING, ramp(0.8 * DRYING.c_per_s, 1800), forecast=forecast)
        after = told(DRYING, ramp(4.0 * DRYING.c_per_s, 120, 20.0 + 1440 * DRYING.c_per_s + 6.0), 1920.0, forecast)
        at = first_present(after)
        assert at is not None
        assert at <= 10

    def test_that_is_eased_is_soon_told_no_more(self) -> None:
        """Back to half the limit: the long averages remember, but the caution does not wait for them."""
        limit = DRYING
        temps_c = np.concatenate(
            (
                ramp(0.8 * limit.c_per_s, 1800),
                ramp(2.0 * limit.c_per_s, 200, 60.0),
                ramp(0.5 * limit.c_per_s, 900, 71.1),
            )
        )
        said = told(limit, temps_c)
        assert first_present(said) is not None
        last = max(n for n, one in enumerate(said) if one is not None and one.present)
        assert 2000 <= last < 2100


class TestSilence:
    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_at_corners_between_holds_and_ramps(self, limit: Limit) -> None:
        """No weight of the slope is negative, so no corner overshoots: a filter that does would speak at every one."""
        corners = np.tile(np.repeat([0.8, 0.0, -0.8, 0.79], 200), 5) * limit.c_per_s
        assert first_present(told(limit, 500.0 + np.cumsum(corners))) is None

    @pytest.mark.parametrize("noise", ["low", "mid", "high"])
    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_at_four_fifths_of_the_limit_whatever_the_programme(self, limit: Limit, noise: str) -> None:
        """Ninety minutes each of holds and ramps, ups and downs, and a burner that cycles within the limit."""
        rng = np.random.default_rng(18)
        for make in (hold_and_ramp, up_and_down, cycling):
            heats = simulate(make(limit, rng, 5400.0), CLASSES[noise], 5400, 1, 17)
            assert cautions(limit, heats, 0) == []

    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_while_a_lid_is_opened_for_half_a_minute_and_closed_again(self, limit: Limit) -> None:
        """The way back is steeper than any limit; it only regains what was there before."""

        def programme(time_s: Array) -> Array:
            after_s = time_s - LEARNT_S
            depth_c = 80.0 * (1.0 - np.exp(-np.clip(after_s, 0.0, 30.0) / 15.0))
            return 0.5 * limit.c_per_s * time_s - depth_c * np.exp(-np.maximum(after_s - 30.0, 0.0) / 30.0)

        heats = simulate(programme, CLASSES["low"], 3300, 4, 3)
        assert [cautions(limit, heats, heat) for heat in range(4)] == [[]] * 4

    @pytest.mark.parametrize("lag_s", [5.0, 20.0])
    def test_at_a_corner_to_a_much_stricter_limit(self, lag_s: float) -> None:
        """80 °C/min until the corner, 80 °C/h after it: what the probe's lag still shows is not looked at."""

        def programme(time_s: Array) -> Array:
            return np.where(time_s < 1200.0, 1.333 * time_s, 1.333 * 1200.0 + 0.0222 * (time_s - 1200.0))

        heats = simulate(programme, CLASSES["low"], 3000, 3, 5, Pace(lag_s=lag_s))
        for heat in range(3):
            assert [at for at in cautions(DRYING, heats, heat, (1200.0, 1.333)) if at > 1200.0] == []

    def test_after_a_new_segment_with_a_limit_of_its_own(self) -> None:
        """What was climbed under the old limit is forgotten with it."""
        forecast = RampForecast(DRYING.climb_c, DRYING.window_s)
        told(DRYING, ramp(10.0 * DRYING.c_per_s, 300), forecast=forecast)
        forecast.start(300.0)
        assert first_present(told(DRYING, ramp(0.8 * DRYING.c_per_s, 1200, 100.0), 300.0, forecast)) is None

    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_through_forty_dropouts_an_hour(self, limit: Limit) -> None:
        heats = simulate(step(limit, 0.8, 0.0), CLASSES["mid"], 5400, 1, 12, Pace(gaps_per_h=40.0))
        assert cautions(limit, heats, 0) == []

    def test_costs_at_most_about_one_caution_when_the_flame_grows_three_times_as_rough(self) -> None:
        """The first flickers of a rougher flame cannot be known for what they are; the later ones must be."""
        heats = simulate(step(DRYING, 0.8, 0.0), CLASSES["mid"], 6000, 8, 4, louder_from=(3000, 3.0))
        counts = [len([at for at in cautions(DRYING, heats, heat) if at > 2900.0]) for heat in range(8)]
        assert np.mean(counts) <= 1.0
        assert max(counts) <= 2

    def test_before_anything_is_known(self) -> None:
        assert told(DRYING, np.array([20.0, 300.0])) == [None, None]

    def test_of_time_stamps_that_begin_in_2024(self) -> None:
        """Their size costs no digits: the same words from nought and from 1.7e9."""
        temps_c = np.concatenate((ramp(0.8 * SLOW.c_per_s, 900), ramp(2.0 * SLOW.c_per_s, 60, 140.0)))
        assert first_present(told(SLOW, temps_c)) == first_present(told(SLOW, temps_c, 1.7e9))


class TestTheBank:
    @pytest.mark.parametrize(
        ("share", "now_s", "fast_s", "slow_s"), [(0.0, 0.5, 9.0, 20.0), (0.6, 0.6, 16.0, 36.0), (0.1, 1.0, 80.0, 180.0)]
    )
    def test_knows_the_scatter_of_its_scales(self, share: float, now_s: float, fast_s: float, slow_s: float) -> None:
        """The closed form against simulated flicker of 12 s and white noise."""
        rng = np.random.default_rng(3)
        runs, length = 1500, 1500
        keep = np.exp(-1.0 / 12.0)
        flicker = 0.7 * rng.standard_normal(runs)
        now, fast, slow = np.zeros(runs), np.zeros(runs), np.zeros(runs)
        for _ in range(length):
            flicker = keep * flicker + 0.7 * np.sqrt(1.0 - keep * keep) * rng.standard_normal(runs)
            reading = flicker + 0.17 * rng.standard_normal(runs)
            now += (reading - now) / (now_s + 1.0)
            fast += (reading - fast) / (fast_s + 1.0)
            slow += (reading - slow) / (slow_s + 1.0)
        scatter = float(np.std(share * now + (1.0 - share) * fast - slow))
        assert rise_error(Noise(0.17, 0.7, 12.0, 1.0), share, now_s, fast_s, slow_s) == pytest.approx(scatter, rel=0.08)

    def test_gives_the_quick_average_a_share_only_where_it_knows_more_than_the_fast_one(self) -> None:
        """In flicker less the slower the fast one; none without flicker, or where white noise tops it for longer."""

        def shares(noise: Noise) -> list[float]:
            forecast = RampForecast(DRYING.climb_c, DRYING.window_s)
            forecast.feed(0.0, 20.0, noise)
            assert forecast._scales is not None
            return forecast._scales.shares

        flame = shares(Noise(0.17, 0.7, 12.0, 1.0))
        assert flame == sorted(flame, reverse=True)
        assert 0.0 < flame[-1] < flame[0] < 1.0
        assert set(shares(Noise(0.17, 0.0, 12.0, 1.0))) == {0.0}
        assert shares(Noise(5.0, 0.1, 12.0, 1.0))[0] == 0.0

    def test_asks_for_more_before_it_speaks_the_more_cautious_it_is(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Ten standard errors more: later, but not never."""
        temps_c = np.concatenate((ramp(0.8 * DRYING.c_per_s, 1800), ramp(2.0 * DRYING.c_per_s, 600, 60.0)))
        usual = first_present(told(DRYING, temps_c))
        monkeypatch.setattr("rampwarden.core.limits.ramp_forecast._CAUTION", 10.0)
        later = first_present(told(DRYING, temps_c))
        assert usual is not None
        assert later is not None
        assert usual < later

    @pytest.mark.parametrize("interval_s", [0.05, 5.0])
    def test_works_at_any_pace(self, interval_s: float) -> None:
        """Twenty readings a second or one in five."""
        forecast = RampForecast(DRYING.climb_c, DRYING.window_s)
        noise = Noise(0.02, 0.05, 5.0, interval_s)
        at_s = None
        for n in range(round(1500 / interval_s)):
            time_s = interval_s * n
            temp_c = DRYING.c_per_s * (0.8 * time_s + 1.2 * max(0.0, time_s - 1200.0))
            one = forecast.feed(time_s, temp_c, noise)
            if one is not None and one.present:
                at_s = time_s
                break
        assert at_s is not None
        assert 1200.0 < at_s < 1260.0
