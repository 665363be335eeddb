"""How long nobody watched is told by the clock that can be believed, and bounded where none can."""

from datetime import UTC, datetime, timedelta

import pytest

from rampwarden.clock import Moment
from rampwarden.records.record_lines import FORMAT, Header
from rampwarden.records.recovery.blind_time import age_s, blind_time

STARTED = datetime(2026, 1, 10, 9, 0, tzinfo=UTC)
UNSET = datetime(1970, 1, 1, 0, 1, tzinfo=UTC)
WRITTEN = STARTED + timedelta(seconds=300)
PRESENT = WRITTEN + timedelta(minutes=5)


def header(started: datetime = STARTED) -> Header:
    return Header(FORMAT, started.isoformat(), boot="first", zero_s=1000.0)


def test_within_one_start_of_the_machine_no_wall_clock_is_asked() -> None:
    """Set it as you like: the host's own clock counts."""
    for wall in (UNSET, PRESENT, PRESENT + timedelta(days=4000)):
        blind = blind_time(header(), Moment("first", 1420.0, wall), 300.0, 0.0)
        assert (blind.now_s, blind.blind_s) == (420.0, 120.0)


@pytest.mark.parametrize(
    ("started", "written", "present", "blind_s"),
    [
        (STARTED, WRITTEN, PRESENT, 300.0),
        (UNSET, WRITTEN, PRESENT, 300.0),  # set while the heat was watched
        (STARTED, UNSET, PRESENT, 300.0),  # a file system that keeps no dates
        (STARTED, WRITTEN, STARTED - timedelta(days=1), None),  # set back
        (UNSET, UNSET, PRESENT, None),  # set only now: 56 years are no blind time
        (STARTED, WRITTEN, UNSET, None),  # never set this time
        (STARTED, WRITTEN, PRESENT + timedelta(days=2000), None),  # years ahead
        (STARTED + timedelta(days=-30), WRITTEN, PRESENT, 300.0),  # stepped in between: the nearer witness counts
    ],
)
def test_after_another_start_the_wall_clock_is_believed_as_far_as_it_can_be(
    started: datetime, written: datetime, present: datetime, blind_s: float | None
) -> None:
    """Where it cannot, nobody watched for at least as long as the machine has been running."""
    blind = blind_time(header(started), Moment("second", 42.0, present), 300.0, written.timestamp())
    assert blind.blind_s == blind_s
    assert blind.now_s == (342.0 if blind_s is None else 600.0)
    assert blind.at_least_s == (42.0 if blind_s is None else 0.0)


def test_no_age_is_worked_out_from_a_clock_that_was_never_set() -> None:
    """What cannot be dated is not too old."""
    second = Moment("second", 42.0, PRESENT)
    assert age_s(header(), second, 300.0, WRITTEN.timestamp()) == 300.0
    assert age_s(header(), second, 300.0, UNSET.timestamp()) == 300.0  # since its heat began
    assert age_s(header(UNSET), second, 300.0, UNSET.timestamp()) is None
    assert age_s(header(), Moment("second", 42.0, UNSET), 300.0, WRITTEN.timestamp()) is None
    assert age_s(header(), Moment("first", 1420.0, UNSET), 300.0, 0.0) == 120.0


def test_a_clock_set_years_ahead_ends_no_heat() -> None:
    """Only a clock that a time server keeps is believed months; else it counts how long this computer has been on."""
    ahead = PRESENT + timedelta(days=2000)
    assert age_s(header(), Moment("second", 42.0, ahead), 300.0, WRITTEN.timestamp()) == 42.0
    kept = age_s(header(), Moment("second", 42.0, ahead, wall_is_kept=True), 300.0, WRITTEN.timestamp())
    assert kept == timedelta(days=2000, minutes=5).total_seconds()
    no_boot = Header(FORMAT, STARTED.isoformat())
    assert age_s(no_boot, Moment("second", 42.0, ahead), 300.0, WRITTEN.timestamp()) is None


def test_of_two_witnesses_of_a_heats_age_the_nearer_counts() -> None:
    """The clock was set back, or ahead, while the heat was watched."""
    second = Moment("second", 42.0, PRESENT)
    early = WRITTEN - timedelta(days=3)
    assert age_s(header(), second, 300.0, early.timestamp()) == 300.0
    assert age_s(header(STARTED - timedelta(days=3)), second, 300.0, WRITTEN.timestamp()) == 300.0
