"""`rampwarden schedule` and `rampwarden settings`: what is known, what is in force, what to look at again."""

from pathlib import Path

import pytest

from command_line import SCHEDULE, CommandLine
from rampwarden.settings import Settings, leaves


def test_a_good_schedule_is_shown_as_it_would_be_watched(rampwarden: CommandLine) -> None:
    """Title and basis, then each segment with its limits in words; status 0."""
    Path("heat.toml").write_text(SCHEDULE)
    outcome = rampwarden("schedule", "check", "heat.toml")
    assert (outcome.status, outcome.errors) == (0, "")
    lines = outcome.output.splitlines()
    assert lines[0] == "heat.toml: A short heat with everything in it [for tests]"
    assert lines[1] == "  1  drying · heat to 220 °C · at most 25 °C in 5 min"
    assert lines[3].endswith(" · within 20 min")
    assert " · ceiling 840 °C" in lines[6]
    assert len(lines) == 8


def test_a_bad_schedule_among_good_ones_is_told_and_the_others_are_shown(rampwarden: CommandLine) -> None:
    """Each fault a line on standard error; status 1 for a problem found, 2 once a file cannot even be read."""
    Path("good.toml").write_text(SCHEDULE)
    Path("bad.toml").write_text(SCHEDULE.replace('to = "220 C"', 'to = "220"').replace('hold = "12 min"', "hold = 12"))
    outcome = rampwarden("schedule", "check", "bad.toml", "good.toml", "missing.toml")
    assert outcome.status == 2
    assert outcome.output.startswith("good.toml: ")
    assert outcome.errors.splitlines() == [
        "rampwarden: bad.toml: segment 1 'drying': to = '220' is not a temperature such as '200 C'",
        "rampwarden: bad.toml: segment 6 'working temperature': hold = 12 is not a duration such as '20 min' or "
        "'1 h 30 min'",
        "rampwarden: missing.toml: cannot read the schedule: No such file or directory",
    ]
    assert rampwarden("schedule", "check", "bad.toml", "good.toml").status == 1


def test_a_limit_that_lets_everything_pass_at_once_is_pointed_at(rampwarden: CommandLine) -> None:
    """`100 C / h` allows 100 degrees in a minute; nobody means that."""
    Path("loose.toml").write_text(SCHEDULE.replace("25 C / 5 min", "100 C / h"))
    outcome = rampwarden("schedule", "check", "loose.toml")
    assert outcome.status == 0
    assert (
        "look again: 100 °C may pass at once inside 1 h; '25 C / 15 min' holds the same slope closer" in outcome.output
    )


def test_known_schedules_are_listed_with_title_and_basis(rampwarden: CommandLine) -> None:
    """One that cannot be used is listed too, with how to find out why."""
    folder = Path("config/schedules")
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text(SCHEDULE)
    (folder / "broken.toml").write_text("title =")
    outcome = rampwarden("schedule", "list")
    assert outcome.status == 0
    lines = [" ".join(line.split()) for line in outcome.output.splitlines()]
    assert "mine A short heat with everything in it [for tests]" in lines
    assert f"broken cannot be used; see: rampwarden schedule check {folder}/broken.toml" in lines


def test_settings_show_every_key_with_its_value_and_where_it_came_from(
    rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Default, file or environment."""
    Path("s.toml").write_text("[board]\nport = '/dev/x'\nbaud = 9600\n[alarms.ramp-low]\npriority = 'high'\n")
    monkeypatch.setenv("RAMPWARDEN_BOARD__BAUD", "19200")
    outcome = rampwarden("settings", "--config", "s.toml")
    assert (outcome.status, outcome.errors) == (0, "")
    lines = outcome.output.splitlines()
    assert "board.port = '/dev/x'  # s.toml" in lines
    assert "board.baud = 19200  # environment" in lines
    assert "alarms.ramp-low.priority = 'high'  # s.toml" in lines
    assert "alarms.ramp-low.on_delay = None  # default" in lines
    assert "signal.lost_after = 10.0  # default" in lines
    shown = {line.partition(" = ")[0] for line in lines}
    assert {path for path, _ in leaves(Settings().model_dump(mode="json"))} <= shown


def test_settings_can_be_shown_without_a_file(rampwarden: CommandLine) -> None:
    """Everything at its default then."""
    lines = rampwarden("settings").output.splitlines()
    assert all(line.endswith("  # default") for line in lines)
