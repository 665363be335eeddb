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
    assert lines[3].startswith("     look again: it has no ceiling")
    assert lines[4].endswith(" · within 20 min")
    assert " · ceiling 840 °C" in lines[7]
    assert len(lines) == 9


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


def test_what_the_thermocouple_cannot_read_is_found(rampwarden: CommandLine) -> None:
    """2000 °C is beyond type K, and 840 °C beyond type T; status 1 for a schedule that cannot be watched."""
    Path("hot.toml").write_text(SCHEDULE.replace("840 C", "2000 C"))
    outcome = rampwarden("schedule", "check", "hot.toml")
    assert outcome.status == 1
    assert "     cannot be: ceiling = 2000 °C, but a type K thermocouple ends at 1372 °C" in outcome.output
    assert rampwarden("schedule", "check", "hot.toml", "--type", "T").output.count("cannot be: ") == 5
    Path("good.toml").write_text(SCHEDULE)
    assert rampwarden("schedule", "check", "good.toml", "--type", "n").status == 0
    assert "--type: " in rampwarden.refusal("schedule", "check", "good.toml", "--type", "Q")


def test_limits_that_nobody_set_are_pointed_at(rampwarden: CommandLine) -> None:
    """A soak without a ceiling, a ramp and a cooling without a rate; status 0, for the sheet may not have one."""
    text = SCHEDULE.replace('ceiling = "840 C"\n', "").replace('max_rate = "20 C / min"\n', "")
    Path("open.toml").write_text(text.replace('max_rate = "25 C / 5 min"\n', "", 1))
    outcome = rampwarden("schedule", "check", "open.toml")
    assert outcome.status == 0
    assert [line.strip() for line in outcome.output.splitlines() if "look again" in line] == [
        'look again: nothing limits how fast it climbs; set max_rate, as in max_rate = "25 C / 15 min"',
        'look again: it has no ceiling, so no alarm of high priority if it runs away; set one, as in ceiling = "255 C"',
        'look again: it has no ceiling, so no alarm of high priority if it runs away; set one, as in ceiling = "840 C"',
        'look again: nothing limits how fast it cools; set max_rate, as in max_rate = "100 C / 10 min"',
    ]


def test_a_schedule_is_shown_and_copied_by_name_and_never_over_another_file(rampwarden: CommandLine) -> None:
    """Comments and all, as it lies in the program."""
    shown = rampwarden("schedule", "show", "zirconia")
    assert (shown.status, shown.errors) == (0, "")
    copied = rampwarden("schedule", "copy", "zirconia", "my-heat.toml")
    assert copied.output == (
        "my-heat.toml: a copy of zirconia; change it with any editor, then:\n  rampwarden schedule check my-heat.toml\n"
    )
    assert Path("my-heat.toml").read_text() == shown.output
    assert shown.output.startswith("# ")
    Path("my-heat.toml").write_text("mine")
    refused = "my-heat.toml: is there already; give another name"
    assert rampwarden.refusal("schedule", "copy", "zirconia", "my-heat.toml") == refused
    assert Path("my-heat.toml").read_text() == "mine"
    assert rampwarden.refusal("schedule", "copy", "zirconia", "no/such.toml").startswith("no/such.toml: cannot write: ")
    assert "no schedule 'zircon'" in rampwarden.refusal("schedule", "show", "zircon")


def test_a_new_schedule_takes_the_limits_of_a_registered_crucible(rampwarden: CommandLine) -> None:
    """They are typed once; the plan, which holds the schedule against the same sheet, has nothing against it."""
    sheet = ["--sheet", "sheet 7", "--sheet-top", "1180 C", "--limit", "20-200 C: at most 30 C / h"]
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite", *sheet)
    made = rampwarden("schedule", "new", "mine.toml", "--crucible", "a3", "--top", "1150 °C", "--oven")
    assert (made.status, made.errors) == (0, "")
    assert made.output.splitlines()[1].startswith("  1  drying 1 · heat to 110 °C · at most 7.5 °C in 15 min")
    assert made.output.splitlines()[-2:] == [
        "written: mine.toml; look over every line, then:",
        "  rampwarden rehearse mine.toml --speed 600",
    ]
    text = Path("mine.toml").read_text()
    assert "# sheet 7: 30 °C in 1 h" in text
    assert "# clay-graphite-first-heat: common practice, no source" in text
    assert 'ceiling = "1180 C"                # above this an alarm of high priority; the sheet ends here' in text
    again = rampwarden("schedule", "check", "mine.toml")
    assert again.output.splitlines() == made.output.splitlines()[:-2]
    planned = rampwarden("plan", "mine.toml", "--crucible", "A3")
    assert "every segment keeps within it" in planned.output
    assert "is there already" in rampwarden.refusal("schedule", "new", "mine.toml", "--crucible", "A3")


def test_a_new_schedule_of_a_pot_in_use_dries_nothing(rampwarden: CommandLine) -> None:
    """The register knows which heat it is; a flag outranks it."""
    rampwarden("crucible", "add", "B1", "--class", "clay-graphite", "--first-used", "2026-01-31")
    rampwarden("schedule", "new", "later.toml", "--crucible", "B1", "--top", "1150 C")
    assert 'heat = "later"' in Path("later.toml").read_text()
    assert "dry soak" not in Path("later.toml").read_text()
    rampwarden("schedule", "new", "first.toml", "--crucible", "B1", "--top", "1150 C", "--heat", "first")
    assert "dry soak" in Path("first.toml").read_text()


def test_without_a_terminal_what_is_missing_is_refused_with_its_flag(rampwarden: CommandLine) -> None:
    """Nothing is written, and nothing waits for an answer."""
    assert rampwarden.refusal("schedule", "new", "x.toml").startswith("--class is missing, and there is no terminal")
    refused = rampwarden.refusal("schedule", "new", "x.toml", "--class", "fireclay")
    assert refused.startswith("--top is missing, ")
    refused = rampwarden.refusal("schedule", "new", "x.toml", "--class", "fireclay", "--top", "1,150 C")
    assert refused == "--top '1,150 C': 1,150 may mean 1.15 or 1150; write one of these two"
    assert not Path("x.toml").exists()


def test_at_a_terminal_it_asks_again_what_it_cannot_read(
    rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One question at a time, with why, until Enter alone ends the ramps."""
    answers = iter(
        [
            "clay",
            "clay-graphite",
            "first",
            "1150",
            "1150 C",
            "30 min",
            "20-200: slow",
            "20-200 C: 30 C/h",
            "",
            True,
            True,
        ]
    )
    monkeypatch.setattr("typer.prompt", lambda *_, **__: next(answers))
    monkeypatch.setattr("typer.confirm", lambda *_, **__: next(answers))
    monkeypatch.setattr("rampwarden.cli.questions.can_ask", lambda: True)
    outcome = rampwarden("schedule", "new", "asked.toml")
    assert outcome.status == 0
    assert [line.split(":")[0].strip() for line in outcome.errors.splitlines()] == [
        "Class of the crucible, one of",
        "'clay' is none of",
        "'1150' is not a temperature such as '200 C'",
        "The ramps of the maker's sheet, one a line. Enter alone",
        "20-200 C",
        "cooling 900-200 C",
        "'20-200",
    ]
    text = Path("asked.toml").read_text()
    assert 'max_rate = "7.5 C / 15 min"' in text
    assert 'kind = "transfer"' in text
    assert "\nchecklist = [" in text
    assert "  □  CO detector on, and tested" in outcome.output.splitlines()
    asks = "     asks after 40 min: Is there mist at the door or lid? · mist seen / mist gone"
    assert asks in outcome.output.splitlines()


def test_known_schedules_are_listed_with_title_and_once_with_their_basis(rampwarden: CommandLine) -> None:
    """One that cannot be used is listed too, with how to find out why."""
    folder = Path("config/schedules")
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text(SCHEDULE)
    (folder / "broken.toml").write_text("title =")
    outcome = rampwarden("schedule", "list")
    assert outcome.status == 0
    lines = [" ".join(line.split()) for line in outcome.output.splitlines()]
    assert lines[lines.index("mine A short heat with everything in it") + 1] == "[for tests]"
    assert sum(line == "[common practice, no source; the maker's sheet overrides]" for line in lines) == 1
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
