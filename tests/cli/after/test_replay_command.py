"""`rampwarden replay` and `rampwarden export`: what they print, where, and how they end."""

import gzip
import json
from pathlib import Path

import pytest

from command_line import SCHEDULE, CommandLine

HEADER = '{"kind":"header","format":"rampwarden-heat/1","started":"2026-01-01T09:00:00Z"}\n'
RAMP = '[[segment]]\nname = "up"\nkind = "ramp"\nto = "1000 C"\n'


def record(readings: int = 60, end: bool = True) -> str:
    """Give a record of a quiet start."""
    lines = [f'{{"kind":"reading","time_s":{time_s},"temp_c":20.5}}\n' for time_s in range(readings)]
    return HEADER + "".join(lines) + ('{"kind":"end","time_s":60}\n' if end else "")


@pytest.fixture
def heat(rampwarden: CommandLine) -> Path:
    """Give a record of a quiet start, and a schedule beside it."""
    Path("up.toml").write_text(RAMP)
    Path("heat.jsonl").write_text(record())
    return Path("heat.jsonl")


def test_a_quiet_heat_ends_with_status_0_and_a_summary(heat: Path, rampwarden: CommandLine) -> None:
    """Events with their times, then what went by."""
    outcome = rampwarden("replay", heat, "--schedule", "up.toml")
    assert (outcome.status, outcome.errors) == (0, "")
    lines = outcome.output.splitlines()
    assert lines[0] == "heat.jsonl: up.toml"
    assert lines[1] == " 0:00:00  watching: up.toml"
    conclusion = "60 readings over 1 min · highest 20 °C ± 3.1 (k = 2; where the probe hangs adds 5 to 20 °C more)"
    assert lines[-1] == f"{conclusion} · 60 temperatures converted by the board, not by us · no alarms"


def test_a_heat_with_alarms_ends_with_status_1(heat: Path, rampwarden: CommandLine) -> None:
    """So that a script can tell; the silence at its end is the alarm here."""
    heat.write_text(record(end=False) + '{"kind":"end","time_s":100}\n')
    outcome = rampwarden("replay", heat, "--schedule", "up.toml")
    assert outcome.status == 1
    assert outcome.output.splitlines()[-1].endswith(" · 1 alarm")


def test_with_json_standard_output_is_events_and_nothing_else(heat: Path, rampwarden: CommandLine) -> None:
    """One object a line, whatever else there is to say goes to standard error."""
    heat.write_text(record(end=False) + "nonsense\n" + '{"kind":"end","time_s":100}\n{"kind":"end","ti')
    outcome = rampwarden("replay", "--json", heat, "--schedule", "up.toml")
    events = [json.loads(line) for line in outcome.output.splitlines()]
    assert [event["kind"] for event in events] == ["event"] * len(events)
    assert [event["event"] for event in events] == ["heat-started", "segment-started", "alarm"]
    alarm = events[-1]
    assert (alarm["time_s"], alarm["alarm"], alarm["state"], alarm["priority"]) == (
        69.0, "signal-lost", "unacknowledged", "high",
    )  # fmt: skip
    assert {"value", "limit", "unit", "segment", "text"} <= set(alarm)
    assert outcome.errors.splitlines() == [
        "rampwarden: heat.jsonl: the last line is torn and was dropped; the watch did not close this record",
        "rampwarden: heat.jsonl: lines that are no record lines were skipped: 1",
    ]


def test_a_record_that_was_not_closed_says_so(heat: Path, rampwarden: CommandLine) -> None:
    """The watch may have been killed."""
    heat.write_text(record(end=False))
    assert rampwarden("replay", heat, "--schedule", "up.toml").output.endswith(" · record not closed\n")


def test_several_records_are_replayed_one_after_the_other(heat: Path, rampwarden: CommandLine) -> None:
    """Plain or gzipped; the status is 1 if any of them had alarms."""
    loud = record(end=False) + '{"kind":"end","time_s":100}\n'
    Path("loud.jsonl.gz").write_bytes(gzip.compress(loud.encode()))
    outcome = rampwarden("replay", "loud.jsonl.gz", heat, "--schedule", "up.toml")
    assert outcome.status == 1
    assert [line.partition(":")[0] for line in outcome.output.splitlines() if line.endswith(": up.toml")][::2] == [
        "loud.jsonl.gz", "heat.jsonl",
    ]  # fmt: skip


def test_another_schedule_asks_what_if(heat: Path, rampwarden: CommandLine) -> None:
    """The record's own is set aside for the one that was given."""
    own = {"title": "own", "segment": [{"name": "up", "kind": "ramp", "to": "500 C"}]}
    heat.write_text(record().replace("}", f',"schedule":{json.dumps(own)}}}', 1))
    assert rampwarden("replay", heat).output.startswith("heat.jsonl: own\n")
    assert rampwarden("replay", heat, "--schedule", "up.toml").output.startswith("heat.jsonl: up.toml\n")


def test_a_csv_is_replayed_with_its_bad_rows_and_gaps_told(heat: Path, rampwarden: CommandLine) -> None:
    """On standard error, with lines and times; its alarms count as a record's do."""
    rows = [f"{time_s},{68 + time_s / 100}" for time_s in range(60)]
    rows[30:30] = ["30,open", "x,70"]
    rows += [f"{time_s},70" for time_s in range(200, 260)]
    Path("log.csv").write_text("ts,value\n" + "\n".join(rows) + "\n")
    outcome = rampwarden("replay", "log.csv", "--schedule", "up.toml", "--csv", "time=ts,temp_f=value")
    assert outcome.status == 1
    assert "highest 21 °C" in outcome.output
    assert outcome.errors.splitlines() == [
        "rampwarden: log.csv: 2 of 122 rows cannot be used: line 32: value = 'open' is not a number; "
        "line 33: ts = 'x' is neither seconds nor an ISO 8601 time",
        "rampwarden: log.csv: gap of 2 min 21 s after 0:00:59",
    ]


@pytest.mark.usefixtures("heat")  # writes up.toml
def test_an_emf_log_wants_its_reference_junction_and_takes_one_for_all_rows(rampwarden: CommandLine) -> None:
    """4096 µV are 100 °C above a junction in ice, and 121 above one at 22 °C (type K)."""
    Path("log.csv").write_text("ts,value\n" + "\n".join(f"{time_s},4096.23" for time_s in range(30)) + "\n")
    arguments = ("replay", "log.csv", "--schedule", "up.toml", "--csv", "time=ts,emf_uv=value")
    assert "an EMF alone is no temperature" in rampwarden.refusal(*arguments)
    assert "highest 121 °C" in rampwarden(*arguments, "--junction", "22").output
    assert "highest 100 °C" in rampwarden(*arguments, "--junction", "0").output


def test_a_record_brings_its_own_junction(heat: Path, rampwarden: CommandLine) -> None:
    """Another one for it is refused, not ignored."""
    assert "--junction goes with --csv" in rampwarden("replay", heat, "--junction", "22").errors


def test_a_schedule_may_be_given_by_name(heat: Path, rampwarden: CommandLine) -> None:
    """As everywhere."""
    Path("config/schedules").mkdir(parents=True)
    Path("config/schedules/mine.toml").write_text(SCHEDULE)
    outcome = rampwarden("replay", heat, "--schedule", "mine")
    assert outcome.output.startswith("heat.jsonl: A short heat with everything in it\n")


def test_an_export_is_csv_on_standard_output_or_in_a_file(heat: Path, rampwarden: CommandLine) -> None:
    """The same either way."""
    printed = rampwarden("export", heat)
    assert printed.status == 0
    assert printed.output.splitlines()[:2] == ["time_s,emf_uv,junction_c,temp_c,faults", "0.0,,,20.5,"]
    assert len(printed.output.splitlines()) == 61
    assert rampwarden("export", heat, "--output", "out.csv").output == ""
    assert Path("out.csv").read_text() == printed.output


def test_what_was_exported_replays_to_the_same_temperatures(heat: Path, rampwarden: CommandLine) -> None:
    """Round trip through any analysis."""
    rampwarden("export", heat, "--output", "out.csv")
    as_csv = rampwarden("replay", "--json", "out.csv", "--csv", "time=time_s,temp_c=temp_c", "--schedule", "up.toml")
    as_record = rampwarden("replay", "--json", heat, "--schedule", "up.toml")
    assert as_csv.output == as_record.output


def test_uncertainty_is_shown_part_by_part_where_each_segment_ended(rampwarden: CommandLine) -> None:
    """Temperature and ramp, then in words what the figures hold and what they do not."""
    Path("two.toml").write_text(
        '[[segment]]\nname = "up"\nkind = "ramp"\nto = "100 C"\n[[segment]]\nname = "on"\nkind = "ramp"\nto = "130 C"\n'
    )
    lines = [f'{{"kind":"reading","time_s":{time_s},"temp_c":{20 + time_s / 10}}}\n' for time_s in range(1101)]
    Path("heat.jsonl").write_text(HEADER + "".join(lines) + '{"kind":"end","time_s":1101}\n')
    outcome = rampwarden("replay", "heat.jsonl", "--schedule", "two.toml", "--uncertainty")
    assert outcome.errors == ""
    shown = outcome.output.splitlines()
    table = shown[next(n for n, line in enumerate(shown) if "junction" in line) :]
    assert table[0].split() == ["at", "±", "class", "junction", "board", "drift", "noise"]
    assert table[1].split()[:8] == ["end", "of", "up", "0:13:20", "100.0", "°C", table[1].split()[6], "2.9"]
    assert table[2].split()[:2] == ["360", "°C/h"]
    assert table[3].startswith("end of on")
    assert table[-1].startswith("±: 95 of 100 cases, k = 2, and so is each part beside it.")


def test_uncertainty_marks_what_the_tolerance_class_does_not_cover(rampwarden: CommandLine) -> None:
    """Class 2 of type K ends at 1200 °C."""
    Path("hot.toml").write_text('[[segment]]\nname = "up"\nkind = "ramp"\nto = "1250 C"\n')
    lines = [f'{{"kind":"reading","time_s":{time_s},"temp_c":{1200 + time_s / 10}}}\n' for time_s in range(501)]
    Path("heat.jsonl").write_text(HEADER + "".join(lines))
    outcome = rampwarden("replay", "heat.jsonl", "--schedule", "hot.toml", "--uncertainty")
    assert "1250.0 °C *" in outcome.output
    assert outcome.output.rstrip().endswith(
        "* outside the range that the tolerance class covers; its law is carried on."
    )


def test_uncertainty_leaves_the_events_for_programs_alone(heat: Path, rampwarden: CommandLine) -> None:
    """One JSON object a line, and nothing else."""
    outcome = rampwarden("replay", heat, "--schedule", "up.toml", "--json", "--uncertainty")
    assert all(json.loads(line)["kind"] == "event" for line in outcome.output.splitlines())


def test_a_record_of_a_later_version_is_replayed_and_its_novelties_are_counted(
    heat: Path, rampwarden: CommandLine
) -> None:
    """An alarm, a priority and an event this version has never heard of: said once each, beside the events."""
    later = HEADER.replace(
        "}\n",
        ',"software":"rampwarden 99.1","parameters":{"alarms":{"gas-low":{},"ramp-high":{"priority":"urgent"}}}}\n',
    )
    news = '{"kind":"event","time_s":30.0,"event":"alarm","alarm":"gas-low","priority":"urgent"}\n'
    heat.write_text(later + record().removeprefix(HEADER).replace('{"kind":"end"', news + '{"kind":"end"'))
    outcome = rampwarden("replay", heat, "--schedule", "up.toml")
    assert outcome.status == 0
    newer, unknown, skipped = outcome.errors.splitlines()
    assert newer.startswith("rampwarden: heat.jsonl: written by rampwarden 99.1, which is newer than this rampwarden ")
    named = "alarms.gas-low, alarms.ramp-high.priority = urgent"
    assert unknown == (
        f"rampwarden: heat.jsonl: 2 of its settings are unknown to this version and were left out: {named}"
    )
    assert skipped == "rampwarden: heat.jsonl: lines that are no record lines were skipped: 1"
