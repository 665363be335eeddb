"""`rampwarden replay --speed`: a record as it happened, on the display or as lines, and what does not go with it."""

from contextlib import closing
from pathlib import Path

import pytest

from command_line import CommandLine, run_process
from display_terminal import PtyTerminal
from invented_heat import FAST, GOOD, note, write_record


def test_into_a_pipe_it_tells_the_same_as_a_replay_without_pace(tmp_path: Path) -> None:
    """Line by line as they come due, with the same exit status."""
    record = write_record(tmp_path / "heat.jsonl", FAST)
    paced = run_process(tmp_path, "replay", "--speed", "10000", record)
    at_once = run_process(tmp_path, "replay", record)
    assert paced.status == at_once.status == 1
    sentences = at_once.output.splitlines()[1:-1]
    assert [line for line in paced.output.splitlines() if line in sentences] == sentences
    assert paced.errors == ""


def test_on_a_terminal_it_says_replay_and_of_what_day_and_obeys_its_keys(tmp_path: Path) -> None:
    """Pace, pause, a tenth forward, the end, and out; nothing is written, and nothing can be acknowledged."""
    record = write_record(tmp_path / "heat.jsonl", FAST, [note(100.0, "gas \x1b[31mup")])
    before = sorted(tmp_path.iterdir())
    with closing(PtyTerminal(tmp_path, ["replay", "--speed", "60", str(record)])) as terminal:
        terminal.await_text("REPLAY of 2026-01-01")
        terminal.await_text("nothing is written")
        assert "a acknowledge" not in terminal.text()
        terminal.press(b"+")
        terminal.await_text("×120")
        terminal.press(b" ")
        terminal.await_text("PAUSED")
        terminal.press(b"f" * 11)
        terminal.await_text("the end of the record")
        assert b"\x1b[31mup" not in terminal.look()
        assert b"\a" not in terminal.look()
        terminal.press(b"q")
        assert terminal.end() == 0
        assert terminal.settings() == terminal.before
    assert sorted(tmp_path.iterdir()) == before


def test_a_bell_is_rung_when_it_is_asked_for(tmp_path: Path) -> None:
    """As the watch did on the day."""
    record = write_record(tmp_path / "heat.jsonl", FAST)
    with closing(PtyTerminal(tmp_path, ["replay", "--speed", "1000", "--bell", str(record)])) as terminal:
        terminal.await_text("HIGH ramp-high")
        terminal.await_text("\a")


def test_logs_of_other_instruments_are_played_too(tmp_path: Path) -> None:
    """By the same options as without a pace."""
    (tmp_path / "up.toml").write_text('[[segment]]\nname = "up"\nkind = "ramp"\nto = "100 C"\n')
    (tmp_path / "log.csv").write_text("ts,value\n" + "".join(f"{second},{20 + second}\n" for second in range(90)))
    options = ["--csv", "time=ts,temp_c=value", "--schedule", "up.toml"]
    outcome = run_process(tmp_path, "replay", "--speed", "1000", "log.csv", *options)
    assert (outcome.status, outcome.errors) == (0, "")
    assert "the schedule is done" in outcome.output


@pytest.mark.parametrize("more", [["--json"], ["--uncertainty"]])
def test_what_is_for_programs_does_not_go_with_a_pace(rampwarden: CommandLine, tmp_path: Path, more: list[str]) -> None:
    """One line that says so."""
    record = write_record(tmp_path / "heat.jsonl", GOOD)
    assert "--speed shows a heat as it happened" in rampwarden("replay", "--speed", "60", *more, record).errors


def test_one_record_is_played_at_a_time(rampwarden: CommandLine, tmp_path: Path) -> None:
    """Two heats on one screen would be neither."""
    record = write_record(tmp_path / "heat.jsonl", GOOD)
    outcome = rampwarden("replay", "--speed", "60", record, record)
    assert outcome.status == 2
    assert "one record at a time" in outcome.errors


def test_what_is_no_record_is_refused_in_one_line(rampwarden: CommandLine, tmp_path: Path) -> None:
    """Before any screen is taken over."""
    (tmp_path / "no.jsonl").write_text("{}\n")
    assert "no heat record" in rampwarden.refusal("replay", "--speed", "60", tmp_path / "no.jsonl")
