"""The climb budget: exact by its own definition, late by no more than the noise asks, never early."""

import numpy as np
import pytest

from benchmarks.noise_model import CLASSES, Array, Heats, Pace, Programme, simulate
from benchmarks.ramp_heats import LIMITS, Limit, cycling, hold_and_ramp, nearly, step, up_and_down
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.limits.climb_budget import BudgetState, ClimbBudget, climb_error
from rampwarden.core.limits.noise_meter import NoiseMeter
from rampwarden.core.model import Noise, Quality

DRYING, SLOW, RED_HEAT = LIMITS
QUIET = Noise(0.02, 0.05, 5.0, 1.0)
LEARNT_S = 2400.0


def states(budget: ClimbBudget, temps_c: Array, start_s: float = 0.0, interval_s: float = 1.0) -> list[BudgetState]:
    """Feed quiet readings at an even pace."""
    return [budget.feed(start_s + interval_s * n, float(temp_c), QUIET) for n, temp_c in enumerate(temps_c)]


def budget_of(limit: Limit, falling: bool = False) -> ClimbBudget:
    return ClimbBudget(limit.climb_c, limit.window_s, falling)


def first_break(said: list[BudgetState]) -> int | None:
    return next((n for n, state in enumerate(said) if state.broken), None)


def breaks(limit: Limit, heats: Heats, heat: int, start: tuple[float, float] | None = None) -> list[float]:
    """When a whole chain of gate, noise meter and budget breaks in a simulated heat; s."""
    gate, meter, budget = OutlierGate(), NoiseMeter(), budget_of(limit)
    found: list[float] = []
    was = False
    for time_s, temp_c in zip(heats.time_s[:, heat].tolist(), heats.temp_c[:, heat].tolist(), strict=True):
        if start is not None and time_s >= start[0]:
            budget.start(time_s, start[1])
            start = None
        if gate.feed(time_s, temp_c) is Quality.GOOD:
            meter.feed(time_s, temp_c)
            now = budget.feed(time_s, temp_c, meter.noise).broken
            if now and not was:
                found.append(time_s)
            was = now
    return found


def ramp(c_per_s: float, seconds: int, from_c: float = 20.0) -> Array:
    return from_c + c_per_s * np.arange(float(seconds))


class TestTheDefinition:
    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    @pytest.mark.parametrize("factor", [1.5, 4.0])
    def test_a_climb_beyond_the_budget_breaks_it_within_a_tenth_of_the_window(
        self, limit: Limit, factor: float
    ) -> None:
        """After a hold, without noise: the true climb breaks the budget at 1/factor of the window."""
        hold = 600
        temps_c = np.concatenate((np.full(hold, 20.0), ramp(factor * limit.c_per_s, 1200)))
        broken = first_break(states(budget_of(limit), temps_c))
        true = hold + limit.window_s / factor
        assert broken is not None
        assert true <= broken <= true + 0.1 * limit.window_s + 1.0

    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    @pytest.mark.parametrize("fraction", [0.5, 0.95, 0.999])
    def test_a_ramp_within_the_limit_never_breaks_it(self, limit: Limit, fraction: float) -> None:
        said = states(budget_of(limit), ramp(fraction * limit.c_per_s, 4000))
        assert first_break(said) is None
        assert said[-1].climb_c == pytest.approx(fraction * limit.climb_c, rel=0.002)

    def test_a_burst_shorter_than_the_window_is_allowed_within_the_budget(self) -> None:
        """20 °C in half a minute, then a hold: a quarter of an hour may climb 25."""
        temps_c = np.concatenate((np.full(900, 20.0), ramp(20.0 / 30.0, 30), np.full(2000, 40.0)))
        assert first_break(states(budget_of(DRYING), temps_c)) is None

    @pytest.mark.parametrize("oven_s", [120.0, 300.0, 600.0])
    def test_notches_of_an_oven_dial_do_not_break_it(self, oven_s: float) -> None:
        """25 °C each quarter of an hour, however fast the oven follows: at no time more than 25 within any 15 min."""
        seconds = np.arange(6 * 900)
        notches = np.arange(6) * 900.0
        rises = np.where(seconds[:, None] >= notches, 1.0 - np.exp(-(seconds[:, None] - notches) / oven_s), 0.0)
        assert first_break(states(budget_of(DRYING), 20.0 + 25.0 * rises.sum(axis=1))) is None

    def test_a_climb_is_counted_from_the_lowest_within_the_window_not_from_its_edge(self) -> None:
        """Down for ten minutes, then up: the valley counts, not the level a quarter of an hour ago."""
        temps_c = np.concatenate((np.full(900, 200.0), ramp(-0.1, 600, 200.0), ramp(0.1, 600, 140.0)))
        broken = first_break(states(budget_of(DRYING), temps_c))
        assert broken is not None
        assert 1500 + 250 <= broken <= 1500 + 250 + 150  # at most the two minutes of a dip are lost

    def test_a_fall_of_any_speed_is_no_climb(self) -> None:
        for c_per_s in (-5.0, -1.0, -0.01):
            said = states(budget_of(SLOW), ramp(c_per_s, 900, 900.0))
            assert max(state.climb_c for state in said) < 1.0

    def test_what_has_broken_is_mended_a_tenth_below_the_budget(self) -> None:
        """So that it does not flutter about the limit."""
        temps_c = np.concatenate((np.full(900, 20.0), ramp(0.1, 300), np.full(2000, 50.0)))
        said = states(budget_of(DRYING), temps_c)
        broken = first_break(said)
        assert broken is not None
        mended = next(n for n, state in enumerate(said) if n > broken and not state.broken)
        assert all(state.climb_c > 22.5 for state in said[broken:mended])
        assert said[mended].climb_c <= 22.5

    def test_falling_is_the_mirror_of_climbing(self) -> None:
        """A closed furnace may cool 10 °C a minute, and no faster."""
        up = states(budget_of(SLOW), ramp(0.3, 300))
        down = states(budget_of(SLOW, falling=True), ramp(-0.3, 300, 900.0))
        assert [state.climb_c for state in down] == pytest.approx([state.climb_c for state in up])
        assert [state.broken for state in down] == [state.broken for state in up]

    def test_time_stamps_of_the_year_2024_change_nothing(self) -> None:
        early, late = (states(budget_of(SLOW), ramp(0.3, 300), start_s) for start_s in (0.0, 1.7e9))
        assert [state.climb_c for state in late] == pytest.approx([state.climb_c for state in early], abs=1e-4)

    @pytest.mark.parametrize("interval_s", [0.05, 5.0])
    def test_the_pace_changes_nothing(self, interval_s: float) -> None:
        """Twenty readings a second or one in five: the same climb at the same time, within an interval or two."""
        temps_c = np.concatenate(
            (np.full(round(600 / interval_s), 20.0), ramp(0.1 * interval_s, round(600 / interval_s)))
        )
        noise = Noise(0.02, 0.05, 5.0, interval_s)
        budget = budget_of(DRYING)
        said = [budget.feed(interval_s * n, float(temp_c), noise) for n, temp_c in enumerate(temps_c)]
        broken = first_break(said)
        assert broken is not None
        assert 850.0 <= interval_s * broken <= 880.0


class TestASegmentsStart:
    def test_forgets_what_was_climbed_before(self) -> None:
        """The window of a new segment looks back no further than its own start."""
        budget = budget_of(DRYING)
        states(budget, ramp(0.1, 200))
        budget.start(200.0)
        after = states(budget, ramp(0.0277, 800, 40.0), 200.0)
        assert first_break(after) is None

    @pytest.mark.parametrize("lag_s", [5.0, 20.0])
    def test_forgives_what_a_probes_lag_still_owes_to_the_ramp_before(self, lag_s: float) -> None:
        """From 80 °C/min to 80 °C/h at a corner: the probe goes on climbing for a while, the crucible does not."""

        def programme(time_s: Array) -> Array:
            return np.where(time_s < 1200.0, 1.333 * time_s, 1.333 * 1200.0 + 0.0222 * (time_s - 1200.0))

        heats = simulate(programme, CLASSES["low"], 3000, 3, 5, Pace(lag_s=lag_s))
        assert [breaks(DRYING, heats, heat, (1200.0, 1.333))[-1:] for heat in range(3)] != []
        for heat in range(3):
            assert [at for at in breaks(DRYING, heats, heat, (1200.0, 1.333)) if at > 1200.0] == []

    def test_does_not_forgive_a_ramp_that_goes_on(self) -> None:
        """The gas was not turned down at the corner: twice the allowance is no lag."""
        budget = budget_of(DRYING)
        budget.start(0.0, 1.333)
        broken = first_break(states(budget, ramp(1.333, 120)))
        assert broken is not None
        assert broken < 60


class TestALid:
    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    @pytest.mark.parametrize("noise", ["low", "high"])
    def test_opened_for_half_a_minute_and_closed_again_breaks_nothing(self, limit: Limit, noise: str) -> None:
        """The probe falls by 70 °C and comes back; the crucible, ten times as slow, hardly noticed.

        What has only regained its temperature has not climbed, so the dip is left out of the window.
        """

        def programme(time_s: Array) -> Array:
            after_s = time_s - LEARNT_S
            depth_c = 80.0 * (1.0 - np.exp(-np.clip(after_s, 0.0, 30.0) / 15.0))
            back = np.exp(-np.maximum(after_s - 30.0, 0.0) / 30.0)
            return 0.5 * limit.c_per_s * time_s - depth_c * back

        heats = simulate(programme, CLASSES[noise], 3300, 4, 3)
        assert [breaks(limit, heats, heat) for heat in range(4)] == [[]] * 4

    def test_does_not_hide_a_climb_beyond_the_level_before_it(self) -> None:
        """Back from the dip and on, at four times the limit: counted from where it began."""
        temps_c = np.concatenate(
            (np.full(600, 300.0), ramp(-1.0, 30, 300.0), ramp(1.0, 30, 270.0), ramp(0.111, 600, 300.0))
        )
        broken = first_break(states(budget_of(DRYING), temps_c))
        assert broken is not None
        assert broken <= 660 + 25.0 / 0.111 + 90

    def test_hides_no_fast_climb_beyond_the_level_before_it_where_the_window_is_shorter_than_a_dip(self) -> None:
        """A minute low, then 150 °C in 25 s under 40 °C within 20 s: once taken for a line since the fall."""
        temps_c = np.concatenate(
            (np.full(200, 180.0), ramp(-1.1, 27, 180.0), np.full(40, 150.0), ramp(6.0, 25, 150.0), np.full(60, 300.0))
        )
        broken = first_break(states(ClimbBudget(40.0, 20.0), temps_c))
        assert broken is not None
        assert broken < 267 + 15

    @pytest.mark.parametrize("after_s", [16, 19])
    def test_what_is_seen_low_before_a_gap_and_high_after_it_has_climbed(self, after_s: int) -> None:
        """In a fall of which nobody saw the end: regained within two minutes it would be a dip, had it been seen."""
        budget = ClimbBudget(40.0, 20.0)
        low_c = np.concatenate((np.full(200, 320.0), ramp(-4.0, 40, 320.0)))
        assert first_break(states(budget, low_c)) is None
        assert budget.feed(len(low_c) - 1.0 + after_s, 320.0, QUIET).broken


class TestNoise:
    @pytest.mark.parametrize("noise", ["low", "mid", "high", "pink"])
    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_breaks_nothing_at_four_fifths_of_the_limit(self, noise: str, limit: Limit) -> None:
        """Two hours each of holds and ramps, ups and downs, and a cycling burner within the limit."""
        rng = np.random.default_rng(8)
        for make in (hold_and_ramp, up_and_down, cycling):
            heats = simulate(make(limit, rng, 7200.0), CLASSES[noise], 7200, 1, 7)
            assert breaks(limit, heats, 0) == []

    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_breaks_nothing_at_a_steady_95_percent(self, limit: Limit) -> None:
        """Slack is 5 % of the budget there, and the margin must hold the rest."""
        heats = simulate(nearly(limit, np.random.default_rng(1), 20_000.0), CLASSES["mid"], 20_000, 1, 8)
        assert breaks(limit, heats, 0) == []

    @pytest.mark.parametrize("noise", ["low", "mid"])
    def test_delays_the_alarm_by_less_than_an_eighth_of_a_long_window(self, noise: str) -> None:
        """From 0.8 to 1.5 times 100 °C/h: the median within 112 s and two lags of the true break, none much before."""
        true_s = LEARNT_S + DRYING.break_after_s(1.5)
        late_s: list[float] = []
        for seed in (21, 22):
            heats = simulate(step(DRYING, 1.5, LEARNT_S), CLASSES[noise], 3200, 12, seed, Pace(lag_s=5.0))
            late_s += [breaks(DRYING, heats, heat)[0] - true_s for heat in range(12)]
        assert np.median(late_s) <= 122.0
        assert min(late_s) >= -100.0

    @pytest.mark.parametrize("noise", ["mid", "high"])
    def test_does_not_hide_a_slight_excess_for_ever(self, noise: str) -> None:
        """1.2 times 10 °C/min in a rough flame: no reading shows it, the mean of minutes does. Once never told."""
        heats = simulate(step(SLOW, 1.2, LEARNT_S), CLASSES[noise], 3400, 9, 22, Pace(lag_s=5.0))
        true_s = LEARNT_S + SLOW.break_after_s(1.2)
        late_s = [min((at for at in breaks(SLOW, heats, heat) if at > LEARNT_S), default=np.inf) for heat in range(9)]
        assert max(late_s) < np.inf
        assert np.median(late_s) - true_s <= {"mid": 130.0, "high": 300.0}[noise]

    def test_does_not_hide_a_burner_that_cycles_beyond_the_limit(self) -> None:
        """On for 150 s at 16 °C/min, off for as long: sixteen breaks of 10 °C/min, and each is told."""

        def programme(time_s: Array) -> Array:
            turns = np.floor(time_s / 300.0)
            return 16.0 / 60.0 * (150.0 * turns + np.minimum(time_s - 300.0 * turns, 150.0))

        heats = simulate(programme, CLASSES["mid"], 1800 + 16 * 300, 1, 23)
        turns = {int(at // 300.0) for at in breaks(SLOW, heats, 0) if at >= 1800.0}
        assert turns >= set(range(6, 22))

    def test_is_told_by_the_very_climb_that_broke_it(self) -> None:
        """Whoever draws the edge: a finding begins beyond budget and margin, and a climb beyond them is a finding."""
        heats = simulate(step(SLOW, 1.3, LEARNT_S), CLASSES["high"], 3000, 2, 24)
        for heat in range(2):
            gate, meter, budget, was = OutlierGate(), NoiseMeter(), budget_of(SLOW), False
            begun = 0
            for time_s, temp_c in zip(heats.time_s[:, heat].tolist(), heats.temp_c[:, heat].tolist(), strict=True):
                if gate.feed(time_s, temp_c) is not Quality.GOOD:
                    continue
                meter.feed(time_s, temp_c)
                state = budget.feed(time_s, temp_c, meter.noise)
                beyond = state.climb_c > state.budget_c + state.margin_c
                assert state.broken or not beyond
                assert beyond or was or not state.broken
                begun += state.broken and not was
                was = state.broken
            assert begun

    def test_makes_the_margin(self) -> None:
        """Three times the noise, and never a guess: it is a standard error times the looks of a day."""
        margins_c = []
        for times in (1.0, 3.0):
            budget = budget_of(SLOW)
            noise = Noise(0.1 * times, 0.7 * times, 12.0, 1.0)
            margins_c.append([budget.feed(float(n), 20.0, noise).margin_c for n in range(200)][-1])
        assert margins_c[1] + 0.5 == pytest.approx(3.0 * (margins_c[0] + 0.5))  # 0.5 is the slack at 95 %

    @pytest.mark.parametrize(("lag_s", "window_s"), [(2.0, 60.0), (30.0, 900.0), (4.5, 900.0)])
    def test_scatters_a_climb_by_what_the_closed_form_says(self, lag_s: float, window_s: float) -> None:
        """Against simulated flicker of 12 s and white noise."""
        rng = np.random.default_rng(4)
        length, runs = 3000, 400
        keep, gain = np.exp(-1.0 / 12.0), 1.0 / (lag_s + 1.0)
        flicker = 0.7 * rng.standard_normal(runs)
        level = np.zeros(runs)
        levels = np.empty((length, runs))
        for n in range(length):
            flicker = keep * flicker + 0.7 * np.sqrt(1.0 - keep * keep) * rng.standard_normal(runs)
            level += gain * (flicker + 0.17 * rng.standard_normal(runs) - level)
            levels[n] = level
        scatter = float(np.std(levels[-1] - levels[-1 - round(window_s)]))
        assert climb_error(Noise(0.17, 0.7, 12.0, 1.0), lag_s, window_s) == pytest.approx(scatter, rel=0.12)


class TestGaps:
    def test_a_violation_that_begins_in_a_gap_is_found(self) -> None:
        """Five minutes without a reading, and the ramp quadrupled meanwhile."""
        budget = budget_of(DRYING)
        states(budget, ramp(0.0222, 900))
        after = states(budget, ramp(0.111, 300, 20.0 + 0.0222 * 900 + 0.111 * 300), 1200.0)
        broken = first_break(after)
        assert broken is not None
        assert broken < 60

    @pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.name)
    def test_forty_dropouts_an_hour_raise_nothing(self, limit: Limit) -> None:
        """At 0.8 times the limit, two hours, up to half a minute each."""
        programme: Programme = step(limit, 0.8, 0.0)
        heats = simulate(programme, CLASSES["mid"], 7200, 1, 12, Pace(gaps_per_h=40.0))
        assert breaks(limit, heats, 0) == []
