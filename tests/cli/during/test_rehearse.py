"""`rampwarden rehearse`: the service on a real pseudo-terminal at 2000 times the speed, and its replay to the byte."""

import json
import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest

from command_line import PROGRAM, SCHEDULE, environment, run_process
from rampwarden.core.monitor import Monitor
from rampwarden.filed import NOT_ON_DISK
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import End, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, schedule_of
from rampwarden.sources.furnace_faults import FaultName

pytestmark = pytest.mark.long


NOMINAL = "nominal"
SPEED = "2000"
# Mishaps of every sort (heat, sensor, line, board), and the alarms of which each raises one; None raises none at all.
EXPECTED: dict[str, set[str] | None] = {
    NOMINAL: None,
    FaultName.FAST_RAMP: {"ramp-high"},
    FaultName.GAS_FAILING: {"heat-failing", "ramp-low", "soak-deviation"},
    FaultName.OPEN_SENSOR: {"sensor-open"},
    FaultName.SPIKES: None,
    FaultName.SILENCE: {"signal-lost"},
    FaultName.BOARD_RESTART: {"board-restarted"},
    FaultName.SLOW_RED_HEAT: {"ramp-low", "heat-failing"},
    FaultName.OVEN_NOTCHES: None,
    FaultName.SOAK_DRIFT: {"soak-deviation"},
    FaultName.OVERSHOOT: {"ceiling-forecast", "temperature-high"},
}


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """One rehearsal: its record, how it ended, and what it said."""

    record: Path
    status: int
    output: str
    errors: str

    def events(self) -> list[bytes]:
        """Give the record's events as bytes, without their numbers and the run that told them."""
        lines = [line for line in self.record.read_bytes().splitlines(True) if b'"kind":"event"' in line]
        return [re.sub(rb',"run":"[0-9a-f]+"', b"", b"{" + line.partition(b",")[2]) for line in lines]

    def alarms(self) -> set[str]:
        """Give the alarms that were raised."""
        events = [json.loads(line) for line in self.events()]
        return {event["alarm"] for event in events if event.get("state") == "unacknowledged"}


@pytest.fixture(scope="module")
def rehearsals(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Rehearsed]:
    """Rehearse the nominal heat and all mishaps at once: they mostly wait."""
    folder = tmp_path_factory.mktemp("rehearsals")
    (folder / "heat.toml").write_text(SCHEDULE)
    started = {}
    for name in EXPECTED:
        fault = [] if name == NOMINAL else ["--fault", str(name)]
        # Frames every two seconds: eleven furnaces share what may be a single core.
        options = ["--speed", SPEED, "--interval", "2", "--record", f"{name}.jsonl"]
        started[str(name)] = subprocess.Popen(
            [*PROGRAM, "rehearse", "heat.toml", *options, *fault],
            cwd=folder,
            env=environment(folder) | {"RAMPWARDEN_LOG__FORMAT": "json"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
    done = {}
    for name, process in started.items():
        output, errors = process.communicate(timeout=120)
        done[name] = Rehearsed(folder / f"{name}.jsonl", process.returncode, output, errors)
    return done


@pytest.mark.parametrize("name", EXPECTED, ids=str)
def test_the_record_of_a_rehearsal_replays_to_the_same_events_to_the_byte(
    name: str, rehearsals: dict[str, Rehearsed]
) -> None:
    """Bytes through a real serial device, threads, clocks and queues between: nothing of it is in the events."""
    rehearsed = rehearsals[str(name)]
    with RecordReader(rehearsed.record) as reader:
        monitor = Monitor(schedule_of(reader.header, "x"), parameters_of(reader.header, "x"))
        replayed = [encode_line(event) for event in Replay(monitor).events(reader)]
        assert (reader.tally.foreign_lines, reader.tally.torn) == (0, False)
    assert rehearsed.events() == replayed
    assert replayed


@pytest.mark.parametrize("name", EXPECTED, ids=str)
def test_a_rehearsal_ends_by_itself_with_its_record_closed(name: str, rehearsals: dict[str, Rehearsed]) -> None:
    """The schedule done, the exit status saying whether there were alarms, nothing on standard error."""
    rehearsed = rehearsals[str(name)]
    assert rehearsed.errors == ""
    assert rehearsed.status == (1 if rehearsed.alarms() else 0)
    with RecordReader(rehearsed.record) as reader:
        last = list(reader)[-1]
    assert isinstance(last, End)
    assert last.reason == "complete"
    assert b'"event":"heat-complete"' in b"".join(rehearsed.events())


@pytest.mark.parametrize(("name", "alarms"), EXPECTED.items(), ids=[str(name) for name in EXPECTED])
def test_each_mishap_raises_its_alarm_and_none_is_raised_without(
    name: str, alarms: set[str] | None, rehearsals: dict[str, Rehearsed]
) -> None:
    """Spikes and the notches of a dial are no reason for one."""
    raised = rehearsals[str(name)].alarms()
    if alarms is None:
        assert raised == set()
    else:
        assert alarms & raised


def test_nothing_is_lost_between_furnace_and_record_at_this_speed(rehearsals: dict[str, Rehearsed]) -> None:
    """Every frame that the furnace sent stands in the record; no notice of frames lost or garbled."""
    lines = [json.loads(line) for line in rehearsals[NOMINAL].record.read_text().splitlines()]
    times = [line["time_s"] for line in lines if line["kind"] == "reading"]
    assert times == [2.0 * count for count in range(len(times))]
    assert not [line for line in lines if line["kind"] == "notice"]
    assert [line["seq"] for line in lines] == list(range(len(lines)))


def test_the_command_line_replays_it_to_the_same_bytes_too(rehearsals: dict[str, Rehearsed], tmp_path: Path) -> None:
    """`rampwarden replay --json` prints what the record says, and nothing else."""
    rehearsed = rehearsals[FaultName.FAST_RAMP]
    outcome = run_process(tmp_path, "replay", "--json", rehearsed.record)
    assert (outcome.status, outcome.errors) == (1, "")
    assert outcome.output.encode() == b"".join(rehearsed.events())


def test_log_lines_of_a_rehearsal_asked_for_as_json_carry_the_heat_s_own_time(rehearsals: dict[str, Rehearsed]) -> None:
    """Each event of the record is logged once, in order."""
    entries = [json.loads(line) for line in rehearsals[FaultName.OVERSHOOT].output.splitlines()]
    texts = [json.loads(line)["text"] for line in rehearsals[FaultName.OVERSHOOT].events()]
    logged = [entry["event"] for entry in entries if entry.get("kind") not in (None, "status", "notice", "readiness")]
    # A slow disk is said beside an event, and is none of the heat's.
    assert [text.removesuffix(f" · {NOT_ON_DISK}") for text in logged] == texts
    [readiness] = [entry["event"] for entry in entries if entry.get("kind") == "readiness"]
    assert readiness.startswith("Inspect it first")
    assert any(entry.get("kind") == "status" for entry in entries)
    assert entries[-1]["event"].startswith("record closed: overshoot.jsonl")


def test_a_rehearsal_that_is_interrupted_closes_its_record(tmp_path: Path) -> None:
    """Ctrl-C in the middle: an end line that says stopped, exit as always. Until then it speaks in sentences."""
    (tmp_path / "heat.toml").write_text(SCHEDULE)
    with subprocess.Popen(
        [*PROGRAM, "rehearse", "heat.toml", "--speed", "10", "--record", "heat.jsonl"],
        cwd=tmp_path,
        env=environment(tmp_path),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        while "°C".encode() not in (line := process.stdout.readline()):
            assert line, "it ended by itself"
            assert not line.startswith(b"{"), "nobody asked for JSON"
        process.send_signal(2)
        process.stdout.read()
        assert process.wait(timeout=10) == 0
    with RecordReader(tmp_path / "heat.jsonl") as reader:
        last = list(reader)[-1]
    assert isinstance(last, End)
    assert last.reason == "stopped"
