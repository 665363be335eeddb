"""Dips that do not count: a lid, and nothing that lasts."""

import pytest

from rampwarden.core.limits.dips import DipWatch
from rampwarden.core.model import Noise

NOISE = Noise(0.1, 0.3, 5.0, 1.0)  # 0.32 °C in all: a dip is deeper than 1.9 °C
LONGEST_S = 120.0


class Course:
    """A dip watch fed at an even pace, and what it said."""

    def __init__(self) -> None:
        self.watch = DipWatch(LONGEST_S)
        self.time_s = 0.0
        self.temp_c = 600.0

    def go(self, seconds: int, c_per_s: float = 0.0) -> list[bool]:
        """Go on for so many seconds at a slope; gives whether a dip was open at each."""
        said = []
        for _ in range(seconds):
            self.time_s += 1.0
            self.temp_c += c_per_s
            said.append(self.watch.feed(self.time_s, self.temp_c, NOISE))
        return said

    def jump(self, by_c: float) -> None:
        self.temp_c += by_c


def test_a_lid_opened_and_closed_is_a_dip_until_the_last_degrees_are_back() -> None:
    """Half a minute down, half a minute back, and time for the tail."""
    course = Course()
    assert not any(course.go(200))
    down = course.go(30, -1.0)
    assert down[3:] == [True] * 27
    assert all(course.go(30, 1.0))
    tail = course.go(200)
    assert 60 < tail.index(False) < 120
    assert course.watch.regained
    assert course.watch.from_c == 600.0
    assert 200.0 - LONGEST_S <= course.watch.from_s <= 201.0


def test_a_fall_that_is_not_regained_ends_as_no_dip() -> None:
    """After two minutes it is a fall, and the watch begins anew down there."""
    course = Course()
    course.go(200)
    course.jump(-50.0)
    said = course.go(200)
    assert said.index(False) == pytest.approx(LONGEST_S, abs=2.0)
    assert not any(said[said.index(False) :])
    assert not course.watch.regained


@pytest.mark.parametrize("c_per_s", [-0.01, 0.0, 0.5, 5.0])
def test_ramps_and_holds_and_slow_falls_are_no_dips(c_per_s: float) -> None:
    assert not any(Course().go(1000, c_per_s))


def test_flicker_is_no_dip() -> None:
    """Nothing within six deviations counts, and one reading below is not believed by the gate anyway."""
    course = Course()
    for _ in range(100):
        assert not any(course.go(5, 0.1) + course.go(5, -0.1))


def test_a_second_lid_during_the_tail_of_the_first_is_a_dip_of_its_own() -> None:
    """It may last as long as any; else the second way back would be taken for a climb."""
    course = Course()
    course.go(200)
    for _ in range(3):
        course.go(30, -1.0)
        assert all(course.go(30, 1.0))
        assert all(course.go(10))


def test_on_a_ramp_a_dip_begins_where_the_temperature_last_stood_high() -> None:
    """Not at the first reading found below: what climbed until then has climbed."""
    course = Course()
    course.go(200, 0.5)
    high_c = course.temp_c
    course.go(10, -3.0)
    assert course.watch.open
    assert high_c - 10.0 < course.watch.from_c <= high_c


def test_a_start_forgets_an_open_dip() -> None:
    course = Course()
    course.go(200)
    course.jump(-50.0)
    course.go(5)
    course.watch.start()
    assert not course.watch.open
    assert not any(course.go(100))


@pytest.mark.parametrize(("gap_s", "is_dip"), [(10, True), (20, False)])
def test_what_fell_while_nobody_looked_is_a_dip_only_where_a_lid_would_have_been_seen(gap_s: int, is_dip: bool) -> None:
    course = Course()
    course.go(200)
    course.jump(-50.0)
    course.time_s += gap_s - 1.0
    assert course.go(1) == [is_dip]


@pytest.mark.parametrize(("gap_s", "ends"), [(10, False), (20, True)])
def test_a_dip_not_regained_ends_with_a_gap_of_which_nothing_is_known(gap_s: int, ends: bool) -> None:
    course = Course()
    course.go(200)
    course.go(30, -1.0)
    assert course.watch.breaks_off(course.time_s + gap_s, NOISE) is ends
    assert course.watch.open is not ends


def test_a_slow_boards_pace_is_no_gap() -> None:
    course = Course()
    course.go(200)
    course.go(30, -1.0)
    assert not course.watch.breaks_off(course.time_s + 20.0, Noise(0.1, 0.3, 5.0, 5.0))


def test_the_crucible_goes_on_as_before_the_dip_within_its_limit_and_no_longer_than_a_dip() -> None:
    """A probe that comes back has that to catch up with; after a level stretch it has nothing."""
    course = Course()
    course.go(200, 0.5)
    course.go(10, -3.0)
    watch = course.watch
    assert watch.expected_c(watch.from_s + 60.0, 0.2) == pytest.approx(watch.from_c + 12.0)
    assert watch.from_c + 20.0 < watch.expected_c(watch.from_s + 60.0, 1.0) < watch.from_c + 30.0
    assert watch.expected_c(watch.from_s + 500.0, 0.2) == pytest.approx(watch.from_c + 0.2 * LONGEST_S)
    level = Course()
    level.go(200)
    level.go(30, -1.0)
    assert level.watch.expected_c(level.time_s + 60.0, 1.0) == 600.0


def test_a_second_lid_begins_where_the_level_was_last_had() -> None:
    course = Course()
    course.go(200)
    course.go(30, -1.0)
    course.go(40, 0.75)
    last_s = course.time_s
    course.go(10, -1.0)
    assert not course.watch.regained
    assert course.watch.from_s == pytest.approx(last_s, abs=4.0)
