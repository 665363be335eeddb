"""The followed probe and the chamber's in a running watch: what rings, what is said, and what readings are worth."""

import dataclasses
import math
import random
from collections.abc import Callable, Iterator

import pytest

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.model import AlarmState, Event, EventName, ProbeReading, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters, OtherProbe
from rampwarden.core.pot import ClaimName
from rampwarden.core.quantities import parse_rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

Course = Callable[[float], float]
SCHEDULE = Schedule("up", (Segment("up", SegmentKind.RAMP, to_c=1100.0, max_rates=(parse_rate("30 C / 1 min"),)),))
SLIPS_S, TO_S = 2400.0, 3000.0


def chamber_c(time_s: float) -> float:
    """Climb at 15 °C/min from 100 °C, with a hand's waves on it."""
    return 100.0 + 0.25 * time_s + 10.0 * math.sin(time_s / 80.0)


def pot_course(seconds: int = 4000) -> list[float]:
    """Give the pot that follows that chamber within two minutes."""
    pot_c, course = 20.0, []
    for second in range(seconds):
        course.append(pot_c)
        pot_c += (chamber_c(float(second)) - pot_c) / 120.0
    return course


POT = pot_course()


def pot_c(time_s: float) -> float:
    """Give the pot's temperature."""
    return POT[int(time_s)]


def slipped(by_k: float, back_s: float = 1e9) -> Course:
    """Give what a pot's probe shows that slips at `SLIPS_S` and is put back; it follows within eight seconds."""
    return lambda time_s: pot_c(time_s) - by_k * (_taken(time_s - SLIPS_S) - _taken(time_s - back_s))


def _taken(since_s: float) -> float:
    """Give the share of a step that a probe shows so long after it."""
    return 0.0 if since_s <= 0.0 else 1.0 - math.exp(-since_s / 8.0)


def fallen_out(time_s: float) -> float:
    """Give what a pot's probe shows that falls out of its seat."""
    return pot_c(time_s) - 0.75 * (pot_c(time_s) - 20.0) * _taken(time_s - SLIPS_S)


def watched(
    pot: Course, chamber: Course, to_s: float = TO_S, *, place: str = "pot", beside: str = "chamber"
) -> Iterator[tuple[Monitor, Event]]:
    """Watch such a heat, and give each event with the monitor as it stands."""
    probes = (OtherProbe(name="second", place=beside),) if beside else ()
    monitor = Monitor(SCHEDULE, dataclasses.replace(MonitorParameters(), place=place, probes=probes))
    dice = random.Random("two probes")
    for second in range(int(to_s)):
        time_s = float(second)
        shown = [pot(time_s) + dice.gauss(0.0, 0.4), chamber(time_s) + dice.gauss(0.0, 0.4)]
        if place == "chamber":
            shown.reverse()
        events = monitor.feed(Reading(time_s, temp_c=round(shown[0], 2)))
        if beside:
            events += monitor.feed(ProbeReading(time_s + 0.3, "second", temp_c=round(shown[1], 2)))
        for event in events:
            yield monitor, event


def raised(events: Iterator[tuple[Monitor, Event]]) -> dict[str, Event]:
    """Give the first event of each alarm of two probes that was raised."""
    first: dict[str, Event] = {}
    for _, event in events:
        if event.raises_alarm and event.alarm in ("probes-disagree", "probe-unseated"):
            first.setdefault(event.alarm, event)
    return first


@pytest.mark.parametrize("place", ["pot", "chamber", ""], ids=["follows the pot", "follows the chamber", "not said"])
def test_a_pots_probe_that_slips_rings_and_says_by_what_it_is_known(place: str) -> None:
    """Whichever of the two the schedule follows; a place that nobody has said is the pot's."""
    beside = "pot" if place == "chamber" else "chamber"
    found = raised(watched(slipped(60.0), chamber_c, place=place, beside=beside))
    assert set(found) == {"probes-disagree"}
    event = found["probes-disagree"]
    assert event.time_s - SLIPS_S < 130.0
    assert "the pot probe has moved or fails: since 0:3" in event.text
    assert "it alone shows 6" in event.text
    assert event.value == pytest.approx(-60.0, abs=6.0)


def test_sound_probes_ring_nothing() -> None:
    """A waved hand, a climb, noise."""
    assert raised(watched(pot_c, chamber_c)) == {}


def test_a_probe_out_of_its_seat_rings_high_and_its_readings_show_nothing_of_the_pot() -> None:
    """Doubted from the slip on, so that no soak and no firing is credited by them, until the other one stands in."""
    told = list(watched(fallen_out, chamber_c))
    monitor = told[-1][0]
    found = raised(iter(told))
    stands_in_s = next(event.time_s for _, event in told if event.raises_alarm and event.alarm == "standing-in")
    assert set(found) == {"probe-unseated"}
    assert found["probe-unseated"].text.startswith("probe-unseated · the pot probe is out of its seat since 0:3")
    assert monitor.status().alarms[0].alarm == "probe-unseated"
    assert monitor._together.doubted_since_s == pytest.approx(SLIPS_S, abs=30.0)
    evidence = monitor.account().claim(ClaimName.UNWATCHED).evidence
    assert evidence is not None
    # What the other one guesses counts within a minute of its standing in.
    assert stands_in_s - SLIPS_S <= evidence.doubted_s <= stands_in_s - SLIPS_S + 60.0


def test_followed_in_the_chamber_the_slip_of_the_pots_probe_is_no_doubt_of_the_reading() -> None:
    """The schedule goes by the other."""
    *_, (monitor, _) = watched(fallen_out, chamber_c, place="chamber", beside="pot")
    assert set(raised(watched(fallen_out, chamber_c, place="chamber", beside="pot"))) == {"probes-disagree"}
    assert monitor._together.doubted_since_s is None


def test_a_probe_that_is_put_back_ends_its_alarm_and_raises_none() -> None:
    """The step back is no second one."""
    states = [
        (event.state, event.text)
        for _, event in watched(slipped(60.0, back_s=2700.0), chamber_c, 3400.0)
        if event.alarm == "probes-disagree"
    ]
    assert [state for state, _ in states] == [AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED]


def test_cold_metal_is_a_message_and_no_alarm() -> None:
    """The lid is up for half a minute, and the pot stays behind when it is shut again."""

    def charged(time_s: float) -> float:
        since_s = max(0.0, time_s - SLIPS_S)
        return pot_c(time_s) - 150.0 * (1.0 - 2.718 ** (-since_s / 40.0))

    def lid(time_s: float) -> float:
        return chamber_c(time_s) - (120.0 if SLIPS_S < time_s < SLIPS_S + 30.0 else 0.0)

    events = list(watched(charged, lid))
    assert raised(iter(events)) == {}
    said = [event.text for _, event in events if event.event is EventName.OBSERVED]
    assert any(text.startswith("cold metal is in the pot: it stayed 1") for text in said), said


def test_with_one_probe_and_with_one_in_the_room_nothing_is_followed() -> None:
    """And events are those of a watch that knows of no second probe."""
    alone = [event for _, event in watched(slipped(60.0), chamber_c, beside="")]
    room = [event for _, event in watched(slipped(60.0), chamber_c, beside="room")]
    assert alone == room
    assert {event.alarm for event in alone}.isdisjoint({"probes-disagree", "probe-unseated"})


def test_both_alarms_name_what_is_to_be_done_by_the_other_probe() -> None:
    """Whoever hears them has another reading to go by."""
    assert all(
        "other" in CATALOGUE[name].action or "chamber" in CATALOGUE[name].action
        for name in ("probes-disagree", "probe-unseated")
    )
