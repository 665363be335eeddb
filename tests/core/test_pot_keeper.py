"""The account while a heat runs: the soak's evidence, breaches, and orders that a doubted sensor may not give."""

import random
import tomllib
from collections.abc import Iterable, Iterator

from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import AlarmState, Command, CommandName, Event, EventName, Input, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.pot import IN_USE, ClaimName, ClaimShown, Ready
from rampwarden.core.schedule import Schedule

OVEN = """
title = "A drying"
heat = "first"
[[segment]]
name = "up"
kind = "ramp"
to = "165 C"
max_rate = "25 C / 5 min"
min_rate = "40 C / h"
[[segment]]
name = "drying"
kind = "soak"
at = "165 C"
band = ['-15 C', '+15 C']
hold = "30 min"
[[segment]]
name = "down"
kind = "cool"
to = "40 C"
"""
_STEP_C = 0.25


def schedule(text: str = OVEN) -> Schedule:
    return parse_schedule(tomllib.loads(text), "test.toml")


class Board:
    """A board of 0.25 °C steps that may hang: it then repeats its last value."""

    def __init__(self, noise_c: float = 0.3, temp_c: float = 150.0) -> None:
        self.time_s = 0.0
        self.temp_c = temp_c
        self._noise_c = noise_c
        self._dice = random.Random("board of quarter degrees")
        self._last_c = temp_c

    def run(self, seconds: int, c_per_s: float = 0.0, *, hangs: bool = False) -> Iterator[Input]:
        """Give a reading each second."""
        for _ in range(seconds):
            self.time_s += 1.0
            self.temp_c += c_per_s
            if not hangs:
                self._last_c = round((self.temp_c + self._dice.gauss(0.0, self._noise_c)) / _STEP_C) * _STEP_C
            yield Reading(self.time_s, temp_c=self._last_c)

    def mark(self, name: str) -> list[Input]:
        return [Command(self.time_s, CommandName.MARK, text=name)]


def feed(monitor: Monitor, items: Iterable[Input]) -> list[Event]:
    return [event for item in items for event in monitor.feed(item)]


def observed(events: list[Event]) -> list[str]:
    return [event.text for event in events if event.event is EventName.OBSERVED]


def reached(events: list[Event]) -> list[EventName]:
    return [event.event for event in events if event.event in (EventName.SOAK_COMPLETE, EventName.HEAT_COMPLETE)]


def unconfirmed_s(monitor: Monitor) -> float:
    """How much of the time that may have dried the pot is not confirmed, s."""
    evidence = monitor.account().claim(ClaimName.DRIED).evidence
    return 0.0 if evidence is None else evidence.unconfirmed_s


class TestAFrozenReading:
    def test_earns_no_soak_and_what_it_earned_before_it_was_found_out_is_taken_back_and_said(self) -> None:
        """It scattered by more than a step before, so its stillness is no chance."""
        monitor, board = Monitor(schedule()), Board()
        feed(monitor, board.run(600))
        before_s = monitor.soaked_s
        events = feed(monitor, board.run(3600, hangs=True))
        assert reached(events) == []
        assert abs(monitor.soaked_s - before_s) < 2.0
        assert any("of the soak are taken back" in text for text in observed(events))
        assert monitor.status().unconfirmed_s == 0.0

    def test_gives_no_other_order_than_to_hold_the_heat(self) -> None:
        """A value that does not climb is below the least rate, and says nothing of the furnace."""
        monitor, board = Monitor(schedule()), Board(temp_c=60.0)
        feed(monitor, board.run(3600, 0.02))
        events = feed(monitor, board.run(3600, hangs=True))
        stuck_s = next(event.time_s for event in events if event.alarm == "sensor-stuck")
        orders = {
            event.alarm for event in events if event.time_s > stuck_s and event.state is AlarmState.UNACKNOWLEDGED
        }
        assert orders <= {"sensor-stuck"}
        assert "ramp-low" not in {alarm.alarm for alarm in monitor.status().alarms}

    def test_leaves_the_claims_in_doubt_and_the_pot_undried(self) -> None:
        """Nothing of the doubted time helps it."""
        monitor, board = Monitor(schedule()), Board()
        feed(monitor, board.run(600))
        feed(monitor, board.run(7200, hangs=True))
        account = monitor.account()
        assert account.claim(ClaimName.DRIED).shown is ClaimShown.NOT_SHOWN
        assert monitor.readiness().ready in (Ready.INSPECT_FIRST, Ready.DRY_FIRST)


class TestAStillnessThatTheStepCanExplain:
    def test_runs_the_schedule_on_and_is_shown_as_not_confirmed(self) -> None:
        """A quiet oven behind a coarse board: nobody can tell it from a hung one."""
        monitor, board = Monitor(schedule()), Board(noise_c=0.02, temp_c=166.0)
        events = feed(monitor, board.run(1500))
        assert monitor.status().unconfirmed_s > 1400.0
        assert sum("not confirmed" in text for text in observed(events)) == 1
        events = feed(monitor, board.run(400))
        complete = next(event for event in events if event.event is EventName.SOAK_COMPLETE)
        assert complete.text == "drying · soaked for 30 min in its band, 30 min of it not confirmed"
        assert unconfirmed_s(monitor) > 1800.0

    def test_is_confirmed_from_its_beginning_by_a_move_after_a_touch_of_the_dial(self) -> None:
        """A board that hangs does not answer."""
        monitor, board = Monitor(schedule()), Board(noise_c=0.02, temp_c=166.0)
        feed(monitor, board.run(1200))
        feed(monitor, board.mark("dial"))
        events = feed(monitor, board.run(120, 0.02))
        assert any("of the soak are confirmed" in text for text in observed(events))
        assert monitor.status().unconfirmed_s == 0.0
        assert unconfirmed_s(monitor) == 0.0

    def test_is_not_confirmed_by_the_mark_alone(self) -> None:
        """Somebody touched the dial, and the reading stood where it was."""
        monitor, board = Monitor(schedule()), Board(noise_c=0.02, temp_c=166.0)
        feed(monitor, board.run(1200))
        feed(monitor, board.mark("dial"))
        feed(monitor, board.run(120))
        assert monitor.status().unconfirmed_s > 1000.0

    def test_is_not_confirmed_by_a_move_that_nobody_caused(self) -> None:
        """A board that hung may come back by itself."""
        monitor, board = Monitor(schedule()), Board(noise_c=0.02, temp_c=166.0)
        feed(monitor, board.run(1200))
        feed(monitor, board.run(120, 0.02))
        assert monitor.status().unconfirmed_s > 1000.0


class TestBreaches:
    def test_a_limit_that_was_broken_is_in_the_account_though_its_alarm_was_out_of_service(self) -> None:
        """Whether anybody wanted to hear of it is nothing to the pot."""
        monitor = Monitor(schedule(), MonitorParameters(out_of_service=("ramp-high",)))
        feed(monitor, Board(temp_c=30.0).run(900, 0.15))
        claim = monitor.account().claim(ClaimName.CLIMBED_WHILE_WET)
        assert claim.shown is ClaimShown.SHOWN
        assert claim.evidence is not None
        assert claim.evidence.measure is not None
        assert claim.evidence.wanted is not None
        assert claim.evidence.measure > claim.evidence.wanted

    def test_a_leap_of_a_value_that_was_frozen_is_in_doubt_itself(self) -> None:
        """It went on climbing within its limit, unseen; the leap is the board's."""
        monitor, board = Monitor(schedule()), Board(temp_c=30.0)
        feed(monitor, board.run(900, 0.05))
        feed(monitor, board.run(600, 0.05, hangs=True))
        feed(monitor, board.run(60, 0.05))
        assert monitor.account().claim(ClaimName.CLIMBED_WHILE_WET).shown is ClaimShown.IN_DOUBT

    def test_a_leap_stays_in_doubt_until_it_has_left_the_window_and_its_finding_has_cleared(self) -> None:
        """It lies at the window's edge a moment longer than the window, and must not be shown for that."""
        monitor, board = Monitor(schedule()), Board(temp_c=30.0)
        feed(monitor, board.run(600, 0.05))
        feed(monitor, board.run(900, 0.05, hangs=True))
        feed(monitor, board.run(600, 0.05))
        assert monitor.account().claim(ClaimName.CLIMBED_WHILE_WET).shown is ClaimShown.IN_DOUBT


class TestTheAccount:
    def test_is_the_same_whether_or_not_anybody_asked_for_it_meanwhile(self) -> None:
        """A page that shows it must not change what the record's replay gives."""
        asked, silent = Monitor(schedule()), Monitor(schedule())
        for item in Board().run(900):
            asked.feed(item)
            silent.feed(item)
            asked.account()
        assert asked.account() == silent.account()

    def test_of_a_pot_of_which_no_register_tells_goes_by_what_its_schedule_is_for(self) -> None:
        """Whoever takes a later-heat schedule says that the first is behind it; else it is taken for new."""
        for word, ready in (("first", Ready.DRY_FIRST), ("later", Ready.READY)):
            monitor = Monitor(schedule(OVEN.replace('"first"', f'"{word}"')))
            feed(monitor, Board(temp_c=20.0).run(30))
            assert monitor.readiness().ready is ready

    def test_takes_the_register_s_word_from_the_parameters(self) -> None:
        """They stand in the record's header, so a replay knows what the watch knew."""
        monitor = Monitor(schedule(), MonitorParameters(standing=IN_USE))
        feed(monitor, Board(temp_c=20.0).run(30))
        assert monitor.readiness().ready is Ready.READY
