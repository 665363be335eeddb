"""What the running version says of a kept record, in the form in which it is kept beside it.

    python tests/old_records/renew.py                 show what differs, one record after the other
    python tests/old_records/renew.py RECORD          show what differs of one record
    python tests/old_records/renew.py --accept RECORD renew the expectation of one record, after review

A record is a folder with `heat.jsonl.gz`, the events of its replay, and all else that is said of it.
"""

import argparse
import difflib
import gzip
import hashlib
import io
import json
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec

from rampwarden.clock import Moment
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records.csv_files import write_csv
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.recovery import TakenUp, take_up
from rampwarden.records.replay import Replay, schedule_of
from rampwarden.report import content
from rampwarden.report.course import Course, read_course
from rampwarden.report.units import Scale
from rampwarden.report.verdict import judge

RECORDS = Path(__file__).resolve().parent
EVENTS = "expected.events.jsonl"
SAID = "expected.json"
_UNFINISHED = "unfinished-"
_BLIND_S = 300.0
_FIRST_ROWS = 4


def record_names() -> list[str]:
    """Give every kept record by name."""
    return sorted(folder.name for folder in RECORDS.iterdir() if (folder / "heat.jsonl.gz").exists())


def record_file(name: str) -> Path:
    """Give a kept record's file."""
    return RECORDS / name / "heat.jsonl.gz"


def is_unfinished(name: str) -> bool:
    """Tell whether a watch was killed over it, so that another must take it up."""
    return name.startswith(_UNFINISHED)


def events_of(name: str) -> list[str]:
    """Replay a record under its own schedule and parameters; gives the events, one JSON line each."""
    with RecordReader(record_file(name)) as reader:
        run = Replay(Monitor(schedule_of(reader.header, name), parameters_of(reader.header, name)))
        return [encode_line(event).decode().rstrip("\n") for event in run.events(reader)]


def said_of(name: str) -> dict[str, object]:
    """Give what else is said of a record: how it reads, its alarms' settings, export, figures, report, taking up."""
    said = {**_read(name), "export": _export(name), **_report(name)}
    if is_unfinished(name):
        said["taken_up"] = _standing(name)
    # As it comes back from a file: JSON knows no tuples.
    again: dict[str, object] = json.loads(_said_text(said))
    return again


def taken_up(name: str, folder: Path) -> TakenUp:
    """Take an unfinished record up, five minutes after its end within the same start of the machine."""
    path = folder / f"{name}.jsonl"
    path.write_bytes(gzip.decompress(record_file(name).read_bytes()))
    with RecordReader(path) as reader:
        header = reader.header
        last_s = max(line.time_s for line in reader if isinstance(line, Reading))
    started = datetime.fromisoformat(header.started)
    host_s = header.zero_s + last_s + _BLIND_S
    return take_up(path, lambda: Moment(header.boot, host_s, started.astimezone(UTC) + timedelta(days=400)))


def expected_events(name: str) -> list[str]:
    """Give the events that are kept beside a record."""
    return (RECORDS / name / EVENTS).read_text(encoding="utf-8").splitlines()


def expected_said(name: str) -> dict[str, object]:
    """Give what else is kept beside a record."""
    kept: dict[str, object] = json.loads((RECORDS / name / SAID).read_text(encoding="utf-8"))
    return kept


def _read(name: str) -> dict[str, object]:
    """Give how a record reads, and which alarms it was watched under where they are not the catalogue's."""
    lines: dict[str, int] = {}
    with RecordReader(record_file(name)) as reader:
        for line in reader:
            kind = type(line).__name__
            lines[kind] = lines.get(kind, 0) + 1
        parameters = parameters_of(reader.header, name)
        changed = reader.header.parameters.get("alarms") or {}
        tally = {"torn": reader.tally.torn, "foreign": reader.tally.foreign_lines}
    alarms = {
        alarm: [str(entry.priority), entry.on_delay_s, entry.off_delay_s]
        for alarm, entry in parameters.alarms.items()
        if isinstance(changed, dict) and alarm in changed
    }
    return {
        "lines": dict(sorted(lines.items())),
        "tally": tally,
        "alarms": alarms,
        "out_of_service": [str(alarm) for alarm in parameters.out_of_service],
    }


def _export(name: str) -> dict[str, object]:
    """Give the CSV file by its first rows, their count and a digest of all of it."""
    stream = io.StringIO()
    with RecordReader(record_file(name)) as reader:
        parameters = parameters_of(reader.header, name)
        readings = (line for line in reader if isinstance(line, Reading))
        write_csv(readings, thermocouple(parameters.thermocouple_type), stream, parameters.calibration)
    text = stream.getvalue()
    return {
        "first": text.splitlines()[:_FIRST_ROWS],
        "rows": text.count("\n"),
        "sha256": hashlib.sha256(text.encode()).hexdigest(),
    }


def _report(name: str) -> dict[str, object]:
    """Give the heat's figures and its report in words, without the drawing."""
    course, scale = read_course(record_file(name)), Scale(False)
    verdict = judge(course, scale)
    figures = msgspec.to_builtins(course.figures)
    del figures["file"]
    # Old headers know no wall and no bottle: that nothing of them is reckoned is no news.
    if figures["physics"] is None:
        del figures["physics"]
    report = {
        "title": course.title,
        "under": content.subtitle(course, UTC),
        "verdict": verdict,
        "sections": [each for each in _sections(course, scale) if each is not None],
    }
    return {"figures": figures, "report": msgspec.to_builtins(report)}


def _sections(course: Course, scale: Scale) -> list[content.Section | None]:
    return [
        content.segments_section(course, scale),
        content.alarms_section(course, scale),
        content.remarks_section(course, scale),
        content.checks_section(course, scale),
        content.crucible_section(course, scale),
        content.sensor_section(course, scale),
    ]


def _standing(name: str) -> dict[str, object]:
    """Give where a watch finds the heat that takes it up."""
    with tempfile.TemporaryDirectory() as folder:
        taken = taken_up(name, Path(folder))
    status = taken.monitor.status()
    return {
        "sentence": taken.sentence,
        "next_seq": taken.next_seq,
        "now_s": taken.now_s,
        "blind_s": taken.blind_s,
        "torn": taken.torn,
        "segment": status.segment,
        "phase": status.phase,
        "soaked_s": status.soaked_s,
        "to_end_s": status.to_end_s,
        "standing": [msgspec.to_builtins(alarm) for alarm in status.alarms],
        "unacknowledged": [event.alarm for event in taken.unacknowledged],
        "untold": [msgspec.to_builtins(event) for event in taken.untold],
    }


def _said_text(said: dict[str, object]) -> str:
    return json.dumps(said, ensure_ascii=False, indent=1) + "\n"


def _differences(name: str) -> list[str]:
    """Give what differs from the kept expectation, as a diff."""
    found = {EVENTS: "".join(f"{line}\n" for line in events_of(name)), SAID: _said_text(said_of(name))}
    lines: list[str] = []
    for file, text in found.items():
        path = RECORDS / name / file
        kept = path.read_text(encoding="utf-8") if path.exists() else ""
        names = (f"{name}/{file} kept", f"{name}/{file} said now")
        lines += difflib.unified_diff(kept.splitlines(), text.splitlines(), *names, lineterm="", n=1)
    return lines


def _accept(name: str) -> None:
    events = events_of(name)
    (RECORDS / name / EVENTS).write_text("".join(f"{line}\n" for line in events), encoding="utf-8")
    (RECORDS / name / SAID).write_text(_said_text(said_of(name)), encoding="utf-8")
    print(f"{name}: {len(events)} events accepted. Say in the commit why each changed line is right.")


def main() -> int:
    """Run as the module's docstring says."""
    parser = argparse.ArgumentParser(description="Compare what is said of the kept records with what was.")
    parser.add_argument("record", nargs="?", help="show one record's differences only")
    parser.add_argument("--accept", metavar="RECORD", help="renew the expectation of one record")
    wanted = parser.parse_args()
    named = wanted.accept or wanted.record
    if named is not None and named not in record_names():
        print(f"no record {named!r}; there are: {', '.join(record_names())}", file=sys.stderr)
        return 2
    if wanted.accept is not None:
        _accept(wanted.accept)
        return 0
    status = 0
    for name in [named] if named else record_names():
        differences = _differences(name)
        print(f"{name:<28} {'DIFFERS' if differences else 'as expected'}")
        for line in differences:
            print(f"  {line}")
        status = 1 if differences else status
    return status


if __name__ == "__main__":
    sys.exit(main())
