"""The heat's clock on a host."""

import time
from datetime import UTC, timedelta

import pytest

from rampwarden.clock import Clock, HostClock


def test_the_clock_starts_with_the_heat_and_never_runs_back() -> None:
    """Seconds since it was made."""
    clock: Clock = HostClock()
    times = [clock.now_s() for _ in range(1000)]
    assert 0.0 <= times[0] < 3600.0
    assert times == sorted(times)
    assert clock.speed == 1.0


def test_a_heat_taken_up_again_goes_on_counting() -> None:
    """From where it was."""
    assert 86_400.0 <= HostClock(already_s=86_400.0).now_s() < 2 * 86_400.0


def test_a_stepped_wall_clock_does_not_move_the_heat(monkeypatch: pytest.MonkeyPatch) -> None:
    """A day forward on the wall is no time at all in the furnace."""
    clock = HostClock()
    now_s = time.time()
    monkeypatch.setattr(time, "time", lambda: now_s + 86_400.0)
    assert clock.now_s() < 43_200.0


def test_wall_time_is_aware_and_in_utc() -> None:
    """A record made in one zone is read in another."""
    wall = HostClock().wall()
    assert wall.tzinfo is UTC
    assert wall.utcoffset() == timedelta(0)
