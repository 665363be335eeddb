"""The running integral: exact on lines at any pace, honest about what was not read, small whatever the clock does."""

import pytest

from rampwarden.core.limits.course_integral import CourseIntegral


def fed(course: CourseIntegral, times_s: list[float], c_per_s: float = 0.5) -> None:
    course.start(times_s[0], 100.0)
    for time_s in times_s[1:]:
        course.feed(time_s, 100.0 + c_per_s * (time_s - times_s[0]))


@pytest.mark.parametrize("step_s", [0.3, 1.0, 7.0])
def test_the_integral_of_a_line_is_exact_at_any_pace(step_s: float) -> None:
    course = CourseIntegral(2.0, 50)
    fed(course, [step_s * n for n in range(round(60.0 / step_s) + 2)])
    for cell in range(20):
        assert course.sums[cell] == pytest.approx(0.25 * (2.0 * cell) ** 2, abs=1e-9)


def test_a_gap_is_counted_as_unread_and_a_usual_step_is_not() -> None:
    course = CourseIntegral(2.0, 50)
    course.set_pace(1.0)
    fed(course, [*map(float, range(21)), *map(float, range(40, 51))])
    assert course.unread_s(0, 5) == 0.0
    assert course.unread_s(5, 10) == 20.0


def test_a_bridge_takes_back_what_was_led_in_and_is_unread() -> None:
    course = CourseIntegral(1.0, 50)
    course.start(0.0, 100.0)
    for second in range(1, 31):
        course.feed(float(second), 100.0 if second <= 20 else 40.0)
    course.bridge(20.0, 40.0, 100.0)
    assert course.sums[-1] == pytest.approx(0.0, abs=1e-6)
    assert course.unread_s(0, 20) == 20.0
    assert course.unread_s(20, 20) == 0.0


@pytest.mark.parametrize("gap_s", [101.0, 1.7e9, 1e300])
def test_a_clock_that_jumps_begins_anew_and_costs_no_memory(gap_s: float) -> None:
    """Once each point of the gap was kept: a record dated years later took all the memory there is."""
    course = CourseIntegral(2.0, 50)
    fed(course, [float(n) for n in range(100)])
    assert not course.feed(99.0 + gap_s, 900.0)
    assert course.sums == [0.0]


def test_what_is_kept_is_bounded() -> None:
    course = CourseIntegral(2.0, 50)
    fed(course, [float(n) for n in range(20_000)])
    assert 51 <= len(course.sums) <= 101


def test_whoever_was_read_throughout_need_not_be_asked_span_by_span() -> None:
    course = CourseIntegral(2.0, 10)
    course.set_pace(1.0)
    fed(course, [float(n) for n in range(31)])
    assert course.all_read
    course.feed(50.0, 120.0)
    assert not course.all_read
    for second in range(51, 200):
        course.feed(float(second), 120.0)
    assert course.all_read
