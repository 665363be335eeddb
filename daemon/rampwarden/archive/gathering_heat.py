"""A heat's record gathered for the archive in one replay: figures, events, time over a limit, soak, course.

The course is thinned to some hundred means, enough to lay heats over one another.
"""

import hashlib
import zlib
from array import array
from collections.abc import Mapping
from pathlib import Path

import msgspec

from rampwarden.archive.archived_heat import ArchivedHeat, HeatRow, Story, packed, unpacked
from rampwarden.core.model import AlarmState, Event, Quality, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.errors import RecordError
from rampwarden.records import Header, Line, figures_of, header_of, schedule_of

# Means that a course is thinned to: a drawing is some 700 points wide.
_POINTS = 400
LIMIT_ALARMS = ("ramp-high", "temperature-high", "cooling-fast")
"""Those that say that a limit of the schedule is broken; while one of them stands counts as time over."""
_STANDING = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)


class _Listener:
    """Looks on while the record is replayed."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self.times_s, self.temps_c = array("d"), array("d")
        self.over_s = 0.0
        self._standing: set[str] = set()
        self._since_s = 0.0
        self._soaks: dict[int, tuple[float, float]] = {}
        self._soaked_s, self._index = 0.0, -1

    def take(self, line: Line, monitor: Monitor) -> None:
        """Note a believed temperature, and what it adds to a soak."""
        measurement = monitor.measurement
        if not isinstance(line, Reading) or measurement is None or measurement.quality is not Quality.GOOD:
            return
        temp_c = measurement.temp_c
        if temp_c is None:
            return
        self.times_s.append(measurement.time_s)
        self.temps_c.append(temp_c)
        limits, soaked_s = monitor.limits, monitor.soaked_s
        index = -1 if limits is None else limits.index
        if index == self._index and soaked_s > self._soaked_s:
            weight, total = self._soaks.get(index, (0.0, 0.0))
            added = soaked_s - self._soaked_s
            self._soaks[index] = (weight + added, total + added * temp_c)
        self._index, self._soaked_s = index, soaked_s

    def hear(self, event: Event) -> None:
        """Keep an event; note from when until when a limit stands broken."""
        self.events.append(event)
        if event.alarm not in LIMIT_ALARMS or event.state is None:
            return
        if self._standing:
            self.over_s += event.time_s - self._since_s
        (self._standing.add if event.state in _STANDING else self._standing.discard)(event.alarm)
        self._since_s = event.time_s

    def soak_error_c(self, schedule: Schedule) -> float | None:
        """Give how far the mean of the hottest soak lay from what was asked."""
        asked = {
            index: segment.at_c
            for index, segment in enumerate(schedule.segments)
            if segment.kind is SegmentKind.SOAK and segment.at_c is not None and index in self._soaks
        }
        if not asked:
            return None
        hottest = max(asked, key=lambda index: asked[index])
        weight, total = self._soaks[hottest]
        return round(total / weight - asked[hottest], 2)

    def course(self) -> tuple[tuple[float, float], ...]:
        """Give the course in `_POINTS` means of equal length, without those in which nothing was measured."""
        if not self.times_s:
            return ()
        first_s = self.times_s[0]
        width_s = max((self.times_s[-1] - first_s) / _POINTS, 1e-9)
        bins: dict[int, tuple[int, float, float]] = {}
        for time_s, temp_c in zip(self.times_s, self.temps_c, strict=True):
            number = min(int((time_s - first_s) / width_s), _POINTS - 1)
            count, times, temps = bins.get(number, (0, 0.0, 0.0))
            bins[number] = (count + 1, times + time_s, temps + temp_c)
        return tuple((round(times / count, 1), round(temps / count, 1)) for count, times, temps in bins.values())


def gathered(path: Path) -> ArchivedHeat:
    """Gather what is kept of a record; raises `RecordError` when it is none, or holds no temperature."""
    listener = _Listener()
    content = record_content(path)
    figures = figures_of(path, observer=listener)
    header = header_of(path)
    row = HeatRow(
        id=figures.record_id,
        sha256=hashlib.sha256(content).hexdigest(),
        length=len(content),
        furnace=_furnace(header),
        started=figures.started,
        month=figures.started[:7],
        schedule=figures.title,
        mark=figures.mark,
        metal=figures.metal,
        rehearsal=int(figures.rehearsal),
        was_heat=int(figures.account is not None and figures.account.was_heat),
        closed=int(figures.closed),
        complete=int(figures.complete),
        seconds=figures.seconds,
        peak_c=figures.peak_c,
        soaked_s=figures.soaked_s,
        hot_h=figures.hot_h,
        dose_min=figures.dose_min,
        alarms=sum(figures.alarms.values()),
        alarm_names=" ".join(figures.alarms),
        over_min=round(listener.over_s / 60.0, 2),
        soak_error_c=listener.soak_error_c(schedule_of(header, str(path))),
        gas_kg=None if figures.physics is None else figures.physics.gas_kg,
    )
    story = msgspec.json.encode(Story(figures, tuple(listener.events), listener.course()))
    return ArchivedHeat(row, packed(story), packed(content))


def record_content(path: Path) -> bytes:
    """Give a record as its lines stand, packed or not; raises `RecordError`."""
    try:
        data = path.read_bytes()
        return unpacked(data) if path.suffix == ".gz" else data
    except (OSError, EOFError, zlib.error) as error:
        raise RecordError(f"{path}: cannot read: {error}") from error


def _furnace(header: Header) -> str:
    mqtt = header.settings.get("mqtt", {})
    device = mqtt.get("device") if isinstance(mqtt, Mapping) else None
    return device if isinstance(device, str) else "furnace-1"
