"""A watch with a crucible: warned of at the start, entered at the end, and never stopped by its register."""

import json
import signal
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.running_watch import running_watch, wait_for

from command_line import CommandLine, Outcome, run_process

pytestmark = pytest.mark.long


SCHEDULE = """\
title = "Up and down"
crucible_class = "clay-graphite"
heat = "later"

[[segment]]
name = "up"
kind = "ramp"
to = "400 C"
max_rate = "100 C / 5 min"

[[segment]]
name = "down"
kind = "cool"
to = "300 C"
"""
REHEARSE = ("rehearse", "heat.toml", "--speed", "5000", "--interval", "5", "--config", "json.toml")


def said(outcome: Outcome, level: str) -> list[str]:
    """Give what a watch logged at one level, without the alarm that says a warning of the start once more."""
    entries = [json.loads(line) for line in outcome.output.splitlines()]
    said_so = [entry["event"] for entry in entries if entry["level"] == level]
    return [event for event in said_so if "start-warning" not in event]


@pytest.fixture
def a3(rampwarden: CommandLine, tmp_path: Path) -> CommandLine:
    """Give a folder with a schedule, and A3 in its register."""
    (tmp_path / "heat.toml").write_text(SCHEDULE, encoding="utf-8")
    (tmp_path / "json.toml").write_text('[log]\nformat = "json"\n', encoding="utf-8")
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite", "--metal", "bronze")
    return rampwarden


def test_a_heat_is_warned_of_at_its_start_and_entered_at_its_end(a3: CommandLine, tmp_path: Path) -> None:
    """In plain words, refusing nothing; and afterwards the register knows it, as the rehearsal it was."""
    outcome = run_process(tmp_path, *REHEARSE, "--crucible", "a3", "--metal", "brass")
    assert outcome.status == 0, outcome
    readiness, metal, first, dry = said(outcome, "warning")
    assert readiness == (
        "readiness: Dry it first. It was new, and no drying has been shown since; "
        "what would help: a schedule that dries it"
    )
    assert metal.startswith("crucible: A3 is kept for bronze, not brass")
    assert first.startswith("crucible: this is the first heat of A3, and the schedule is for later ones")
    assert dry.startswith("drying: the crucible is new, and the schedule does not dry A3")
    assert said(outcome, "info")[-1] == "entered for A3 · see: rampwarden crucible show A3"
    [heat] = json.loads(a3("crucible", "show", "A3", "--json").output)["heats"]
    assert (heat["metal"], heat["rehearsal"], heat["complete"], heat["title"]) == ("brass", True, True, "Up and down")
    # Entered by the watch, so entering it again is a duplicate.
    [record] = (tmp_path / "heats").glob("*.jsonl")
    assert a3("crucible", "enter", record).output == f"{record}: has been entered already for A3\n"


def test_an_unknown_mark_is_only_a_warning_for_a_watch(a3: CommandLine, tmp_path: Path) -> None:
    """It is watched, told how to enter it, and entered once the crucible is there."""
    outcome = run_process(tmp_path, *REHEARSE, "--crucible", "B1")
    assert outcome.status == 0
    start, end = said(outcome, "warning")
    assert start.startswith("no crucible is marked 'B1'; there are: A3;")
    assert end.startswith("not entered: no crucible is marked 'B1'")
    [record] = (tmp_path / "heats").glob("*.jsonl")
    assert end.endswith(f"rampwarden crucible enter {record.relative_to(tmp_path)}")
    a3("crucible", "add", "B1", "--class", "clay-graphite")
    assert a3("crucible", "enter", record).output == f"{record}: entered for B1\n"


def test_a_register_that_is_missing_or_damaged_stops_no_watch(rampwarden: CommandLine, tmp_path: Path) -> None:
    """Two sentences, and the record is whole."""
    (tmp_path / "heat.toml").write_text(SCHEDULE, encoding="utf-8")
    (tmp_path / "json.toml").write_text('[log]\nformat = "json"\n', encoding="utf-8")
    for trouble in ("there is no register yet", "is no register; move it aside"):
        outcome = run_process(tmp_path, *REHEARSE, "--crucible", "A3")
        assert outcome.status == 0
        assert [trouble in line for line in said(outcome, "warning")] == [True, True]
        (tmp_path / "crucibles.sqlite").write_bytes(b"damaged, and long enough to be looked at\n" * 100)


@pytest.fixture
def locked(a3: CommandLine, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """Hold the register's lock as long as the test lasts."""
    other = sqlite3.connect(tmp_path / "crucibles.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    yield other
    other.close()


def test_a_locked_register_stops_no_watch_and_the_heat_is_entered_later(
    locked: sqlite3.Connection, a3: CommandLine, tmp_path: Path
) -> None:
    """Reading needs no lock, so the warnings come; entering waits its patience and gives up with the remedy."""
    outcome = run_process(tmp_path, *REHEARSE, "--crucible", "A3")
    assert outcome.status == 0
    end = said(outcome, "warning")[-1]
    assert "the register is locked by another process" in end
    assert "when that is mended: rampwarden crucible enter heats/" in end
    locked.execute("ROLLBACK")
    [record] = (tmp_path / "heats").glob("*.jsonl")
    assert a3("crucible", "enter", record).output == f"{record}: entered for A3\n"


def test_a_watch_without_a_crucible_says_nothing_of_one(a3: CommandLine, tmp_path: Path) -> None:
    """Neither at the start nor at the end."""
    outcome = run_process(tmp_path, *REHEARSE)
    assert said(outcome, "warning") == []
    assert "crucible" not in said(outcome, "info")[-1]


def test_a_false_start_is_no_heat_of_the_crucible(tmp_path: Path) -> None:
    """A real watch, stopped while the furnace is cold: told, and not counted."""
    register = tmp_path / "books.sqlite"
    options = ("--crucible", "A3")
    (tmp_path / "furnace-1.toml").write_text(f'[watch]\ncrucible_register = "{register}"\n', encoding="utf-8")
    added = run_process(tmp_path, "crucible", "add", "A3", "--class", "clay-graphite", "--register", register)
    assert added.status == 0
    with running_watch(options=options, folder=tmp_path) as watch:
        wait_for(lambda: watch.recorded("reading"), "no reading came")
        watch.send_signal(signal.SIGTERM)
        assert watch.process.wait(10.0) == 0
        assert watch.says("not entered for A3: it was no heat: nothing was ever warm")
    shown = json.loads(run_process(tmp_path, "crucible", "show", "A3", "--register", register, "--json").output)
    assert shown["heats"] == []
