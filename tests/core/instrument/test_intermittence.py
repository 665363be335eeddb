"""A sensor that works now and then: when its readings are too few to be believed, and what is no sign of it."""

import math

import pytest

from rampwarden.core.instrument.calibration import UNCALIBRATED
from rampwarden.core.instrument.instrument_chain import InstrumentChain
from rampwarden.core.model import Fault, Reading

GOOD, OPEN, SHORT, RANGE, SPIKE = "good", "open", "short", "range", "spike"


def reading(frame: str, time_s: float, temp_c: float = 300.0) -> Reading:
    match frame:
        case "open":
            return Reading(time_s, temp_c=temp_c, faults=(Fault.OPEN,))
        case "short":
            return Reading(time_s, temp_c=temp_c, faults=(Fault.SHORT_GROUND,))
        case "range":
            return Reading(time_s, temp_c=2500.0)
        case "spike":
            return Reading(time_s, temp_c=(900.0, -150.0, 450.0, 1200.0)[int(time_s * 97.0) % 4])
    return Reading(time_s, temp_c=temp_c)


class Wired:
    """A chain behind a wire that sends frames one after another; it has believed something when it begins."""

    def __init__(self, interval_s: float, c_per_s: float = 0.0) -> None:
        self.chain = InstrumentChain("K", 2, UNCALIBRATED)
        self.interval_s, self.c_per_s, self.time_s, self.temp_c = interval_s, c_per_s, 0.0, 300.0
        self.send(*[GOOD] * 10)
        self.began_s = self.time_s

    def send(self, *frames: str) -> "Wired":
        for frame in frames:
            self.time_s += self.interval_s
            self.temp_c += self.c_per_s * self.interval_s
            self.chain.measure(reading(frame, self.time_s, self.temp_c))
        return self

    def leap_c(self, temp_c: float, *frames: str) -> "Wired":
        self.temp_c = temp_c
        return self.send(*frames)

    @property
    def said(self) -> str:
        finding = self.chain.intermittence.finding()
        return "" if finding is None else finding.what

    def told_after_s(self, *frames: str, within: int = 400) -> float | None:
        """Send these frames over and over; gives how long after the first of them it was said, s."""
        for number in range(within):
            self.send(frames[number % len(frames)])
            if self.said:
                return self.time_s - self.began_s
        return None


class TestTooFew:
    @pytest.mark.parametrize(
        ("frames", "interval_s"),
        [
            ((OPEN,) * 9 + (GOOD,), 0.1),
            ((RANGE, RANGE, GOOD), 0.1),
            ((RANGE, RANGE, GOOD), 1.0),
            ((OPEN, SPIKE, RANGE, GOOD), 0.5),
            ((OPEN, SPIKE, RANGE, GOOD), 2.5),
            ((SPIKE,), 0.1),
            ((SPIKE,), 5.0),
            ((OPEN, SHORT), 0.1),
            ((OPEN, SHORT), 5.0),
        ],
    )
    def test_are_told_within_fifteen_seconds(self, frames: tuple[str, ...], interval_s: float) -> None:
        """Three readings of a slow board, whatever is wrong with them."""
        told_s = Wired(interval_s).told_after_s(*frames)
        assert told_s is not None
        assert told_s <= 15.0

    def test_are_told_with_what_is_wrong_with_most(self) -> None:
        """A person must know where to look; how many there were says how bad it is."""
        wired = Wired(0.5).send(*(OPEN, OPEN, OPEN, SPIKE, GOOD) * 4)
        assert wired.said == "16 of the last 20 readings cannot be believed, mostly because the thermocouple is open"
        finding = wired.chain.intermittence.finding()
        assert finding is not None
        assert (finding.value, finding.unit) == (80.0, "%")
        assert "they leap" in Wired(0.5).send(*[SPIKE] * 20).said
        assert "outside what the thermocouple can give" in Wired(0.5).send(*(RANGE, RANGE, GOOD) * 10).said

    def test_are_in_doubt_from_the_first_of_them_on(self) -> None:
        """What was credited since then rests on them."""
        wired = Wired(1.0).send(*(OPEN, SHORT) * 5)
        assert wired.chain.intermittence.doubted_since_s == wired.began_s
        assert Wired(1.0).chain.intermittence.doubted_since_s is None

    def test_are_enough_again_after_ten_good_seconds(self) -> None:
        wired = Wired(0.5).send(*(OPEN, SPIKE) * 40)
        assert wired.send(*[GOOD] * 16).said
        assert not wired.send(*[GOOD] * 6).said

    def test_that_leap_and_leap_back_within_half_a_minute_are_told(self) -> None:
        """One of them was no temperature of the pot, and it was believed; however good the readings between look."""
        wired = Wired(1.0).leap_c(430.0, *[GOOD] * 20)
        assert not wired.said
        wired.leap_c(300.0, *[GOOD] * 4)
        assert "they leap" in wired.said

    @pytest.mark.parametrize("interval_s", [0.1, 0.26, 1.0])
    def test_that_leap_further_than_any_probe_gets_are_told_at_once(self, interval_s: float) -> None:
        """A plug that touches something for half a minute: there it reads as steadily as at the pot."""
        wired = Wired(interval_s).leap_c(20.0, *[GOOD] * 4)
        assert "they leap" in wired.said

    def test_that_leap_about_are_told_though_the_gate_follows_each_leap(self) -> None:
        """A plug that touches something for a second: three readings that agree are believed, and then three others."""
        wired = Wired(0.25)
        for _ in range(4):
            wired.leap_c(700.0, *[GOOD] * 6).leap_c(300.0, *[GOOD] * 6)
        assert "they leap" in wired.said

    def test_that_begin_at_a_wrong_level_are_told(self) -> None:
        """What a plug touches is believed first, and true readings look like spikes: who is right is unknown."""
        chain = InstrumentChain("K", 2, UNCALIBRATED)
        for number, touches in enumerate((1, 1, 1, 0, 1, 0, 1, 1, 1, 1, 0, 1, 0, 0, 0)):
            chain.measure(Reading(1.03 * number, temp_c=20.0 if touches else 260.0))
        assert chain.intermittence.finding() is not None


class TestTheFirstReadings:
    def test_of_two_levels_are_told_though_most_agree(self) -> None:
        """Three of seven stand elsewhere: which are true nobody knows, and that is said within fifteen seconds."""
        chain = InstrumentChain("K", 2, UNCALIBRATED)
        told_s = None
        for number, frame in enumerate((GOOD, GOOD, SPIKE, GOOD, SPIKE, GOOD, GOOD, SPIKE)):
            chain.measure(reading(frame, 2.25 * number))
            if told_s is None and chain.intermittence.finding() is not None:
                told_s = 2.25 * number
        assert told_s is not None
        assert told_s <= 15.0


class TestNoSign:
    @pytest.mark.parametrize("frame", [OPEN, RANGE, SPIKE])
    @pytest.mark.parametrize(("interval_s", "apart"), [(0.1, 20), (1.0, 11), (1.0, 20), (2.5, 5), (5.0, 3)])
    def test_is_a_single_bad_reading_now_and_then(self, frame: str, interval_s: float, apart: int) -> None:
        """One in twenty, or further apart than ten seconds: for as long as it likes."""
        assert Wired(interval_s).told_after_s(frame, *[GOOD] * (apart - 1), within=4000) is None

    @pytest.mark.parametrize("frame", [OPEN, RANGE, SPIKE])
    @pytest.mark.parametrize("interval_s", [0.5, 1.7, 2.2, 3.0])
    @pytest.mark.parametrize("bad", range(4))
    def test_is_one_bad_reading_among_the_first(self, frame: str, interval_s: float, bad: int) -> None:
        """Three that agree come within fifteen seconds all the same."""
        chain = InstrumentChain("K", 2, UNCALIBRATED)
        for number in range(12):
            chain.measure(reading(frame if number == bad else GOOD, interval_s * number))
            assert chain.intermittence.finding() is None

    @pytest.mark.parametrize("frame", [OPEN, RANGE, SHORT])
    def test_is_a_plain_fault_which_has_an_alarm_of_its_own(self, frame: str) -> None:
        """Without another reading between, the delay that somebody has set for it runs undisturbed; nor afterwards."""
        wired = Wired(1.0).send(*[frame] * 60)
        assert not wired.said
        assert wired.told_after_s(GOOD, within=20) is None

    @pytest.mark.parametrize("interval_s", [2.433, 3.4, 4.0, 4.75, 5.0])
    def test_is_one_among_the_first_and_another_ten_seconds_later(self, interval_s: float) -> None:
        """Of a slow board two true readings stand before the first bad one, and count for nothing yet."""
        for first in range(5):
            chain = InstrumentChain("K", 2, UNCALIBRATED)
            later = first + math.ceil(10.0 / interval_s)
            for number in range(12):
                frame = SPIKE if number == first else OPEN if number == later else GOOD
                chain.measure(reading(frame, number * interval_s))
                assert chain.intermittence.finding() is None

    def test_is_what_another_alarm_has_told_already(self) -> None:
        """Once that is over, so is this."""
        wired = Wired(1.0).send(*(OPEN, SHORT) * 10)
        wired.chain.intermittence.excuse()
        assert not wired.said
        assert wired.told_after_s(GOOD, within=20) is None

    @pytest.mark.parametrize("c_per_s", [4.0, -4.0, 5.0])
    def test_is_a_climb_too_steep_for_the_gate(self, c_per_s: float) -> None:
        """At one reading in five seconds two of three are set aside, and each third is followed: all are true."""
        assert Wired(5.0, c_per_s).told_after_s(GOOD, within=15) is None

    def test_is_a_probe_that_is_pulled_and_put_back(self) -> None:
        """It falls and climbs steeply, and takes a few readings for it: nothing is said meanwhile."""
        wired = Wired(1.0)
        for to_c in (20.0, 900.0, 20.0, 900.0):
            for _ in range(10):
                wired.leap_c(wired.temp_c + (to_c - wired.temp_c) * (1.0 - math.exp(-1.0 / 8.0)), GOOD)
                assert not wired.said

    @pytest.mark.parametrize("interval_s", [0.1, 0.5, 1.0, 1.7, 2.5, 5.0])
    @pytest.mark.parametrize("slow_s", [6.0, 8.0, 15.0])
    @pytest.mark.parametrize("since", [0.05, 0.35, 0.65, 0.95])
    def test_is_a_probe_that_is_pulled_whenever_and_put_back_a_minute_later(
        self, interval_s: float, slow_s: float, since: float
    ) -> None:
        """At a share `since` of the time between two readings, so that the first step is a part of one."""
        wired = Wired(interval_s).send(*[GOOD] * 20)
        pulled_s = wired.time_s + (1.0 - since) * interval_s
        cold_c = 20.0 + 280.0 * math.exp(-60.0 / slow_s)
        while wired.time_s < pulled_s + 120.0:
            out_s = wired.time_s + interval_s - pulled_s
            falling_c = 20.0 + 280.0 * math.exp(-out_s / slow_s)
            wired.leap_c(
                falling_c if out_s < 60.0 else 900.0 + (cold_c - 900.0) * math.exp((60.0 - out_s) / slow_s), GOOD
            )
            assert not wired.said

    def test_is_one_leap(self) -> None:
        """A quick probe that is pulled or put back."""
        wired = Wired(1.0)
        assert not wired.leap_c(160.0, *[GOOD] * 40).said
        assert not wired.leap_c(300.0, *[GOOD] * 4).said

    def test_is_a_leap_over_a_time_in_which_nothing_was_read(self) -> None:
        """A probe may have got there meanwhile."""
        wired = Wired(1.0)
        wired.time_s += 10.0
        assert not wired.leap_c(1200.0, *[GOOD] * 4).said

    def test_is_the_beginning_of_a_heat(self) -> None:
        """Nothing is believed before three readings agree."""
        assert Wired(5.0).chain.intermittence.seconds == 0.0

    def test_is_a_reading_given_twice(self) -> None:
        """It stands for no time."""
        wired = Wired(1.0)
        for _ in range(100):
            wired.chain.measure(reading(GOOD, wired.time_s))
        assert not wired.said
