"""Buckets, the fading course, flicker, and the sums of doubt: each by itself."""

import numpy as np
import pytest

from rampwarden.core.explanation.fading_course import FadingCourse
from rampwarden.core.explanation.flicker import Flicker
from rampwarden.core.explanation.lost_flame import CLIMB_TELLS, LostFlame
from rampwarden.core.explanation.sensor_doubts import InterferenceSum, StillnessSum
from rampwarden.core.explanation.slots import Slot, SlotMeter

from .heats import CLIMB, HOLD


def slots_of(course: list[tuple[float, float, bool]]) -> list[Slot]:
    meter = SlotMeter()
    return [slot for time_s, temp_c, held in course if (slot := meter.feed(time_s, temp_c, held)) is not None]


def test_a_slot_is_the_mean_of_its_believed_readings() -> None:
    first = slots_of([(float(n), 100.0 + n, False) for n in range(6)])[0]
    assert (first.time_s, first.temp_c, first.count, first.held, first.flat) == (2.0, 102.0, 5, 0, False)
    assert first.white_c2 == pytest.approx(0.0)


def test_rejected_readings_count_if_the_reading_comes_back_and_not_if_it_was_a_step() -> None:
    back = slots_of(
        [(0.0, 100.0, False), (1.0, 190.0, True), (2.0, 30.0, True), (3.0, 100.1, False), (5.0, 100.0, False)]
    )
    assert back[0].held == 2
    gone = slots_of([(0.0, 100.0, False), (1.0, 60.0, True), (2.0, 60.0, True), (3.0, 60.0, False), (5.0, 60.0, False)])
    assert gone[0].held == 0


def test_a_slot_without_a_believed_reading_is_none_and_equal_ones_are_flat() -> None:
    slots = slots_of(
        [(0.0, 50.0, False), (1.0, 50.0, False), (6.0, 90.0, True), (11.0, 50.0, False), (16.0, 50.0, False)]
    )
    assert [slot.time_s for slot in slots] == [0.5, 11.0]
    assert slots[0].flat


def test_white_noise_is_read_from_second_differences_beside_any_slope() -> None:
    dice = np.random.default_rng(3)
    slots = slots_of([(0.1 * n, 3.0 * n + 0.2 * float(dice.standard_normal()), False) for n in range(5000)])
    assert np.mean([slot.white_c2 for slot in slots]) == pytest.approx(0.04, rel=0.1)


def test_a_parabola_leaves_the_fading_course_nothing_to_wonder_at() -> None:
    course = FadingCourse()
    for n in range(200):
        time_s = 5.0 * n
        off_c = course.feed(time_s, 20.0 + 0.5 * time_s - 1e-4 * time_s * time_s, learn=True)
    assert abs(off_c) < 0.01
    assert course.c_per_s == pytest.approx(0.5 - 2e-4 * 995.0, abs=0.001)


def test_one_jump_does_not_swell_the_learnt_scatter() -> None:
    dice = np.random.default_rng(4)
    course = FadingCourse()
    for n in range(100):
        course.feed(5.0 * n, 500.0 + 0.3 * float(dice.standard_normal()), learn=True)
    before_c2 = course.scatter_c2
    course.feed(500.0, 900.0, learn=True)
    assert course.scatter_c2 < 1.5 * before_c2


def flickering(flicker: Flicker, count: int, size_c: float, dice: np.random.Generator, *, learn: bool) -> None:
    for _ in range(count):
        flicker.feed(500.0 + size_c * float(dice.standard_normal()), 0.0005, learn=learn)


def test_the_sums_rise_when_the_flicker_is_gone_and_unwind_when_it_is_back() -> None:
    dice, flicker = np.random.default_rng(6), Flicker()
    flickering(flicker, 150, 0.5, dice, learn=True)
    assert flicker.lit_c2 == pytest.approx(0.25, rel=0.5)
    assert min(flicker.sums) < 2.0
    flickering(flicker, 20, 0.03, dice, learn=False)
    assert min(flicker.sums) > 4.0
    assert flicker.lean > 2.0
    assert flicker.share is not None
    assert flicker.share < 0.1
    flickering(flicker, 20, 0.5, dice, learn=False)
    assert max(flicker.sums) < 2.0
    assert flicker.lean < 0.0


def test_a_flicker_that_white_noise_hides_says_nothing() -> None:
    dice, flicker = np.random.default_rng(7), Flicker()
    for _ in range(200):
        flicker.feed(500.0 + 0.1 * float(dice.standard_normal()), 0.01, learn=True)
    assert max(flicker.sums) < 2.0


def test_a_steady_climb_has_its_flame_and_one_that_bends_down_has_not() -> None:
    flame = LostFlame()
    odds = [flame.feed(500.0 + 2.0 * n, CLIMB, 5.0 * n, [0.0] * 4, -5.0, 0.2) for n in range(60)]
    assert odds[10] is None
    assert odds[-1] is not None
    assert odds[-1] < -4.0
    level_c, slope = 618.0, 2.0
    for _ in range(18):
        slope = max(slope - 0.25, -1.5)
        level_c += slope
        last = flame.feed(level_c, CLIMB, 400.0, [8.0] * 4, 8.0, 0.2)
    assert last is not None
    assert last > 3.0


def test_the_noise_of_a_slow_climb_seen_every_five_seconds_is_no_lost_flame() -> None:
    dice, flame = np.random.default_rng(9), LostFlame()
    odds = [
        flame.feed(260.0 + 0.07 * n + 0.35 * float(dice.standard_normal()), CLIMB, 5.0 * n, [0.0] * 4, 0.0, 0.45)
        for n in range(4000)
    ]
    assert max(one for one in odds if one is not None) < CLIMB_TELLS


def test_of_a_soak_headed_far_beyond_its_target_more_is_asked() -> None:
    def turned_down(before: float) -> LostFlame:
        flame, level_c = LostFlame(), 990.0 - 5.0 * before * 45
        for n in range(60):
            level_c += 5.0 * before if n < 45 else -1.0
            flame.feed(level_c, HOLD, 600.0 + 5.0 * n, [0.0] * 4, 0.0, 0.2)
        return flame

    assert turned_down(0.3).unlikely > 0.0
    assert turned_down(0.0).unlikely == 0.0


def test_a_line_is_drawn_over_a_gap() -> None:
    flame = LostFlame()
    for n in range(60):
        if 50 <= n < 56:
            continue
        if n == 56:
            flame.bridge(6, 500.0 - 2.0 * n)
        flame.feed(500.0 - 2.0 * n, CLIMB, 5.0 * n, [0.0] * 4, 0.0, 0.2)
    assert flame.now_c_per_s == pytest.approx(-0.4, abs=0.001)
    assert flame.before_c_per_s == pytest.approx(-0.4, abs=0.001)


def test_sparks_are_no_interference_and_bursts_are() -> None:
    dice, doubt = np.random.default_rng(8), InterferenceSum()
    for n in range(2000):
        doubt.feed(Slot(5.0 * n, 900.0, 5, int(dice.random() < 0.04), 0.01, False))
    assert not doubt.told
    for n in range(2000, 2020):
        doubt.feed(Slot(5.0 * n, 900.0, 3, 2, 0.01, False))
    assert doubt.told
    assert doubt.figures.count is not None
    assert doubt.figures.count >= 6
    for n in range(2020, 2100):
        doubt.feed(Slot(5.0 * n, 900.0, 5, 0, 0.01, False))
    assert not doubt.told


def test_a_spark_every_half_minute_is_never_interference_and_two_together_are() -> None:
    alone, together = InterferenceSum(), InterferenceSum()
    for n in range(5000):
        alone.feed(Slot(5.0 * n, 900.0, 2, int(n % 6 == 0), 0.01, False))
        together.feed(Slot(5.0 * n, 900.0, 2, 2 * int(n % 6 == 0), 0.01, False))
        assert not alone.told
    assert together.told


def test_stillness_is_told_where_readings_used_to_move_and_not_where_they_never_did() -> None:
    moving, quiet = StillnessSum(), StillnessSum()
    for n in range(200):
        moving.feed(Slot(5.0 * n, 900.0 + 0.01 * n, 5, 0, 0.01, False))
        # A coarse converter: equal for four buckets, then a step.
        quiet.feed(Slot(5.0 * n, 180.0 + 0.25 * (n // 4), 5, 0, 0.0, True))
    assert not quiet.told
    for n in range(200, 206):
        moving.feed(Slot(5.0 * n, 950.0, 5, 0, 0.0, True))
    assert moving.told
    moving.feed(Slot(1030.0, 951.0, 5, 0, 0.01, False))
    assert not moving.told
