"""The siege's reckoning counts what was lost, late, repeated or false, and nothing that has its explanation."""

from types import SimpleNamespace
from typing import cast

import pytest
from tests.benchmarks.siege.besieged import Said
from tests.benchmarks.siege.reckoning import COLUMNS, Tally, reckon
from tests.benchmarks.siege.siege_course import Course, turns
from tests.benchmarks.siege.stronghold import HeardEvent, Span, Stronghold
from tests.faults.model_board import Sent

HIGH = "ramp-high"
END_S = 200.0
TRUE_S = 120.0


def said(at_s: float, alarm: str = HIGH, state: str = "unacknowledged") -> Said:
    """Give one line of a watch's log."""
    return Said(at_s, {"kind": "alarm", "alarm": alarm, "state": state, "time_s": at_s, "event": alarm})


def heard(line: Said, late_s: float = 0.1, key: str = "") -> HeardEvent:
    """Give the same as a subscriber has it."""
    body = {"key": key or f"k{line.at_s}", "alarm": line.alarm, "state": line.line["state"], "text": "x"}
    return HeardEvent(line.at_s + late_s, body | {"elapsed_s": line.at_s})


def siege(mine: list[Said], its: list[Said], **more: object) -> Stronghold:
    """Give what is left of a siege in which both watches said this, and all of it was heard."""
    sent = [Sent(number, number / 2, 0, 0, number / 2, True) for number in range(400)]
    given = {
        "watch": SimpleNamespace(said=mine),
        "twin": SimpleNamespace(said=its),
        "ear": SimpleNamespace(heard=[heard(line) for line in mine]),
        "line": SimpleNamespace(board=SimpleNamespace(sent=sent)),
        "numbers_recorded": lambda: set(range(400)),
        "began_s": 0.0,
        **{name: [] for name in ("blind", "explained", "unwritten", "broker_troubles", "doubted", "bad_starts")},
        "destroyed": set(),
        "course": SimpleNamespace(justifies=lambda _alarm, at_s: at_s == TRUE_S),
    }
    return cast("Stronghold", SimpleNamespace(**given | more))


def counts(tally: Tally) -> dict[str, int]:
    """Give the columns that are not zero."""
    return {name: len(tally.columns[name]) for name in COLUMNS if tally.columns[name]}


SOUND = [said(50.0), said(90.0, state="returned-unacknowledged")]
BLIND = [Span(45.0, 55.0, "kill -9")]


def test_a_watch_that_says_what_its_twin_says_has_nothing_against_it() -> None:
    """Apart by less than the grid."""
    assert reckon(siege([said(51.5), *SOUND[1:]], SOUND), END_S).is_clean


@pytest.mark.parametrize(
    ("mine", "more", "found"),
    [
        ([], {}, {"alarms lost": 1}),
        ([said(60.0)], {}, {"alarms late": 1, "false alarms": 0}),
        ([said(60.0)], {"blind": BLIND}, {}),
        ([said(75.0)], {"blind": BLIND}, {"alarms late": 1}),
        ([], {"blind": BLIND}, {"alarms lost": 1}),
        ([], {"blind": [Span(45.0, 85.0, "kill -9")]}, {}),
        ([said(50.0), said(150.0)], {}, {"false alarms": 1}),
        ([said(50.0), said(TRUE_S)], {}, {}),
        ([said(50.0), said(150.0, "signal-lost")], {}, {"false alarms": 1}),
        (
            [said(50.0), said(150.0, "signal-lost")],
            {"explained": [Span(140.0, 160.0, "cable", frozenset({"signal-lost"}))]},
            {},
        ),
    ],
)
def test_alarms_are_held_against_the_twin_and_the_fault(
    mine: list[Said], more: dict[str, object], found: dict[str, int]
) -> None:
    """One that came while nobody could see it is due when somebody can again."""
    assert counts(reckon(siege(mine, SOUND, **more), END_S)) == {name: n for name, n in found.items() if n}


def test_what_was_heard_far_away_was_told_though_the_log_broke_off_before_it() -> None:
    """Killed between record and log, the watch tells it from the record; what nobody was told is lost."""
    ear = SimpleNamespace(heard=[heard(line) for line in SOUND])
    assert counts(reckon(siege([], SOUND, ear=ear), END_S)) == {}
    assert counts(reckon(siege([], SOUND), END_S)) == {"alarms lost": 1}


@pytest.mark.parametrize(("alarm", "missed", "lost"), [("sensor-lagging", True, 0), ("sensor-lagging", False, 1)])
def test_what_is_made_of_minutes_need_not_be_made_by_whoever_missed_some(alarm: str, missed: bool, lost: int) -> None:
    """An undisturbed twin may come to an opinion alone."""
    blind = [Span(20.0, 25.0, "kill -9")] if missed else []
    assert len(reckon(siege([], [said(150.0, alarm)], blind=blind), END_S).columns["alarms lost"]) == lost
    assert len(reckon(siege([], [said(150.0, HIGH)], blind=blind), END_S).columns["alarms lost"]) == 1


def test_a_reading_that_is_nowhere_is_lost_unless_nobody_could_have_it() -> None:
    """What a kill took while the disk took nothing is counted apart."""
    there = set(range(400)) - {100, 200, 300}
    tally = reckon(
        siege(
            SOUND,
            SOUND,
            numbers_recorded=lambda: there,
            blind=[Span(49.5, 50.5, "cable")],
            unwritten=[Span(99.0, 101.0, "killed while the disk hangs")],
        ),
        END_S,
    )
    assert counts(tally) == {"readings lost": 1}
    assert len(tally.taken) == 1


def test_one_event_under_two_keys_is_one_too_many_and_one_under_none_is_lost() -> None:
    """As the subscriber heard them."""
    twice = SimpleNamespace(heard=[heard(SOUND[0]), heard(SOUND[0], key="another"), heard(SOUND[1])])
    assert counts(reckon(siege(SOUND, SOUND, ear=twice), END_S)) == {"alarms repeated with another key": 1}
    never = SimpleNamespace(heard=[heard(SOUND[1])])
    assert counts(reckon(siege(SOUND, SOUND, ear=never), END_S)) == {"alarms lost": 1}
    late = SimpleNamespace(heard=[heard(SOUND[0], late_s=9.0), heard(SOUND[1])])
    assert counts(reckon(siege(SOUND, SOUND, ear=late), END_S)) == {"alarms late": 1}


def test_the_course_itself_says_what_is_true_of_it() -> None:
    """Whatever a twin makes of it: a climb of 40 °C within 20 s, a soak left by 15 °C."""
    course = Course(1, 1200.0)
    steep = [(from_s, slope) for from_s, slope in turns(course) if slope >= 5.0]
    level = [from_s for from_s, slope in turns(course) if slope == 0.0 and abs(course.true_c(from_s) - 150.0) < 1.0]
    assert steep
    assert level
    assert all(course.justifies("ramp-high", from_s + 12.0) for from_s, _ in steep)
    assert all(course.justifies("soak-deviation", from_s + 12.0) for from_s, _ in steep)
    assert not any(course.justifies("ramp-high", from_s + 14.0) for from_s in level if from_s > 200.0)
    assert not any(course.justifies("sensor-noisy", from_s + 12.0) for from_s, _ in steep)
