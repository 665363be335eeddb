"""What is kept of a heat for its report: its course thinned out, its segments, alarms, notes, gaps and faults.

Looks on while a record is read for its figures, so everything here is what the monitor measured. Memory does not grow
with the heat: samples are means over ever longer spans that keep their extremes. Knows nothing of words or drawing.
"""

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from rampwarden.core.heat import LONGEST_CREDITED_S
from rampwarden.core.model import AlarmState, Event, EventName, Notice, Priority, Quality, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.schedule import Schedule
from rampwarden.records import Header, HeatFigures, Line, figures_of, header_of, parameters_of, schedule_of
from rampwarden.report.probe_courses import ProbeCourse, ProbesMeter, StoodIn
from rampwarden.report.thinning import CourseSample, Thinning
from rampwarden.terminal_text import printable

_MOST_NOTES = 400
_REMARKS = (EventName.NOTE, EventName.MARK, EventName.OBSERVED, EventName.ASKED, EventName.ANSWERED)


@dataclass(slots=True)
class SegmentStretch:
    """The time in one segment: `index` in the schedule, begun at `from_s` and `from_c`; extremes in °C."""

    index: int
    from_s: float
    to_s: float
    from_c: float
    low_c: float
    high_c: float


@dataclass(slots=True)
class Episode:
    """An alarm from raised until its condition was over (None: never), with the extremes of temperature meanwhile."""

    alarm: str
    priority: Priority
    from_s: float
    value: float | None
    limit: float | None
    unit: str | None
    segment: str
    segment_number: int | None = None
    to_s: float | None = None
    acknowledged_s: float | None = None
    said_wrong: bool = False
    worst: float | None = None
    low_c: float | None = None
    high_c: float | None = None


@dataclass(frozen=True, slots=True)
class Remark:
    """What a person noted or marked, or the watch observed, with the thermocouple's temperature then (°C)."""

    time_s: float
    kind: EventName
    text: str
    temp_c: float | None


@dataclass(frozen=True, slots=True)
class Course:
    """One heat as a report takes it."""

    path: Path
    header: Header
    schedule: Schedule
    parameters: MonitorParameters
    figures: HeatFigures
    samples: tuple[CourseSample, ...]
    stretches: tuple[SegmentStretch, ...]
    episodes: tuple[Episode, ...]
    remarks: tuple[Remark, ...]
    remarks_left_out: int
    set_aside: int
    faults: dict[str, int]
    notices: dict[str, int]
    gaps: int
    longest_gap_s: float
    longest_gap_from_s: float
    junction_c: tuple[float, float] | None
    converted_by_board: int
    probes: tuple[ProbeCourse, ...] = ()
    stood_in: tuple[StoodIn, ...] = ()

    @property
    def title(self) -> str:
        """What the heat is called: by its crucible, if that is known."""
        mark = self.header.crucible
        return printable(f"{mark} · {self.schedule.title}" if mark else self.schedule.title)

    @property
    def name(self) -> str:
        """What tells this heat from others beside it: its file and the day it began."""
        return printable(f"{self.path.name} of {self.header.started[:10]}")


class _CourseMeter:
    """Keeps the course while a record is read."""

    def __init__(self) -> None:
        self.probes = ProbesMeter()
        self._thinning = Thinning()
        self.stretches: list[SegmentStretch] = []
        self.episodes: list[Episode] = []
        self.remarks: list[Remark] = []
        self.remarks_left_out = 0
        self.set_aside = 0
        self.converted_by_board = 0
        self.faults: Counter[str] = Counter()
        self.notices: Counter[str] = Counter()
        self.gaps = 0
        self.longest_gap_s = self.longest_gap_from_s = 0.0
        self.junction_c: tuple[float, float] | None = None
        self._last_s: float | None = None
        self._last_c: float | None = None
        self._standing: dict[str, Episode] = {}

    def take(self, line: Line, monitor: Monitor) -> None:
        """Look at the monitor, which has just taken `line`."""
        self.probes.take(line, monitor)
        if isinstance(line, Notice):
            self.notices[line.notice] += max(1, line.count)
        if not isinstance(line, Reading):
            return
        self.faults.update(fault.value for fault in line.faults)
        if line.emf_uv is None and line.temp_c is not None:
            self.converted_by_board += 1
        measurement = monitor.measurement
        if measurement is None:
            return
        if measurement.quality is Quality.HELD:
            self.set_aside += 1
        if measurement.quality is not Quality.GOOD or measurement.temp_c is None:
            return
        self._note_junction(measurement.junction_c)
        self._take(measurement.time_s, measurement.temp_c, monitor)

    @property
    def samples(self) -> list[CourseSample]:
        """What is kept of the course, the oldest first."""
        return self._thinning.samples

    def hear(self, event: Event) -> None:
        """Hear an event of the replay."""
        if event.event is EventName.ALARM:
            self._hear_alarm(event)
        elif event.event is EventName.ASKED and event.segment is None:
            # A line of the checklist, which has a section of its own.
            pass
        elif event.event in _REMARKS:
            if len(self.remarks) < _MOST_NOTES:
                self.remarks.append(Remark(event.time_s, event.event, event.text, self._last_c))
            else:
                self.remarks_left_out += 1

    def _take(self, time_s: float, temp_c: float, monitor: Monitor) -> None:
        if self._last_s is not None and time_s - self._last_s > LONGEST_CREDITED_S:
            self.gaps += 1
            if time_s - self._last_s > self.longest_gap_s:
                self.longest_gap_s, self.longest_gap_from_s = time_s - self._last_s, self._last_s
        self._last_s, self._last_c = time_s, temp_c
        self._keep(time_s, temp_c, monitor)
        self._follow(time_s, temp_c, monitor)
        for episode in self._standing.values():
            episode.low_c = temp_c if episode.low_c is None else min(episode.low_c, temp_c)
            episode.high_c = temp_c if episode.high_c is None else max(episode.high_c, temp_c)

    def _keep(self, time_s: float, temp_c: float, monitor: Monitor) -> None:
        is_new = self._thinning.keep(time_s, temp_c)
        last = self._thinning.samples[-1]
        last.soaked_s = monitor.soaked_s
        if is_new:
            ramp = monitor.status().ramp
            last.ramp_c_per_s = ramp.c_per_s if ramp else None

    def _follow(self, time_s: float, temp_c: float, monitor: Monitor) -> None:
        limits = monitor.limits
        stretch = self.stretches[-1] if self.stretches else None
        if limits is None:
            return
        if stretch is None or stretch.index != limits.index:
            if stretch is not None:
                stretch.to_s = time_s
            self.stretches.append(SegmentStretch(limits.index, time_s, time_s, temp_c, temp_c, temp_c))
            return
        stretch.to_s = time_s
        stretch.low_c, stretch.high_c = min(stretch.low_c, temp_c), max(stretch.high_c, temp_c)

    def _note_junction(self, junction_c: float | None) -> None:
        if junction_c is not None:
            low_c, high_c = self.junction_c or (junction_c, junction_c)
            self.junction_c = min(low_c, junction_c), max(high_c, junction_c)

    def _hear_alarm(self, event: Event) -> None:
        name = event.alarm or ""
        episode = self._standing.get(name)
        said_s = event.upholds if event.withdraws is None else event.withdraws
        if said_s is not None:
            self._hear_answer(name, said_s, said_wrong=event.withdraws is not None)
        if event.state is AlarmState.SAID_WRONG:
            # Withdrawn, but its condition is still found: it lasts until that is over.
            return
        if event.state is AlarmState.UNACKNOWLEDGED:
            if episode is None:
                episode = Episode(
                    alarm=name,
                    priority=event.priority or Priority.LOW,
                    from_s=event.time_s,
                    value=event.value,
                    limit=event.limit,
                    unit=event.unit,
                    segment=event.segment or "",
                    segment_number=event.segment_number,
                )
                self._standing[name] = episode
                self.episodes.append(episode)
        elif episode is not None and event.state is AlarmState.ACKNOWLEDGED:
            episode.acknowledged_s = event.time_s
        elif episode is not None:
            # Over, or set aside so that nobody can tell when it was over.
            episode.to_s = event.time_s
            episode.worst = event.worst
            del self._standing[name]

    def _hear_answer(self, name: str, said_s: float, *, said_wrong: bool) -> None:
        for each in reversed(self.episodes):
            if each.alarm == name and each.from_s <= said_s:
                each.said_wrong = said_wrong
                return


def read_course(path: Path, other_schedule: Schedule | None = None) -> Course:
    """Read a record once; raises `RecordError` when it is none, has no schedule, or no temperature to believe."""
    header = header_of(path)
    meter = _CourseMeter()
    schedule = other_schedule or schedule_of(header, str(path))
    figures = figures_of(path, schedule, meter)
    return Course(
        path=path,
        header=header,
        schedule=schedule,
        parameters=parameters_of(header, str(path)),
        figures=figures,
        samples=tuple(meter.samples),
        probes=meter.probes.courses(),
        stood_in=tuple(meter.probes.stood_in),
        stretches=tuple(meter.stretches),
        episodes=tuple(meter.episodes),
        remarks=tuple(meter.remarks),
        remarks_left_out=meter.remarks_left_out,
        set_aside=meter.set_aside,
        faults=dict(meter.faults),
        notices=dict(meter.notices),
        gaps=meter.gaps,
        longest_gap_s=meter.longest_gap_s,
        longest_gap_from_s=meter.longest_gap_from_s,
        junction_c=meter.junction_c,
        converted_by_board=meter.converted_by_board,
    )
