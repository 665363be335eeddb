"""A moment of a heat, cut out of its record as a case that replays: for whoever can see why the watch was wrong.

A case is a folder as those of replay_logs/: the readings around the moment, the schedule, and the events that the watch
gives for them. A watch that begins in the middle of a heat may say something else there; so as much of the time before
is kept as is needed for it to say the same, down to the byte, from the moment on.
"""

import gzip
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from rampwarden.cli.after.impersonal import ImpersonalLines, Kept, impersonal_header, impersonal_schedule
from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import Command, CommandName, Event, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RecordError
from rampwarden.records import End, RecordReader, Replay, encode_line, numbered, parameters_of, schedule_of
from rampwarden.schedule_files import read_schedule
from rampwarden.terminal_text import elapsed

_BEFORE_S = (1200.0, 2400.0, 4800.0, 9600.0, math.inf)
"""How much of the time before is tried, s."""
_AFTER_S = 300.0
_ASKED, _MESSAGE = "moment", "message"
# An answer that came later is not waited for: the case would be half the heat.
_ANSWERED_WITHIN_S = 1800.0


@dataclass(frozen=True, slots=True)
class AnsweredMoment:
    """What was said at `said_s` (s) and answered at `answered_s`: `name`, an alarm's or what else it was."""

    name: str
    said_s: float
    answered_s: float

    @property
    def about(self) -> str:
        """What a case of it shows."""
        if self.name == _ASKED:
            return "a moment that somebody wants looked at"
        return f"{'a message' if self.name == _MESSAGE else self.name} that was said to be wrong"

    @property
    def until_s(self) -> float:
        """Until when its readings are of interest, s."""
        answered = self.answered_s - self.said_s <= _ANSWERED_WITHIN_S
        return (self.answered_s if answered else self.said_s) + _AFTER_S


@dataclass(slots=True)
class _Studied:
    """A whole record replayed without its person: what was said, and what of it was said to be wrong."""

    schedule: Schedule
    parameters: MonitorParameters
    events: list[Event] = field(default_factory=list)
    moments: list[AnsweredMoment] = field(default_factory=list)
    answers: int = 0
    last_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Case:
    """A case that was written: where, of what, and how much."""

    folder: Path
    about: str
    readings: int
    seconds: float


def write_cases(record: Path, folder: Path, at_s: float | None) -> list[Case]:
    """Write a case of each moment that was said to be wrong, or of the one moment `at_s` (s).

    Raises `RecordError` where there is none, the folder is there already, or it cannot be written.
    """
    studied = _study(record)
    moments = studied.moments if at_s is None else [AnsweredMoment(_ASKED, at_s, at_s)]
    if not moments:
        raise RecordError(f"{record}: {_why_none(studied)}")
    if at_s is not None and at_s > studied.last_s:
        raise RecordError(f"{record}: the heat was watched until {elapsed(studied.last_s)}, not until {elapsed(at_s)}")
    cut = [(moment, _as_it_was(record, studied, moment)) for moment in moments]
    try:
        folder.mkdir(parents=True)
        return [
            _write(record, moment, lines, folder / f"{n}-{moment.name}") for n, (moment, lines) in enumerate(cut, 1)
        ]
    except FileExistsError:
        raise RecordError(f"{folder}: is there already; choose another name") from None
    except OSError as error:
        raise RecordError(f"{folder}: cannot write: {error.strerror}") from error


def _why_none(studied: _Studied) -> str:
    if studied.answers:
        return f"{studied.answers} times something was said to be wrong, but of nothing that this version still says"
    return "nothing was said to be wrong in this heat; --at H:MM:SS makes a case of any other moment"


def _table(record: Path, reader: RecordReader) -> dict[str, object]:
    schedule_of(reader.header, str(record))  # says what is wrong with it, if anything is
    return dict(reader.header.schedule or {})


def _lines(record: Path) -> Iterator[Kept]:
    with RecordReader(record) as reader:
        impersonal = ImpersonalLines(_table(record, reader))
        yield from (kept for line in reader if (kept := impersonal.take(line)) is not None)


def _study(record: Path) -> _Studied:
    with RecordReader(record) as reader:
        schedule = parse_schedule(impersonal_schedule(_table(record, reader), "a heat"), str(record))
        header = impersonal_header(reader.header, str(record), {}, "", "")
    studied = _Studied(schedule, parameters_of(header, str(record)))
    run = Replay(Monitor(schedule, studied.parameters))
    for line in _lines(record):
        events = run.take(line)
        studied.events += events
        if isinstance(line, Command) and line.command in (CommandName.WRONG, CommandName.UNDO_WRONG):
            studied.answers += line.command is CommandName.WRONG
            for event in events:
                _note_answer(studied.moments, event)
    studied.last_s = run.monitor.time_s or 0.0
    return studied


def _note_answer(moments: list[AnsweredMoment], event: Event) -> None:
    if event.withdraws is not None:
        moments.append(AnsweredMoment(event.alarm or _MESSAGE, event.withdraws, event.time_s))
    elif event.upholds is not None:
        upheld = (event.alarm or _MESSAGE, event.upholds)
        moments[:] = [each for each in moments if (each.name, each.said_s) != upheld]


def _cut(record: Path, from_s: float, until_s: float) -> list[Kept]:
    """Give the lines of a stretch of time, and its end."""
    lines: list[Kept] = []
    end_s = 0.0
    for line in _lines(record):
        if isinstance(line, End) or line.time_s > until_s:
            end_s = min(line.time_s, until_s)
            break
        end_s = max(end_s, line.time_s)
        if line.time_s >= from_s:
            lines.append(line)
    return [*lines, End(end_s)]


def _told(events: list[Event], from_s: float, until_s: float) -> list[bytes]:
    return [encode_line(event) for event in events if from_s <= event.time_s <= until_s]


def _as_it_was(record: Path, studied: _Studied, moment: AnsweredMoment) -> list[Kept]:
    """Give the shortest stretch in which the watch says the same from the moment on."""
    wanted = _told(studied.events, moment.said_s, moment.until_s)
    for before_s in _BEFORE_S:
        lines = _cut(record, moment.said_s - before_s, moment.until_s)
        run = Replay(Monitor(studied.schedule, studied.parameters))
        if _told(list(run.events(lines)), moment.said_s, moment.until_s) == wanted:
            return lines
        if before_s > moment.said_s:
            break  # that was all there is
    raise RecordError(f"{record}: what was said at {moment.said_s:g} s does not come out again; keep the record whole")


def _write(record: Path, moment: AnsweredMoment, lines: list[Kept], folder: Path) -> Case:
    with RecordReader(record) as reader:
        table = impersonal_schedule(_table(record, reader), f"Sent in: {moment.about}")
        note = (
            f"Guards: {moment.about}. Made by: rampwarden export --case; readings as they came, without names and dates"
        )
        header = impersonal_header(reader.header, str(record), table, f"Sent in: {moment.about}", note)
    folder.mkdir()
    (folder / "schedule.toml").write_text(schedule_toml(table), encoding="utf-8")
    file = folder / "heat.jsonl.gz"
    # Neither a file's name nor a time of day within.
    with file.open("wb") as raw, gzip.GzipFile("", "wb", fileobj=raw, mtime=0) as packed:
        packed.writelines(numbered(header, lines))
    with RecordReader(file) as reader:
        schedule, _ = read_schedule(folder / "schedule.toml")
        run = Replay(Monitor(schedule, parameters_of(reader.header, str(file))))
        events = list(run.events(reader))
    (folder / "expected.events.jsonl").write_bytes(b"".join(encode_line(event) for event in events))
    first_s = next((line.time_s for line in lines if isinstance(line, Reading)), lines[-1].time_s)
    return Case(folder, moment.about, run.summary.readings, lines[-1].time_s - first_s)


def schedule_toml(table: dict[str, object]) -> str:
    """Write a schedule's table as its file; numbers and texts are what TOML and JSON write alike."""
    rows = table["segment"]
    head = [_pair(key, value) for key, value in table.items() if key != "segment"]
    blocks = [
        ["", "[[segment]]", *(_pair(key, value) for key, value in row.items())]
        for row in (rows if isinstance(rows, list) else [])
    ]
    return "\n".join([*head, *(line for block in blocks for line in block), ""])


def _pair(key: str, value: object) -> str:
    return f"{key} = {_written(value)}"


def _written(value: object) -> str:
    if isinstance(value, dict):
        return f"{{ {', '.join(_pair(key, each) for key, each in value.items())} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(_written, value))}]"
    return json.dumps(value, ensure_ascii=False)
