"""What `rampwarden status` says to a person: how the heat stands, and whether that is still so."""

from dataclasses import dataclass

import msgspec
import pytest

from rampwarden.cli.during.standing import describe
from rampwarden.control.messages import AboutWatch, Snapshot
from rampwarden.core.model import (
    Command,
    CommandName,
    HeatStatus,
    Notice,
    NoticeName,
    OpenQuestion,
    PotReadiness,
    Reading,
    WallPeak,
    WallState,
)
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

ABOUT = AboutWatch("board-1", 4711, "/dev/board", "A first heat", "heat.jsonl", "rampwarden")


@dataclass(frozen=True)
class Stands:
    """A heat of five seconds, and how it stands."""

    status: HeatStatus

    @classmethod
    def after_five_seconds(cls, *, restarted: bool = False) -> "Stands":
        monitor = Monitor(Schedule("A first heat", (Segment("drying", SegmentKind.RAMP, to_c=200.0),)))
        for second in range(6):
            monitor.feed(Reading(float(second), temp_c=25.0))
        if restarted:
            monitor.feed(Notice(5.0, NoticeName.BOARD_RESTARTED))
        return cls(monitor.status())

    def said(self, age_s: float = 0.5, read_s: float | None = 5.0, now_s: float = 5.0) -> list[str]:
        """Give what is said of it between the first line and the last."""
        status = msgspec.structs.replace(self.status, read_s=read_s, time_s=now_s)
        first, stands, *rest, last = describe(Snapshot(ABOUT, age_s, status))
        assert first.startswith("board-1 · A first heat · watching for")
        assert "25" in stands
        assert last == "record heat.jsonl · port /dev/board"
        return rest


def test_a_rehearsal_says_first_that_there_is_no_furnace() -> None:
    """Its figures look like a furnace's."""
    rehearsed = msgspec.structs.replace(ABOUT, rehearsal=True)
    lines = describe(Snapshot(rehearsed, 0.5, Stands.after_five_seconds().status))
    assert lines[0] == "REHEARSAL: no furnace"
    assert lines[1].startswith("board-1 · A first heat")


def test_the_checklist_is_told_in_a_line_each_and_how_it_is_ticked_off() -> None:
    """Ten lines that ask for the same two answers would hide the rest; other questions come before it."""
    checks = tuple(OpenQuestion(n, f"Line {n}", ("done", "not needed"), 0.0, is_check=True) for n in (1, 2))
    mist = OpenQuestion(3, "Is there mist?", ("yes",), 60.0, "drying")
    stands = msgspec.structs.replace(Stands.after_five_seconds().status, questions=(mist, *checks))
    lines = describe(Snapshot(ABOUT, 0.5, stands))
    at = lines.index("question 3 since 0:01 drying · Is there mist?")
    assert lines[at + 2 : at + 5] == ["[ ] 1 Line 1", "[ ] 2 Line 2", "    → rampwarden answer --question 1 done"]


def test_a_sound_heat_has_no_alarm_and_nothing_to_look_at() -> None:
    """The usual answer is four lines."""
    assert Stands.after_five_seconds().said() == ["no alarm"]


def test_alarms_are_listed_and_then_it_does_not_say_that_there_is_none() -> None:
    """With priority, words and state."""
    first, alarm, todo = Stands.after_five_seconds(restarted=True).said()
    assert first == "do first: CHECK BOARD SUPPLY (board-restarted)"
    assert alarm.startswith("NEW · low · board-restarted since 0:00 drying · not so since 0:00; it was: ")
    assert todo == "    → check the board's power and USB cable"


def test_the_end_of_a_heat_says_what_the_pot_is_ready_for_and_why_the_gravest_first() -> None:
    """Above the alarms: it is what somebody has come to ask. Before the end nothing is promised."""
    reasons = ("Overheated (1240 °C, limit 1220 °C).", "Cooling not seen.")
    ready = PotReadiness("inspect-first", "Inspect it first.", reasons)
    over = Stands(msgspec.structs.replace(Stands.after_five_seconds(restarted=True).status, readiness=ready))
    _, *said, alarm, _ = over.said()
    assert said == ["Inspect it first.", *reasons]
    assert "· board-restarted since" in alarm


def test_a_heat_that_was_ended_says_the_monitors_own_readiness() -> None:
    """The very words of its account, whatever they are."""
    monitor = Monitor(Schedule("A first heat", (Segment("drying", SegmentKind.RAMP, to_c=200.0),)))
    for second in range(6):
        monitor.feed(Reading(float(second), temp_c=25.0))
    assert monitor.status().readiness is None
    monitor.feed(Command(6.0, CommandName.END_HEAT))
    ready = monitor.status().readiness
    assert ready is not None
    assert Stands(monitor.status()).said(now_s=6.0) == [ready.sentence, *ready.reasons, "no alarm"]
    assert ready.sentence == "Dry it first."


@pytest.mark.parametrize(
    ("place", "words"), [("chamber", ["probe in the chamber: the pot lags behind"]), ("pot", ["probe on the pot"])]
)
def test_whose_temperature_it_is_stands_below_it_where_it_is_known(place: str, words: list[str]) -> None:
    parameters = MonitorParameters(place=place)
    monitor = Monitor(Schedule("A first heat", (Segment("drying", SegmentKind.RAMP, to_c=200.0),)), parameters)
    for second in range(6):
        monitor.feed(Reading(float(second), temp_c=25.0))
    assert Stands(monitor.status()).said() == [*words, "no alarm"]
    snapshot = Snapshot(ABOUT, 0.5, monitor.status())
    assert msgspec.to_builtins(snapshot)["status"]["place"] == place


@pytest.mark.parametrize(("read_s", "now_s", "is_old"), [(5.0, 14.9, False), (5.0, 15.1, True), (None, 600.0, False)])
def test_an_old_temperature_is_called_old(read_s: float | None, now_s: float, is_old: bool) -> None:
    """From ten seconds on; before the first reading there is none that could be old."""
    _, *more = Stands.after_five_seconds().said(read_s=read_s, now_s=now_s)
    assert more == (["this temperature is old: the last reading came 10 s ago"] if is_old else [])


@pytest.mark.parametrize(("age_s", "is_still"), [(2.9, False), (3.1, True)])
def test_a_watch_that_stands_still_is_the_first_thing_to_look_at(age_s: float, is_still: bool) -> None:
    """Then an old temperature is no wonder, and not said."""
    _, *more = Stands.after_five_seconds().said(age_s=age_s, read_s=5.0, now_s=5.0 + 60.0 * is_still)
    assert more == (["look at the watch: it has not moved for 3 s"] if is_still else [])


def test_what_is_reckoned_of_the_pot_is_said_in_words_and_to_programs() -> None:
    """Kelvin first, then the share of its strength."""
    wall = WallState(31.6, 0.12, None, WallPeak(-40.2, 3.0, 1, 0.2, 30.0))
    status = msgspec.structs.replace(Stands.after_five_seconds().status, wall=wall)
    words = "through the wall 32 K now, at most 40 in this heat · 12 % of what it stands, good to a factor of two"
    assert Stands(status).said() == [words, "no alarm"]
    assert msgspec.to_builtins(Snapshot(ABOUT, 0.5, status))["status"]["wall"]["through_k"] == 31.6


def test_what_waits_for_an_answer_stands_there_with_how_to_answer_it_and_so_does_who_watches() -> None:
    """Before the alarms."""
    monitor = Monitor(Schedule("A first heat", (Segment("drying", SegmentKind.RAMP, to_c=200.0),)))
    for second in range(6):
        monitor.feed(Reading(float(second), temp_c=25.0))
    monitor.feed(Command(5.0, CommandName.MARK, text="watched by Ana"))
    monitor.feed(Command(5.0, CommandName.MARK, text="arrived"))
    said = Stands(monitor.status()).said()
    assert said == [
        "watched by Ana",
        "question 1 since 0:00 drying · 'arrived' was marked in 'drying'. What is meant?",
        "    → answer: leave the schedule as it is",
        "no alarm",
    ]


def test_it_answers_in_the_degrees_that_the_watch_shows_and_leaves_peoples_words_alone() -> None:
    """Whose words they are is known by what they are."""
    monitor = Monitor(Schedule("A first heat", (Segment("drying", SegmentKind.RAMP, to_c=200.0),)))
    for second in range(6):
        monitor.feed(Reading(float(second), temp_c=100.0))
    monitor.feed(Command(5.0, CommandName.MARK, text="watched by Ana at 30 °C"))
    about = msgspec.structs.replace(ABOUT, degrees="F")
    _, stands, who, *_ = describe(Snapshot(about, 0.5, monitor.status()))
    assert "212 °F" in stands
    assert "°C" not in stands
    assert who == "watched by Ana at 30 °C"
