"""What a report knows of a record: which readings the board converted itself, and which it could not make."""

import time
from dataclasses import replace
from pathlib import Path

import pytest

from invented_heat import FAST, GOOD, Line, write_record
from rampwarden.core.model import EventName
from rampwarden.core.schedule import Schedule
from rampwarden.records import header_of, schedule_of
from rampwarden.report.content import alarms_section, checklist_section, remarks_section, subtitle
from rampwarden.report.course import read_course
from rampwarden.report.units import Scale
from rampwarden.report.when import began_words, day_words


def test_only_readings_that_came_as_a_temperature_count_as_converted_by_the_board(tmp_path: Path) -> None:
    """One with a fault brings neither EMF nor temperature: nobody converted it."""
    converted: list[Line] = [
        {"kind": "reading", "time_s": at_s, "temp_c": 20.0 + 0.195 * at_s} for at_s in (502.0, 507.0)
    ]
    faulty: Line = {"kind": "reading", "time_s": 512.0, "junction_c": 25.0, "faults": ["open"]}
    course = read_course(write_record(tmp_path / "a.jsonl", GOOD, [*converted, faulty]))
    assert course.converted_by_board == 2
    assert dict(course.faults) == {"open": 1}


def test_an_alarm_that_was_said_to_be_wrong_is_listed_as_such_unless_that_was_taken_back(tmp_path: Path) -> None:
    """It lasts as long as its condition was found, however often it rang."""
    wrong: Line = {"kind": "command", "time_s": 1000.0, "command": "wrong", "alarm": "ramp-high"}
    undone: Line = {"kind": "command", "time_s": 1001.0, "command": "undo-wrong"}
    plain = read_course(write_record(tmp_path / "a.jsonl", FAST))
    answered = read_course(write_record(tmp_path / "b.jsonl", FAST, [wrong]))
    upheld = read_course(write_record(tmp_path / "c.jsonl", FAST, [wrong, undone]))
    spans = [
        [(each.from_s, each.to_s) for each in course.episodes if each.alarm == "ramp-high"]
        for course in (plain, answered, upheld)
    ]
    assert spans[0] == spans[1] == spans[2] != []
    words = [
        ["said to be wrong" in row for row in section.table.rows if "ramp-high" in row]
        for course in (plain, answered, upheld)
        if (section := alarms_section(course, Scale())).table is not None
    ]
    assert words == [[False], [True], [False]]
    assert upheld.figures.alarms == plain.figures.alarms


def test_a_report_tells_when_by_the_clocks_of_whoever_reads_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A heat in the evening is not of the day before, nor of another hour; the zone stands beside it."""
    monkeypatch.setenv("TZ", "Europe/Vienna")
    time.tzset()
    try:
        assert began_words("2026-07-01T22:30:00Z") == "2026-07-02 00:30 CEST"
        assert day_words("2026-07-01T22:30:00Z") == "2026-07-02"
        assert began_words("no\x1b time") == "no\ufffd time"
    finally:
        monkeypatch.undo()
        time.tzset()


def test_questions_and_answers_stand_among_the_marks_and_who_watched_in_the_subtitle(tmp_path: Path) -> None:
    """A hand-over is a mark like any other, and told where one looks first."""
    ana: Line = {"kind": "command", "time_s": 500.0, "command": "mark", "text": "watched by Ana"}
    transfer: Line = {"kind": "command", "time_s": 900.0, "command": "mark", "text": "arrived"}
    leave: Line = {"kind": "command", "time_s": 901.0, "command": "answer", "text": "leave the schedule as it is"}
    ben: Line = {"kind": "command", "time_s": 3900.0, "command": "mark", "text": "watched by Ben"}
    course = read_course(write_record(tmp_path / "a.jsonl", GOOD, [ana, transfer, leave, ben]))
    assert "watched by Ana from 0:08, Ben from 1:05" in subtitle(course)
    section = remarks_section(course, Scale())
    assert section is not None
    assert section.table is not None
    assert [(row[2], row[4].partition(" · ")[2]) for row in section.table.rows if row[2] in ("asked", "answered")] == [
        ("asked", "go on with 'hold' / leave the schedule as it is"),
        ("answered", "leave the schedule as it is"),
    ]


def test_the_checklist_has_a_section_of_its_own_with_what_was_not_ticked(tmp_path: Path) -> None:
    """And does not stand among the notes besides."""
    done: Line = {"kind": "command", "time_s": 500.0, "command": "answer", "text": "done", "question": 2}
    course = read_course(write_record(tmp_path / "a.jsonl", GOOD, [done]), with_checklist(tmp_path))
    section = checklist_section(course)
    assert section is not None
    assert section.table is not None
    assert section.table.rows == (("Leaks", "–", "not ticked"), ("Tongs dry", "0:08", "done"))
    assert [each.text for each in course.remarks if each.kind is EventName.ASKED] == []
    assert checklist_section(read_course(tmp_path / "a.jsonl")) is None


def with_checklist(folder: Path) -> Schedule:
    """Give the invented heat's own schedule with two lines to tick off."""
    return replace(schedule_of(header_of(folder / "a.jsonl"), "it"), checklist=("Leaks", "Tongs dry"))
