"""`rampwarden replay` of another instrument's log: what was taken for what, questions with their commands, refusals."""

from pathlib import Path

import pytest

from command_line import SCHEDULE, CommandLine

LOG = "Datum;Zeit;Ofen °C\n" + "".join(f"13.04.2026;09:{n:02d}:00;{20 + n},5\n" for n in range(40))


@pytest.fixture(autouse=True)
def files(rampwarden: CommandLine) -> None:
    Path("heat.toml").write_text(SCHEDULE)
    Path("log.csv").write_bytes(LOG.encode("latin-1"))


def test_without_options_it_says_what_it_took_each_column_for_and_which_command_goes_on(
    rampwarden: CommandLine,
) -> None:
    """Under which schedule the heat was meant to be, no log tells."""
    outcome = rampwarden("replay", "log.csv")
    assert (outcome.status, outcome.errors) == (0, "")
    assert outcome.output.splitlines() == [
        "log.csv: Windows-1252 or Latin-1, columns parted by semicolons, decimal comma",
        "  1  'Datum': the date, day first",
        "  2  'Zeit': the time of day",
        "  3  'Ofen °C': the temperature, °C",
        "  40 of 40 rows read, over 39 min · 20 to 60 °C · began 2026-04-13 09:00 by its own clock",
        "which schedule was it to keep? rampwarden replay log.csv --schedule bronze-first-heat",
        "  (any name from: rampwarden schedule list, or a file of your own)",
    ]


def test_with_a_schedule_it_is_replayed_like_any_heat(rampwarden: CommandLine) -> None:
    """What was read, then every event; one degree a minute breaks nothing, and ten do."""
    outcome = rampwarden("replay", "log.csv", "--schedule", "heat.toml")
    assert outcome.status == 0
    assert "40 readings over 39 min" in outcome.output
    steep = LOG.splitlines()[0] + "\n" + "".join(f"13.04.2026;09:{n:02d}:00;{20 + 10 * n},5\n" for n in range(20))
    Path("steep.csv").write_text(steep)
    outcome = rampwarden("replay", "steep.csv", "--schedule", "heat.toml", "--json")
    assert outcome.status == 1
    assert all(line.startswith("{") for line in outcome.output.splitlines())


def test_what_cannot_be_read_is_counted_on_standard_error(rampwarden: CommandLine) -> None:
    """With the lines it stands in, and gaps."""
    Path("log.csv").write_text(LOG.replace("09:07:00;27,5", "09:07:00;OPEN").replace("09:30:00", "11:30:00"))
    outcome = rampwarden("replay", "log.csv")
    assert outcome.errors.splitlines()[0].startswith(
        "rampwarden: log.csv: 10 of 40 rows cannot be used: line 9: Ofen °C = 'OPEN' is no number; line 33: time runs"
    )
    assert "gap of 2 h 1 min after 0:29:00" in outcome.errors


def test_a_question_ends_with_the_commands_that_answer_it(rampwarden: CommandLine) -> None:
    """Each can be typed as it stands, with the options that were given already."""
    Path("two probes.csv").write_text("when,probe a,probe b\n" + "03/04/2026 09:15,20,21\n03/04/2026 09:16,21,22\n")
    asked = rampwarden("replay", "two probes.csv", "--schedule", "heat.toml")
    assert (asked.status, asked.output) == (2, "")
    begin = "rampwarden:   rampwarden replay 'two probes.csv' --schedule heat.toml"
    assert asked.errors.splitlines() == [
        "rampwarden: two probes.csv: several columns may be the temperature; say which:",
        f"{begin} --probe 'probe a'    (20 to 21)",
        f"{begin} --probe 'probe b'    (21 to 22)",
    ]
    asked = rampwarden("replay", "two probes.csv", "--schedule", "heat.toml", "--probe", "probe b")
    assert asked.errors.splitlines() == [
        "rampwarden: two probes.csv: 03/04/2026 may mean 3 April 2026 or 4 March 2026, and nothing in the file decides "
        "it; say which:",
        f"{begin} --probe 'probe b' --dates day-first    (3 April 2026)",
        f"{begin} --probe 'probe b' --dates month-first    (4 March 2026)",
    ]
    settled = ("--probe", "probe b", "--dates", "day-first", "--unit", "C")
    assert rampwarden("replay", "two probes.csv", "--schedule", "heat.toml", *settled).status == 0


def test_nothing_readable_is_an_error_with_columns_named_and_without(rampwarden: CommandLine) -> None:
    """Never no readings and no alarms."""
    Path("letter.txt").write_text("Dear Ada,\nthe furnace is fine.\n")
    assert rampwarden.refusal("replay", "letter.txt", "--schedule", "heat.toml").startswith(
        "letter.txt: no line of it looks like a reading"
    )
    named = ("--csv", "time=ts,temp_c=value", "--schedule", "heat.toml")
    Path("bad.csv").write_text("ts,value\n0,warm\n1,hot\n")
    outcome = rampwarden("replay", "bad.csv", *named)
    assert outcome.status == 2
    assert outcome.errors == (
        "rampwarden: bad.csv: none of its 2 rows can be used: line 2: value = 'warm' is not a number; "
        "without --csv it is looked at anew\n"
    )
    refused = rampwarden("replay", "log.csv", "--dates", "day-first", *named)
    assert "go with another instrument's log" in refused.errors


def test_our_own_export_needs_no_columns_named(rampwarden: CommandLine) -> None:
    """Its time, and of its temperatures the probe's."""
    Path("out.csv").write_text("time_s,emf_uv,junction_c,temp_c,faults\n0.0,4.0,21.0,21.1,\n1.0,5.0,21.0,21.2,\n")
    output = rampwarden("replay", "out.csv").output
    assert "  1  'time_s': the time, s\n" in output
    assert "  4  'temp_c': the temperature, °C\n" in output
    assert output.count("not used") == 2
