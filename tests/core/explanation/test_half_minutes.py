"""Half-minute means, and what their shape says of an input that died away."""

import math
import random

import pytest

from rampwarden.core.explanation.slots import Slot
from rampwarden.core.explanation.slow.dying_away import WINDOW, weigh
from rampwarden.core.explanation.slow.half_minutes import HalfMinutes, line_c_per_s

from .slow_courses import climb_with


def fed(course: HalfMinutes, begins_s: float, ends_s: float, c_per_s: float = 0.5) -> list[bool]:
    """Feed a straight climb, a bucket every five seconds; gives when a half minute was closed."""
    closed = []
    time_s = begins_s
    while time_s < ends_s:
        closed.append(course.feed(Slot(time_s, c_per_s * time_s, 5, 0, 0.0, False)))
        time_s += 5.0
    return closed


def test_a_half_minute_is_the_mean_at_its_middle() -> None:
    course = HalfMinutes(10)
    assert sum(fed(course, 2.5, 100.0)) == 3
    assert course.temps_c == pytest.approx([7.5, 22.5, 37.5])
    assert course.last_s == 75.0
    assert course.c_per_s(0, 2) == pytest.approx(0.5)
    assert course.line_c_per_s(3) == pytest.approx(0.5)


def test_a_half_minute_of_few_buckets_is_moved_to_its_middle_by_the_slope() -> None:
    course = HalfMinutes(10)
    fed(course, 2.5, 60.0)
    fed(course, 62.5, 70.0)
    fed(course, 92.5, 100.0)
    assert course.temps_c == pytest.approx([7.5, 22.5, 37.5])


def test_a_short_gap_is_bridged_by_a_line_and_a_long_one_begins_anew() -> None:
    course = HalfMinutes(10)
    fed(course, 2.5, 60.0)
    fed(course, 122.5, 155.0)
    assert course.temps_c == pytest.approx([7.5, 22.5, 37.5, 52.5, 67.5])
    fed(course, 302.5, 335.0)
    assert course.temps_c == pytest.approx([157.5])
    course.restart()
    assert course.temps_c == []


def test_only_so_many_are_kept_and_their_scatter_is_learnt() -> None:
    course, dice = HalfMinutes(5), random.Random(3)
    assert course.scatter_c() == 1.0
    for number in range(400):
        course.feed(Slot(2.5 + 5.0 * number, 800.0 + dice.gauss(0.0, 1.0), 5, 0, 0.0, False))
    assert len(course.temps_c) == 5
    assert course.scatter_c() == pytest.approx(1.0 / math.sqrt(6.0), rel=0.35)


def test_the_scatter_is_never_nothing() -> None:
    course = HalfMinutes(5)
    fed(course, 2.5, 600.0)
    assert course.scatter_c() > 0.0


def test_a_line_s_slope_is_its_slope() -> None:
    assert line_c_per_s([1.0, 4.0, 7.0, 10.0]) == pytest.approx(0.1)


def half_minutes(input_share: float, dies_s: float | None, lag_s: float, *, noise_c: float, seed: int) -> list[float]:
    """Give a window of half minutes with the onset seven minutes before its end."""
    onset_s = 30.0 * (WINDOW - 14)

    def given(time_s: float) -> float:
        if time_s < onset_s:
            return 1.0
        left = 0.0 if dies_s is None else math.exp(-(time_s - onset_s) / dies_s)
        return input_share + (1.0 - input_share) * left

    course, dice = climb_with(given, 40.0, lag_s), random.Random(seed)
    return [course(30.0 * number + 15.0) + dice.gauss(0.0, noise_c) for number in range(WINDOW)]


@pytest.mark.parametrize("lag_s", [20.0, 50.0, 80.0])
@pytest.mark.parametrize("noise_c", [0.1, 0.4])
def test_what_died_away_and_what_was_turned_are_told_apart(lag_s: float, noise_c: float) -> None:
    for seed in range(3):
        dying = weigh(half_minutes(0.1, 170.0, lag_s, noise_c=noise_c, seed=seed), noise_c, 40.0 / 60.0)
        turned = weigh(half_minutes(0.35, None, lag_s, noise_c=noise_c, seed=seed), noise_c, 40.0 / 60.0)
        assert dying.log_odds > 0.0 > turned.log_odds
        assert abs(dying.age - 14) <= 3


def test_a_course_that_is_something_else_fits_badly() -> None:
    fits = weigh(half_minutes(0.1, 170.0, 60.0, noise_c=0.2, seed=1), 0.2, 40.0 / 60.0).fit
    saw = [500.0 + 40.0 * (number % 6) for number in range(WINDOW)]
    assert fits > -30.0 > weigh(saw, 0.2, 40.0 / 60.0).fit


def test_the_steepest_slope_of_the_last_ones_is_found_both_ways() -> None:
    course = HalfMinutes(20)
    for number, c_per_s in enumerate((0.0, 2.0, 0.0, -1.0, 0.5)):
        fed(course, 300.0 * number + 2.5, 300.0 * number + 300.0, c_per_s)
    slopes = [course.c_per_s(ago) for ago in range(16)]
    assert course.steepest_c_per_s(20) == max(slopes)
    assert course.steepest_c_per_s(20, -1.0) == -min(slopes)
    assert course.steepest_c_per_s(8) == max(slopes[:4])
    course.restart()
    assert course.steepest_c_per_s(20) == 0.0
