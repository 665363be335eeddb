"""What one heat did to its crucible, in figures: computed from its record by a replay, in one pass.

The meter only adds up what the monitor measured, so a figure can no more disagree with the alarms than a replay can. It
costs about a microsecond a reading. Knows nothing of where the figures are kept.
"""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Protocol

from msgspec import UNSET, UnsetType

from rampwarden.core.heat import LONGEST_CREDITED_S
from rampwarden.core.limits import SegmentLimits
from rampwarden.core.model import Event, EventName, ProbeReading, Quality, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.pot import ClaimName, PotAccount
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.core.usual_marks import POT_LOOKS, maybe_usual
from rampwarden.core.weight_marks import POT, maybe_weight_kg
from rampwarden.errors import RecordError
from rampwarden.records.figures import POT_KG, HeatFigures, PhysicsFigures, SegmentFigures
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_identity import record_id
from rampwarden.records.record_lines import Line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, schedule_of

HOT_C = 700.0
"""°C above which hours are counted as the wear of a crucible. Common practice, no source."""


class Observer(Protocol):
    """Whoever looks on while a record is read for its figures, so that nothing needs reading twice."""

    def take(self, line: Line, monitor: Monitor) -> None:
        """Look at the monitor, which has just taken `line`."""

    def hear(self, event: Event) -> None:
        """Hear an event of the replay."""


class FiguresMeter:
    """Adds up one heat, reading by reading."""

    def __init__(self, schedule: Schedule) -> None:
        self._schedule = schedule
        self._limits: SegmentLimits | None = None
        self._entered_s = 0.0
        self._soaked_s = 0.0
        self._segments: dict[int, SegmentFigures] = {}
        self._last_s: float | None = None
        self._last_c = 0.0
        self.first_s = 0.0
        self.peak_c: float | None = None
        self.hot_s = 0.0
        self.unseen_s = 0.0
        self.alarms: dict[str, int] = {}
        self.complete = False
        self.mass_after_kg: float | UnsetType = UNSET
        self.look: str | UnsetType = UNSET

    def take(self, monitor: Monitor) -> None:
        """Add what the monitor has just measured; a reading that it does not believe adds nothing."""
        measurement = monitor.followed
        if measurement is None or measurement.quality is not Quality.GOOD or measurement.temp_c is None:
            return
        time_s, temp_c = measurement.time_s, measurement.temp_c
        if self._last_s is not None and time_s <= self._last_s:
            return
        if monitor.limits is not self._limits:
            self._turn_to(monitor.limits, time_s)
        self._soaked_s = monitor.soaked_s
        last_s = self._last_s
        if last_s is None:
            self.first_s, self.peak_c = time_s, temp_c
        else:
            self._add(time_s - last_s, temp_c)
        self._last_s, self._last_c = time_s, temp_c

    def hear(self, event: Event) -> None:
        """Count an alarm that is raised; note a soak or a schedule that is complete."""
        if event.raises_alarm and event.alarm is not None:
            self.alarms[event.alarm] = self.alarms.get(event.alarm, 0) + 1
        elif event.event is EventName.SOAK_COMPLETE and self._limits is not None:
            # The reading that completes it belongs to the next segment already: the hold is what was soaked.
            self._soaked_s = self._schedule.segments[self._limits.index].hold_s
        elif event.event in (EventName.SCHEDULE_DONE, EventName.HEAT_COMPLETE):
            self.complete = True
        elif event.event is EventName.MARK and event.segment is None:
            self._hear_of_the_pot(event.text)

    def _hear_of_the_pot(self, text: str) -> None:
        """Take what is marked outside any segment; before the heat it is said of the pot as it went in."""
        usual = maybe_usual(text)
        if self._last_s is None or usual is None:
            return
        if (kg := maybe_weight_kg(text, POT)) is not None and POT_KG[0] <= kg <= POT_KG[1]:
            self.mass_after_kg = kg
        elif usual[0].name == POT_LOOKS:
            self.look = usual[1]

    def segments(self) -> tuple[SegmentFigures, ...]:
        """Give the segments in order, the present one included."""
        if self._limits is not None and self._last_s is not None:
            self._turn_to(None, self._last_s)
        return tuple(self._segments[number] for number in sorted(self._segments))

    @property
    def soaked_s(self) -> float:
        """Time in the band of the hottest soak that was reached, s."""
        soaks = [index for index in self._segments if self._schedule.segments[index].kind is SegmentKind.SOAK]
        hottest = max(soaks, key=lambda index: self._schedule.segments[index].at_c or 0.0, default=None)
        return 0.0 if hottest is None else self._segments[hottest].soaked_s

    def _add(self, seconds: float, temp_c: float) -> None:
        if seconds > LONGEST_CREDITED_S:
            self.unseen_s += seconds
        if self.peak_c is None or temp_c > self.peak_c:
            self.peak_c = temp_c
        if 0.5 * (temp_c + self._last_c) >= HOT_C:
            self.hot_s += seconds

    def _turn_to(self, limits: SegmentLimits | None, time_s: float) -> None:
        """Close the segment being left and begin the next."""
        left = self._limits
        if left is not None:
            figures = self._figures_of(left, time_s)
            known = self._segments.get(left.index)
            # A watch that was taken up again judges the same segment anew.
            self._segments[left.index] = figures if known is None else _joined(known, figures)
        self._limits = limits
        self._entered_s = time_s
        self._soaked_s = 0.0

    def _figures_of(self, limits: SegmentLimits, time_s: float) -> SegmentFigures:
        segment = self._schedule.segments[limits.index]
        climbs = limits.worst_climbs_c
        worst = max(climbs, key=lambda climb: climb[1] / climb[0].climb_c, default=None)
        return SegmentFigures(
            number=limits.index + 1,
            name=segment.name,
            kind=segment.kind,
            seconds=round(time_s - self._entered_s, 1),
            climb_c=None if worst is None else round(worst[1], 2),
            limit_c=None if worst is None else worst[0].climb_c,
            window_s=None if worst is None else worst[0].window_s,
            soaked_s=round(self._soaked_s, 1),
            hold_s=segment.hold_s,
        )


def figures_of(path: Path, other_schedule: Schedule | None = None, observer: Observer | None = None) -> HeatFigures:
    """Read a record once and give its figures, with the `observer` looking on.

    `other_schedule` takes the place of the record's own. Raises `RecordError` when this is no heat record, carries no
    schedule, or holds no temperature that could be believed.
    """
    with RecordReader(path) as reader:
        header = reader.header
        schedule = other_schedule or schedule_of(header, str(path))
        monitor = Monitor(schedule, parameters_of(header, str(path)))
        meter = FiguresMeter(schedule)
        run = Replay(monitor)
        for event in run.events(_metered(reader, monitor, meter, observer)):
            meter.hear(event)
            if observer is not None:
                observer.hear(event)
    if meter.peak_c is None:
        raise RecordError(f"{path}: holds no temperature that could be believed; there is nothing to tell of it")
    summary = run.summary
    segments = meter.segments()
    account = monitor.account()
    return HeatFigures(
        record_id=record_id(path, header),
        file=str(path.absolute()),
        started=header.started,
        title=schedule.title,
        mark=header.crucible,
        metal=header.metal,
        thermocouple=header.thermocouple,
        rehearsal=header.rehearsal,
        closed=summary.closed,
        complete=meter.complete,
        readings=summary.readings,
        seconds=round(summary.last_s - meter.first_s, 1),
        peak_c=round(meter.peak_c, 1),
        soaked_s=_soaked_s(account, meter),
        hot_h=round(meter.hot_s / 3600.0, 3),
        dose_min=round(account.dose_min, 2),
        unseen_s=round(meter.unseen_s, 1),
        alarms=dict(sorted(meter.alarms.items())),
        segments=segments,
        account=account,
        readiness=monitor.readiness(),
        physics=_physics(monitor),
        mass_after_kg=meter.mass_after_kg,
        look=meter.look,
    )


def _physics(monitor: Monitor) -> PhysicsFigures | None:
    figures = PhysicsFigures(
        wall=monitor.physics.wall_peaks,
        gas=monitor.physics.gas_figures,
        water=monitor.physics.water_state(),
        dry_heat=monitor.physics.dry_heat,
    )
    return None if figures == PhysicsFigures() else figures


def _soaked_s(account: PotAccount, meter: FiguresMeter) -> float:
    """Give the soak in seconds, as the account has it wherever a soak at working temperature was asked for."""
    if not account.soak_asked:
        return meter.soaked_s
    evidence = account.claim(ClaimName.SOAKED).evidence
    return 0.0 if evidence is None or evidence.measure is None else round(evidence.measure, 1)


def _metered(lines: Iterable[Line], monitor: Monitor, meter: FiguresMeter, observer: Observer | None) -> Iterator[Line]:
    """Pass lines on, and let the meter and who looks on see the monitor once it has taken each."""
    for line in lines:
        yield line
        if isinstance(line, Reading | ProbeReading):
            meter.take(monitor)
        if observer is not None:
            observer.take(line, monitor)


def _joined(first: SegmentFigures, second: SegmentFigures) -> SegmentFigures:
    """Give one segment's figures out of two parts of it: the worse climb, the time of both, the later soak clock."""
    worse = max(first, second, key=lambda part: (part.climb_c or 0.0) / (part.limit_c or 1.0))
    return SegmentFigures(
        number=first.number,
        name=first.name,
        kind=first.kind,
        seconds=round(first.seconds + second.seconds, 1),
        climb_c=worse.climb_c,
        limit_c=worse.limit_c,
        window_s=worse.window_s,
        soaked_s=max(first.soaked_s, second.soaked_s),
        hold_s=first.hold_s,
    )
