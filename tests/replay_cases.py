"""The recorded cases of replay_logs/: run one, compare it with its expectation, renew it after review.

A case is a folder with the record of a heat (`heat.jsonl.gz`), the schedule it is watched under and the exact events it
must give. The record's header says in `note` which behaviour it guards and how it was made. Every case runs four ways,
which must agree to the byte: as it stands; with the clock let run between the inputs in steps of a quarter second; cut
at seeded random moments; and written to a new record that is replayed in turn.

    python tests/replay_cases.py                     show what differs from the expectations
    python tests/replay_cases.py --accept CASE       renew the expectation of one case, after review
    python tests/replay_cases.py --accounts          what each case has shown of its pot, and what that is ready for
"""

import argparse
import difflib
import random
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from rampwarden.core.model import Event, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.pot import account_sentences, readiness_sentence, reason_sentences
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import End, Header, Line, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from rampwarden.records.replay import Replay
from rampwarden.schedule_files import read_schedule

CASES = Path(__file__).resolve().parent.parent / "replay_logs"
EXPECTED = "expected.events.jsonl"

Cuts = Callable[[float, float], Iterable[float]]


def case_names() -> list[str]:
    """Give every case by name."""
    return sorted(folder.name for folder in CASES.iterdir() if folder.is_dir())


def case_lines(name: str) -> tuple[Header, list[Line]]:
    """Read a case's record; a torn or foreign line in a case is a mistake of its maker."""
    reader = RecordReader(CASES / name / "heat.jsonl.gz")
    lines = list(reader)
    if reader.tally.torn or reader.tally.foreign_lines:
        raise ValueError(f"case {name}: torn or foreign lines in its record")
    return reader.header, lines


def expected_events(name: str) -> list[str]:
    """Give the events a case must give, one JSON line each."""
    return (CASES / name / EXPECTED).read_text(encoding="utf-8").splitlines()


def replay(name: str, header: Header, lines: Iterable[Line]) -> list[str]:
    """Replay lines under the case's own schedule; gives the events as JSON lines."""
    run = Replay(_monitor(name, header))
    return [_text(event) for event in run.events(lines)]


def replay_in_steps(name: str, header: Header, lines: Iterable[Line]) -> list[str]:
    """Replay with the clock let run in quarter seconds between the inputs."""
    return _replay_cut(name, header, lines, lambda from_s, to_s: _steps(from_s, to_s, 0.25))


def replay_cut_at_random(name: str, header: Header, lines: Iterable[Line], seed: int) -> list[str]:
    """Replay with the clock let run to a few moments between some of the inputs."""
    dice = random.Random(seed)

    def cuts(from_s: float, to_s: float) -> list[float]:
        return sorted(dice.uniform(from_s, to_s) for _ in range(dice.randrange(4)))

    return _replay_cut(name, header, lines, cuts)


def replay_re_recorded(name: str, header: Header, lines: Iterable[Line]) -> list[str]:
    """Watch the inputs again into a new record, and replay that."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "again.jsonl"
        writer = RecordWriter.create(path, header)
        monitor = _monitor(name, header)
        for line in lines:
            if isinstance(line, Event | Header):
                continue
            writer.write(line)
            if not isinstance(line, End):
                writer.write_events(monitor.feed(line))
        writer.close()
        return replay(name, header, RecordReader(path))


def _replay_cut(name: str, header: Header, lines: Iterable[Line], cuts: Cuts) -> list[str]:
    monitor = _monitor(name, header)
    events: list[Event] = []
    for line in lines:
        if isinstance(line, Header):
            continue
        if monitor.time_s is not None and line.time_s > monitor.time_s:
            for time_s in cuts(monitor.time_s, line.time_s):
                events += monitor.advance(time_s)
        events += monitor.advance(line.time_s) if isinstance(line, Event | End) else monitor.feed(line)
    return [_text(event) for event in events]


def _steps(from_s: float, to_s: float, step_s: float) -> Iterator[float]:
    count = int((to_s - from_s) / step_s)
    return (from_s + step_s * number for number in range(1, count + 1))


def _monitor(name: str, header: Header) -> Monitor:
    schedule, _ = read_schedule(CASES / name / "schedule.toml")
    return Monitor(schedule, parameters_of(header, name))


def _text(event: Event) -> str:
    return encode_line(event).decode().rstrip("\n")


def _accept(name: str) -> int:
    if name not in case_names():
        print(f"no case {name!r}; there are: {', '.join(case_names())}", file=sys.stderr)
        return 2
    header, lines = case_lines(name)
    events = replay(name, header, lines)
    path = CASES / name / EXPECTED
    path.write_text("".join(f"{line}\n" for line in events), encoding="utf-8")
    print(f"{name}: {len(events)} events accepted. Say in the commit why each changed event is right.")
    return 0


def _show_differences() -> int:
    status = 0
    for name in case_names():
        header, lines = case_lines(name)
        found = replay(name, header, lines)
        path = CASES / name / EXPECTED
        wanted = expected_events(name) if path.exists() else []
        readings = sum(isinstance(line, Reading) for line in lines)
        if found == wanted:
            print(f"{name:<24} as expected: {len(found)} events from {readings} readings")
            continue
        status = 1
        print(f"{name:<24} DIFFERS\n  {header.note}")
        for line in difflib.unified_diff(wanted, found, "expected", "found", lineterm="", n=1):
            print(f"  {line}")
    if status:
        print("\nWhen every difference is right: make replays-accept CASE=<name>, one case at a time.")
    return status


def account_lines(name: str) -> list[str]:
    """Give the account of a case's pot and what it is ready for, in the product's own sentences."""
    header, lines = case_lines(name)
    monitor = _monitor(name, header)
    for _ in Replay(monitor).events(lines):
        pass
    readiness = monitor.readiness()
    why = (f"why: {sentence}" for sentence in reason_sentences(readiness))
    return [*account_sentences(monitor.account()), f"=> {readiness_sentence(readiness)}", *why]


def _print_accounts() -> int:
    for name in case_names():
        print(name, *account_lines(name), "", sep="\n  ")
    return 0


def main() -> int:
    """Run as the module's docstring says."""
    parser = argparse.ArgumentParser(description="Replay the recorded cases.")
    parser.add_argument("--accept", metavar="CASE", help="renew the expectation of one case")
    parser.add_argument("--accounts", action="store_true", help="print what each case has shown of its pot")
    wanted = parser.parse_args()
    if wanted.accounts:
        return _print_accounts()
    return _accept(wanted.accept) if wanted.accept is not None else _show_differences()


if __name__ == "__main__":
    sys.exit(main())
