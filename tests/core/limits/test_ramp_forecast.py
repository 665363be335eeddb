"""Looking ahead: soon when the ramp is beyond its limit, silent when nothing is wrong."""

import math

import numpy as np
import pytest

from benchmarks.noise_model import CLASSES, Array, Heats, Pace, simulate
from benchmarks.ramp_heats import LIMITS, Limit, cycling, hold_and_ramp, legs, step, up_and_down
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.limits.noise_meter import NoiseMeter
from rampwarden.core.limits.ramp_forecast import Forecast, RampForecast
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


def longest(forecast: RampForecast) -> int:
    """Give the points of the longest span that could be asked for."""
    return max(shape.span for shapes in forecast._ages for shape in shapes)


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
            (DRYING, 1.5, 185),
            (DRYING, 4.0, 52),
            (SLOW, 1.5, 56),
            (SLOW, 4.0, 15),
            (RED_HEAT, 1.5, 10),
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

    def test_is_told_with_its_slope_and_how_far_that_may_be_off(self) -> None:
        """A minute after a step to twice 100 °C/h, without noise: the slope, and an interval beyond the limit."""
        temps_c = np.concatenate(
            (ramp(0.8 * DRYING.c_per_s, 1800), ramp(2.0 * DRYING.c_per_s, 600, 20.0 + 1440 * DRYING.c_per_s))
        )
        one = told(DRYING, temps_c)[1860]
        assert one is not None
        assert one.present
        assert one.c_per_s == pytest.approx(2.0 * DRYING.c_per_s, rel=0.2)
        assert one.c_per_s - one.interval_c_per_s > DRYING.c_per_s

    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_is_told_by_an_interval_that_holds_the_truth(self, limit: Limit) -> None:
        """1.5 times the limit in a rough flame: whoever speaks up at a threshold has caught the noise high, and yet."""
        heats = simulate(step(limit, 1.5, LEARNT_S), CLASSES["mid"], 3100, 12, 33, Pace(lag_s=2.0, gaps_per_h=0.0))
        held = 0
        for heat in range(12):
            gate, meter, forecast = OutlierGate(), NoiseMeter(), RampForecast(limit.climb_c, limit.window_s)
            for time_s, temp_c in zip(heats.time_s[:, heat].tolist(), heats.temp_c[:, heat].tolist(), strict=True):
                if gate.feed(time_s, temp_c) is not Quality.GOOD:
                    continue
                meter.feed(time_s, temp_c)
                one = forecast.feed(time_s, temp_c, meter.noise)
                if time_s > LEARNT_S and one is not None and one.present:
                    assert one.c_per_s - one.interval_c_per_s > 0.999 * limit.c_per_s
                    held += abs(one.c_per_s - 1.5 * limit.c_per_s) <= one.interval_c_per_s
                    break
        assert held >= 9

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
        assert at <= 5  # nobody saw the course, but what was climbed meanwhile is known

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

    def test_after_a_clock_that_jumped_by_years(self) -> None:
        """Nothing that is remembered was seen of that time; it goes on from there, at no cost."""
        forecast = RampForecast(RED_HEAT.climb_c, RED_HEAT.window_s)
        told(RED_HEAT, ramp(0.8 * RED_HEAT.c_per_s, 300), forecast=forecast)
        after = told(RED_HEAT, ramp(0.8 * RED_HEAT.c_per_s, 300, 700.0), 1.7e9, forecast)
        assert first_present(after) is None
        assert len(forecast._course.sums) < 3 * longest(forecast)

    def test_of_time_stamps_that_begin_in_2024(self) -> None:
        """Their size costs no digits: the same words from nought and from 1.7e9."""
        temps_c = np.concatenate((ramp(0.8 * SLOW.c_per_s, 900), ramp(2.0 * SLOW.c_per_s, 60, 140.0)))
        assert first_present(told(SLOW, temps_c)) == first_present(told(SLOW, temps_c, 1.7e9))


class TestNearTheLimit:
    @pytest.mark.parametrize("noise", ["low", "mid", "high"])
    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_at_nine_tenths_it_is_silent(self, limit: Limit, noise: str) -> None:
        """Four hours of a ramp that somebody holds with care: once two to twelve cautions an hour."""
        heats = simulate(legs([0.9 * limit.c_per_s], [1e9]), CLASSES[noise], 14_400, 1, 34)
        told_s = cautions(limit, heats, 0)
        # What comes again before its off-delay has run out is the same caution.
        assert sum(after - at > 120.0 for at, after in zip([-1e9, *told_s], told_s, strict=False)) <= 1

    @pytest.mark.parametrize("fraction", [0.95, 0.999])
    def test_without_noise_a_ramp_within_the_limit_is_never_cautioned(self, fraction: float) -> None:
        assert first_present(told(SLOW, ramp(fraction * SLOW.c_per_s, 4000))) is None

    def test_a_ramp_a_tenth_beyond_it_is_told_at_last(self) -> None:
        """The interval shrinks as the span grows, until it holds the limit no more."""
        assert first_present(told(SLOW, ramp(1.1 * SLOW.c_per_s, 4000))) is not None


class TestTheBank:
    def test_asks_for_more_before_it_speaks_the_more_cautious_it_is(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Ten times the standard errors: later, but not never."""
        temps_c = np.concatenate((ramp(0.8 * DRYING.c_per_s, 1800), ramp(2.0 * DRYING.c_per_s, 600, 60.0)))
        usual = first_present(told(DRYING, temps_c))
        monkeypatch.setattr("rampwarden.core.limits.ramp_forecast._INTERVAL", 40.0)
        later = first_present(told(DRYING, temps_c))
        assert usual is not None
        assert later is not None
        assert usual < later

    def test_averages_short_ends_where_flicker_rules_and_long_ones_where_white_noise_does(self) -> None:
        def ends(noise: Noise) -> list[float]:
            forecast = RampForecast(DRYING.climb_c, DRYING.window_s)
            forecast.feed(0.0, 20.0, noise)
            return [member.near / member.span for member in forecast._bank]

        assert ends(Noise(0.0, 0.7, 300.0, 1.0))[10] < 0.12
        assert ends(Noise(0.7, 0.0, 12.0, 1.0))[10] > 0.3

    def test_remembers_nothing_older_than_its_longest_span(self) -> None:
        """Memory is bounded however long the heat."""
        forecast = RampForecast(SLOW.climb_c, SLOW.window_s)
        told(SLOW, ramp(0.5 * SLOW.c_per_s, 20_000), forecast=forecast)
        assert len(forecast._course.sums) <= 2 * (longest(forecast) + 1) + 1

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
