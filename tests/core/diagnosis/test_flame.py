"""Flame out: flicker that stops and a fall, told from lids, valves, levelling off and chance."""

import math
from collections.abc import Callable

import pytest

from courses import CALM, FLAME, ROUGH, Course, corners, lid, trends
from rampwarden.core.diagnosis.flame import FlameWatch
from rampwarden.core.model import Finding, Noise, Trend

OUT_S = 1800.0
NEVER: Callable[[Trend], bool] = lambda trend: False  # noqa: E731


def cooling_from(out_s: float, c_per_min: float, falls_c_per_min: float = -9.0, tau_s: float = 80.0) -> Course:
    """Give a ramp whose heat ends in one moment: the rate goes over to the furnace's own fall."""

    def course(time_s: float) -> float:
        since_s = max(time_s - out_s, 0.0)
        settled_s = since_s + tau_s * math.expm1(-since_s / tau_s)
        return 500.0 + (c_per_min * time_s + (falls_c_per_min - c_per_min) * settled_s) / 60.0

    return course


def judged(
    course: Course,
    seconds: float,
    noise: Noise,
    seed: int = 1,
    lit_until_s: float = math.inf,
    excused: Callable[[Trend], bool] = NEVER,
    expected: Callable[[Trend], bool] = NEVER,
    *,
    climbs: bool = False,
) -> list[tuple[float, Finding | None]]:
    watch = FlameWatch()
    seen = trends(course, seconds, noise, seed, lit_until_s)
    return [
        (
            trend.time_s,
            watch.feed(trend, climb_expected=climbs, fall_expected=expected(trend), excused=excused(trend)),
        )
        for trend in seen
    ]


def first_s(seen: list[tuple[float, Finding | None]]) -> float | None:
    return next((time_s for time_s, finding in seen if finding is not None), None)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("noise", [FLAME, ROUGH])
@pytest.mark.parametrize("c_per_min", [0.0, 3.0, 15.0])
def test_a_flame_that_goes_out_is_told_within_minutes(c_per_min: float, noise: Noise, seed: int) -> None:
    """In a soak, a slow and a fast ramp; under a rough flame, too, since it is the roughness that ends."""
    told_s = first_s(judged(cooling_from(OUT_S, c_per_min), 2400.0, noise, seed, OUT_S))
    assert told_s is not None
    assert OUT_S + 40.0 < told_s < OUT_S + 270.0


@pytest.mark.parametrize("noise", [FLAME, ROUGH])
def test_in_a_cool_furnace_it_is_told_before_the_climb_has_turned(noise: Noise) -> None:
    """At 300 °C the chamber carries the pot on for six minutes; a climb that should go on need not fall."""
    slow = cooling_from(OUT_S, 11.0, falls_c_per_min=-3.0, tau_s=230.0)
    told_s = first_s(judged(slow, 2400.0, noise, 1, OUT_S, climbs=True))
    assert told_s is not None
    assert OUT_S + 90.0 < told_s < OUT_S + 240.0
    assert first_s(judged(slow, OUT_S + 300.0, noise, 1, OUT_S)) is None


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("noise", [FLAME, ROUGH])
def test_a_valve_turned_down_in_mid_ramp_is_no_flame_out(noise: Noise, seed: int) -> None:
    """The climb breaks off, and the flame flickers on."""
    eased = cooling_from(OUT_S, 15.0, falls_c_per_min=4.0)
    assert first_s(judged(eased, 5400.0, noise, seed, climbs=True)) is None


def test_it_is_worded_as_a_hazard_of_gas() -> None:
    """What stopped, what became of the ramp, what it may be."""
    found = [finding for _, finding in judged(cooling_from(OUT_S, 10.0), 2200.0, FLAME, 1, OUT_S) if finding]
    assert found[0].what.startswith("the flame's flicker stopped ")
    assert "+10" in found[0].what or "+9." in found[0].what
    assert found[0].what.endswith("likely the flame is out while gas may still flow; else the probe has left the fire")


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("noise", [FLAME, ROUGH])
def test_a_flame_that_burns_is_never_called_out(noise: Noise, seed: int) -> None:
    """Hours of ramp, levelling off, falling back into a soak, and holding."""
    course = corners((0.0, 500.0), (3600.0, 1100.0), (4200.0, 1160.0), (5400.0, 1140.0), (14400.0, 1150.0))
    assert first_s(judged(course, 14400.0, noise, seed)) is None


def test_flicker_that_sleeps_for_minutes_while_the_temperature_stands_is_no_flame_out() -> None:
    """By chance, once in a soak of many hours; an unheated furnace would have fallen by then."""

    def course(time_s: float) -> float:
        # A gentle sway of half a degree, as coarse readings leave it: at times it falls by 1 °C a minute.
        return 200.0 + 0.5 * math.sin(2.0 * math.pi * time_s / 180.0)

    assert first_s(judged(course, OUT_S + 900.0, FLAME, 1, OUT_S)) is None


@pytest.mark.parametrize("seed", range(4))
def test_gas_that_fails_slowly_or_a_valve_turned_down_is_not_a_flame_out(seed: int) -> None:
    """The flame still flickers while the temperature falls by 4 °C a minute."""
    course = corners((0.0, 500.0), (3000.0, 1000.0), (3600.0, 1000.0), (5400.0, 880.0))
    assert first_s(judged(course, 5400.0, FLAME, seed)) is None


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("noise", [FLAME, ROUGH])
def test_a_lid_lifted_for_a_minute_and_a_half_is_not_a_flame_out(noise: Noise, seed: int) -> None:
    """A steep fall alone says nothing."""
    assert first_s(judged(lid(OUT_S, 90.0, 40.0, 8.0), 3600.0, noise, seed)) is None


def test_flicker_that_stops_without_a_fall_is_not_a_flame_out() -> None:
    """A flame that burns more quietly goes on heating."""
    assert first_s(judged(corners((0.0, 500.0), (3600.0, 1100.0)), 3600.0, FLAME, 1, OUT_S)) is None


def test_it_ends_when_the_flame_flickers_again() -> None:
    """Lit again after eight minutes."""
    dark = cooling_from(OUT_S, 10.0)
    watch, told = FlameWatch(), []
    lit_again = trends(lambda time_s: dark(OUT_S + 480.0) + time_s / 6.0, 600.0, FLAME, seed=2)
    for trend in trends(dark, OUT_S + 480.0, FLAME, 1, OUT_S):
        told.append(watch.feed(trend) is not None)
    assert told[-1]
    after = [watch.feed(trend) is not None for trend in lit_again]
    assert after[0]
    assert not any(after[30:])


class TestWithoutAnyFlicker:
    def test_a_steep_fall_is_told_once_it_has_lasted_three_minutes(self) -> None:
        """An electric furnace whose power is gone."""
        seen = judged(cooling_from(OUT_S, 10.0, falls_c_per_min=-12.0), 2600.0, CALM)
        told_s = first_s(seen)
        assert told_s is not None
        assert OUT_S + 240.0 < told_s < OUT_S + 420.0
        finding = next(finding for _, finding in seen if finding is not None)
        assert finding.what.endswith("or the power is gone; possibly the lid stands open")

    def test_a_fall_that_is_wanted_or_explained_is_let_alone(self) -> None:
        """A soak above its temperature, a lid marked open."""
        falling = cooling_from(OUT_S, 10.0, falls_c_per_min=-12.0)
        assert first_s(judged(falling, 2600.0, CALM, expected=lambda trend: True)) is None

    def test_a_gentle_fall_is_left_to_others(self) -> None:
        """Less than 300 °C an hour is no lost flame by any rule."""
        assert first_s(judged(cooling_from(OUT_S, 3.0, falls_c_per_min=-4.0), 4800.0, CALM)) is None

    def test_it_ends_when_the_temperature_rises(self) -> None:
        """There is nothing else to tell it by."""
        course = corners((0.0, 500.0), (1800.0, 900.0), (2400.0, 780.0), (3000.0, 880.0))
        seen = judged(course, 3000.0, CALM)
        assert first_s(seen) is not None
        assert max(time_s for time_s, finding in seen if finding) < 2480.0


def test_a_mark_excuses_it_for_its_time_and_no_longer() -> None:
    """Two minutes after `lid-open` a flame that is out is still out."""
    seen = judged(
        cooling_from(OUT_S, 10.0), 2400.0, FLAME, 1, OUT_S, excused=lambda trend: trend.time_s < OUT_S + 240.0
    )
    told_s = first_s(seen)
    assert told_s is not None
    assert OUT_S + 240.0 <= told_s < OUT_S + 260.0


def test_what_was_learnt_of_another_fire_is_forgotten() -> None:
    """After a transfer the flicker is learnt anew: an oven's silence is no flame that stopped."""
    watch = FlameWatch()
    for trend in trends(corners((0.0, 500.0), (1800.0, 800.0)), 1800.0, FLAME):
        watch.feed(trend)
    watch.restart()
    quiet = trends(corners((0.0, 150.0), (900.0, 140.0)), 900.0, CALM)
    assert all(watch.feed(trend) is None for trend in quiet)
