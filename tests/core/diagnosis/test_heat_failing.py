"""A heat that fails: a climb that dies away or a soak that sags, and everything that looks like it and is none."""

import math

import pytest

from courses import CALM, FLAME, ROUGH, Course, corners, trends
from rampwarden.core.diagnosis.heat_failing import Aim, FailingWatch
from rampwarden.core.model import Finding, Noise


def judged(
    course: Course,
    seconds: float,
    noise: Noise = CALM,
    aim: Aim = Aim.CLIMB,
    target_c: float = 1150.0,
    lowest_c: float = 1150.0,
    seed: int = 1,
) -> list[tuple[float, Finding | None]]:
    watch = FailingWatch()
    seen = trends(course, seconds, noise, seed)
    return [(trend.time_s, watch.feed(trend, noise, aim, target_c, lowest_c)) for trend in seen]


def first_s(seen: list[tuple[float, Finding | None]]) -> float | None:
    return next((time_s for time_s, finding in seen if finding is not None), None)


def dying(begins_s: float, over_s: float, c_per_min: float = 15.0, start_c: float = 300.0) -> Course:
    """Give a climb whose rate falls on a straight line to nothing within `over_s`, and stays there."""
    slope = c_per_min / 60.0

    def course(time_s: float) -> float:
        since_s = min(max(time_s - begins_s, 0.0), over_s)
        return start_c + slope * (min(time_s, begins_s) + since_s - since_s * since_s / (2.0 * over_s))

    return course


def turned_once(at_s: float, from_c_per_min: float, to_c_per_min: float, tau_s: float) -> Course:
    """Give a climb whose valve is turned once; the furnace follows with its time constant."""

    def course(time_s: float) -> float:
        since_s = max(time_s - at_s, 0.0)
        settled = since_s + tau_s * math.expm1(-since_s / tau_s)
        return 300.0 + (from_c_per_min * time_s + (to_c_per_min - from_c_per_min) * settled) / 60.0

    return course


def closing_in(target_c: float, c_per_min: float, tau_s: float) -> Course:
    """Give a climb that approaches its target exponentially over the last of it."""
    slope = c_per_min / 60.0
    turns_s = (target_c - 300.0 - slope * tau_s) / slope

    def course(time_s: float) -> float:
        if time_s < turns_s:
            return 300.0 + slope * time_s
        return target_c - slope * tau_s * math.exp(-(time_s - turns_s) / tau_s)

    return course


class TestAClimb:
    @pytest.mark.parametrize("noise", [CALM, FLAME])
    @pytest.mark.parametrize("c_per_min", [5.0, 15.0])
    def test_that_dies_away_within_twenty_minutes_is_told_before_it_stands(
        self, noise: Noise, c_per_min: float
    ) -> None:
        """By a freezing bottle, say."""
        told_s = first_s(judged(dying(1200.0, 1200.0, c_per_min), 3000.0, noise))
        assert told_s is not None
        assert 1500.0 < told_s < 2340.0

    def test_that_dies_away_under_the_roughest_flame_is_told_some_minutes_later(self) -> None:
        """The window grows until the rate is known."""
        told_s = first_s(judged(dying(3600.0, 2400.0), 7200.0, ROUGH))
        assert told_s is not None
        assert 4200.0 < told_s < 6600.0

    def test_says_by_how_much_and_in_words_of_probability_why(self) -> None:
        """Gas first, then what else it may be."""
        found = [finding for _, finding in judged(dying(1200.0, 1200.0), 3000.0) if finding is not None]
        assert found[0].what.startswith("the climb fell from 14.7 to ")
        assert found[0].what.endswith(
            "within 9 min and is still falling: likely the gas fails, a bottle freezing or emptying; "
            "possibly cold or melting metal"
        )
        assert found[0].unit == "°C/min"
        assert found[0].value is not None
        assert found[0].limit is not None
        assert found[0].value < found[0].limit

    @pytest.mark.parametrize("seed", range(4))
    @pytest.mark.parametrize("noise", [FLAME, ROUGH])
    def test_that_is_steady_is_let_alone(self, noise: Noise, seed: int) -> None:
        """Slow and quick, for hours."""
        for c_per_min in (0.5, 10.0):
            steady = corners((0.0, 100.0), (6000.0, 100.0 + c_per_min * 100.0))
            assert first_s(judged(steady, 6000.0, noise, target_c=3000.0, seed=seed)) is None

    @pytest.mark.parametrize("tau_s", [60.0, 100.0])
    @pytest.mark.parametrize("offset_s", [0.0, 20.0, 40.0])
    def test_turned_down_once_is_let_alone(self, tau_s: float, offset_s: float) -> None:
        """However its minute falls into the windows: somebody has turned the valve."""
        assert first_s(judged(turned_once(1800.0 + offset_s, 15.0, 6.0, tau_s), 4800.0)) is None

    @pytest.mark.parametrize("tau_s", [300.0, 600.0])
    def test_that_closes_in_on_its_target_is_let_alone(self, tau_s: float) -> None:
        """Its rate falls as a failing one's does, but it leads there."""
        assert first_s(judged(closing_in(1000.0, 10.0, tau_s), 4800.0, FLAME, target_c=990.0)) is None

    def test_that_levels_off_far_below_its_target_fails(self) -> None:
        """The very same course, under a schedule that wants 150 °C more."""
        assert first_s(judged(closing_in(1000.0, 10.0, 600.0), 6000.0, FLAME, target_c=1150.0)) is not None

    def test_that_recovers_ends_the_finding(self) -> None:
        """A new bottle: back to its former rate."""
        lost = dying(1200.0, 1200.0)

        def course(time_s: float) -> float:
            return lost(time_s) if time_s < 2500.0 else lost(2500.0) + 0.25 * (time_s - 2500.0)

        seen = judged(course, 3600.0)
        told_s = first_s(seen)
        assert told_s is not None
        assert all(finding is not None for time_s, finding in seen if told_s <= time_s <= 2500.0), "and no sooner"
        assert max(time_s for time_s, finding in seen if finding is not None) < 2800.0


class TestASoak:
    @staticmethod
    def sagging(begins_s: float, c_per_min: float) -> Course:
        return corners((0.0, 1150.0), (begins_s, 1150.0), (begins_s + 3600.0, 1150.0 - 60.0 * c_per_min))

    def judge(self, course: Course, seconds: float = 3600.0, seed: int = 1) -> float | None:
        return first_s(judged(course, seconds, FLAME, Aim.HOLD, 1150.0, 1125.0, seed))

    def test_that_sags_is_told_before_it_has_left_its_band_for_long(self) -> None:
        """Two degrees a minute, in the lower half of the band."""
        told_s = self.judge(self.sagging(1200.0, 2.0))
        assert told_s is not None
        assert 1560.0 < told_s < 2100.0

    @pytest.mark.parametrize("seed", range(4))
    def test_that_is_held_is_let_alone(self, seed: int) -> None:
        """A hand that swings about the target every ten minutes."""
        assert self.judge(lambda time_s: 1145.0 + 8.0 * math.sin(time_s / 95.0), 7200.0, seed) is None

    def test_that_comes_down_from_an_overshoot_is_let_alone(self) -> None:
        """It falls because it should."""
        assert self.judge(corners((0.0, 1180.0), (2400.0, 1150.0), (3600.0, 1150.0))) is None

    def test_that_settles_low_in_its_band_is_let_alone(self) -> None:
        """Inside for hours to come."""
        assert self.judge(corners((0.0, 1150.0), (3600.0, 1136.0), (7200.0, 1133.0)), 7200.0) is None


def test_a_mark_starts_afresh_and_nothing_is_judged_where_nothing_could_fail() -> None:
    """Twelve minutes of data make a judgement; a transfer or a cooling has none."""
    watch = FailingWatch()
    told = []
    for trend in trends(dying(1200.0, 1200.0), 3000.0):
        if 1500.0 <= trend.time_s < 1505.0:
            watch.restart()
        told.append(watch.feed(trend, CALM, Aim.CLIMB, 1150.0, 1150.0) is not None)
    assert not any(told[: round(2200 / 5)])
    assert first_s(judged(dying(1200.0, 1200.0), 3000.0, aim=Aim.NOTHING)) is None


def test_a_gap_is_not_computed_across() -> None:
    """Nobody knows what happened in ten minutes without readings."""
    watch = FailingWatch()
    told = [
        watch.feed(trend, CALM, Aim.CLIMB, 1150.0, 1150.0)
        for trend in trends(dying(1200.0, 1200.0), 2100.0)
        if not 900.0 < trend.time_s < 1500.0
    ]
    assert not any(told)
