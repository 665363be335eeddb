"""The alarm catalogue: complete, sensible, and written for somebody who must act."""

import pytest

from rampwarden.core.alarm_entry import AlarmEntry, names
from rampwarden.core.catalogue import CATALOGUE, SUPPRESSED_IN_TRANSFER
from rampwarden.core.instrument import SENSOR_ALARMS
from rampwarden.core.limits import HEAT_ALARMS
from rampwarden.core.model import Priority

every_entry = pytest.mark.parametrize(("name", "entry"), list(CATALOGUE.items()), ids=lambda value: str(value)[:20])


def test_cannot_be_changed_by_anybody() -> None:
    """Settings make a copy; the catalogue is the same for every heat of the process."""
    with pytest.raises(TypeError):
        CATALOGUE["ramp-high"] = CATALOGUE["ramp-low"]  # type: ignore[index]


@every_entry
def test_an_entry_says_what_why_what_to_do_and_how_soon(name: str, entry: AlarmEntry) -> None:
    """An alarm without an action is a message (IEC 62682); texts start small and end without a stop."""
    for text in (entry.condition, entry.about_delays, entry.why, entry.action, entry.time_to_act):
        assert text
        assert text[0] == text[0].lower()
        assert not text.endswith(".")


@every_entry
def test_delays_and_deadbands_are_possible(name: str, entry: AlarmEntry) -> None:
    """Nothing runs backwards, and no alarm is held back for longer than a minute."""
    assert 0.0 <= entry.on_delay_s <= 60.0
    assert 0.0 <= entry.off_delay_s <= 60.0
    assert entry.deadband >= 0.0


def test_what_only_the_clock_or_a_notice_tells_does_not_wait_for_a_reading() -> None:
    """Waiting for one, silence would never be an alarm."""
    by_the_clock = {name for name, entry in CATALOGUE.items() if not entry.waits_for_reading}
    assert by_the_clock == {
        "segment-overdue",
        "signal-lost",
        "cooling-unseen",
        "standing-in",
        "board-restarted",
        "record-failing",
        "broker-unreachable",
        "output-failing",
    }
    assert by_the_clock.isdisjoint({*names(SENSOR_ALARMS), *names(HEAT_ALARMS)})


def test_the_urgent_ones_are_those_that_cost_a_crucible_or_the_sight_of_it() -> None:
    """Priority is by what happens when nobody comes."""
    high = {name for name, entry in CATALOGUE.items() if entry.priority is Priority.HIGH}
    assert high >= {
        "ramp-high",
        "temperature-high",
        "signal-lost",
        "sensor-open",
        "sensor-short",
        "sensor-range",
    }
    assert high.isdisjoint({"ramp-forecast", "junction-range", "board-restarted"})


def test_a_transfer_suppresses_what_a_probe_in_the_air_would_say_and_nothing_of_the_watch_itself() -> None:
    """Lost readings, a failing record and a late arrival matter while the pot is carried, too."""
    assert {*names(HEAT_ALARMS), "sensor-open"} <= SUPPRESSED_IN_TRANSFER
    assert all(CATALOGUE[name].waits_for_reading for name in SUPPRESSED_IN_TRANSFER)
