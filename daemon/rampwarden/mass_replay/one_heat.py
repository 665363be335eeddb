"""One heat judged twice, by its own limits and by others: the task that goes to whatever processor there is.

Both replays are of this program, so what differs is of the limits and not of the program's age. Raises nothing: what
cannot be judged is said in the heat's row.
"""

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

from rampwarden.core.heat import parse_schedule
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters, parameters_for_interval
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RampwardenError
from rampwarden.mass_replay.answers import HeatAnswer, Raised, compared
from rampwarden.records import Header, RecordReader, Replay, header_of, parameters_of, schedule_of


@dataclass(frozen=True, slots=True)
class Otherwise:
    """By what else heats are judged: a schedule's table, and parameters from settings; None leaves a heat its own.

    Of the parameters only what a person sets is taken, never what describes the heat: thermocouple, board, pot and gas.
    """

    schedule: dict[str, object] | None = None
    parameters: MonitorParameters | None = None


@dataclass(frozen=True, slots=True)
class Task:
    """A heat by its name, with its record: a file of this computer, or what stands in it."""

    heat: str
    path: str = ""
    content: bytes = b""

    def carried(self) -> "Task":
        """Give the task with its record in it, for another computer; one that cannot be read stays as it is."""
        if not self.path:
            return self
        try:
            content = Path(self.path).read_bytes()
        except OSError:
            return self
        return Task(self.heat, "", content)


def answer(task: Task, otherwise: Otherwise) -> HeatAnswer:
    """Give a heat's row."""
    try:
        if task.path:
            return _answer(Path(task.path), task.heat, otherwise)
        suffix = ".jsonl.gz" if task.content.startswith(b"\x1f\x8b") else ".jsonl"
        with tempfile.NamedTemporaryFile(suffix=suffix) as file:
            file.write(task.content)
            file.flush()
            return _answer(Path(file.name), task.heat, otherwise)
    except RampwardenError as error:
        return HeatAnswer(task.heat, trouble=_without_place(str(error)))
    except Exception as error:  # whatever stands in a record costs its own row
        return HeatAnswer(task.heat, trouble=f"cannot be replayed ({type(error).__name__}: {error})")


def _answer(path: Path, heat: str, otherwise: Otherwise) -> HeatAnswer:
    header = header_of(path)
    own = schedule_of(header, "record")
    other = own if otherwise.schedule is None else parse_schedule(otherwise.schedule, "the other schedule")
    parameters = parameters_of(header, "record")
    before = _raised(path, own, parameters)
    after = _raised(path, other, _changed(parameters, header, otherwise.parameters))
    new, gone, moved = compared(before, after)
    return HeatAnswer(
        heat,
        started=header.started,
        mark=header.crucible,
        title=own.title,
        before=len(before),
        after=len(after),
        new=new,
        gone=gone,
        earlier=tuple(each for each in moved if each.earlier_s > 0.0),
        later=tuple(each for each in moved if each.earlier_s < 0.0),
    )


def _raised(path: Path, schedule: Schedule, parameters: MonitorParameters) -> list[Raised]:
    with RecordReader(path) as reader:
        events = Replay(Monitor(schedule, parameters)).events(reader)
        return [Raised(event.alarm or "", event.time_s) for event in events if event.raises_alarm]


def _changed(own: MonitorParameters, header: Header, other: MonitorParameters | None) -> MonitorParameters:
    if other is None:
        return own
    interval = header.board.get("interval", 1.0)
    patience = parameters_for_interval(float(interval) if isinstance(interval, int | float) else 1.0)
    return replace(
        own,
        alarms=other.alarms,
        out_of_service=other.out_of_service,
        junction_range_c=other.junction_range_c,
        signal_lost_s=max(other.signal_lost_s, patience.signal_lost_s),
    )


def _without_place(sentence: str) -> str:
    """Leave out the name of a file that is gone by the time it is read; a row says the same wherever it was made."""
    place, sign, rest = sentence.partition(": ")
    return rest if sign and place.startswith(tempfile.gettempdir()) else sentence
