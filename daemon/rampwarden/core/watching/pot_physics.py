"""The pot's own physics in a running heat: what of a reading is the pot's, and what the equations make of it.

Composes `physics` with the heat: in a transfer, after it and with a probe out of its place a reading says nothing of
the wall. Judges nothing itself.
"""

from rampwarden.core.alarm_entry import names
from rampwarden.core.heat import PULLED_WITHIN_S, HeatTracker, PulledProbe
from rampwarden.core.model import WallPeak, WallState
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.physics import WALL_ALARMS, WALL_COOLING, WallWatch
from rampwarden.core.pot import Place
from rampwarden.core.schedule import SegmentKind
from rampwarden.core.watching.alarm_reports import AlarmReports
from rampwarden.core.watching.schedule_passage import SchedulePassage

_WALL_ALARMS = names(WALL_ALARMS)
# Put back on its pot, a probe takes so long to read it again, s. Common practice, no source.
_ARRIVES_S = 180.0


class PotPhysics:
    """Follows what can be followed of the pot: its wall, where class, thickness and the probe's place are known."""

    def __init__(
        self, parameters: MonitorParameters, tracker: HeatTracker, passage: SchedulePassage, alarms: AlarmReports
    ) -> None:
        self._tracker, self._passage, self._alarms = tracker, passage, alarms
        self._probe = PulledProbe()
        self._wall: WallWatch | None = None
        if parameters.wall is not None and parameters.place in (Place.POT.value, Place.CHAMBER.value):
            self._wall = WallWatch(
                parameters.wall,
                on_pot=parameters.place == Place.POT.value,
                longest_gap_s=4.0 * parameters.longest_credited_s,
            )

    def feed(self, time_s: float, temp_c: float) -> None:
        """Take a believed temperature (°C) at `time_s` (s, rising)."""
        wall, segment = self._wall, self._tracker.segment
        if wall is None or segment is None:
            return
        wall.enter(self._tracker.index + 1)
        if segment.kind is SegmentKind.TRANSFER:
            wall.rest(time_s + _ARRIVES_S)
        elif self._probe.feed(time_s, temp_c):
            wall.doubt(time_s - PULLED_WITHIN_S)
            wall.rest(time_s + _ARRIVES_S)
            self._alarms.judge(_WALL_ALARMS, {})
        elif wall.feed(time_s, temp_c):
            # While it heats the difference is shown and nothing rings: brisk heats would ring throughout.
            cools = segment.kind is SegmentKind.COOL or self._passage.done
            found = wall.finding(raised=WALL_COOLING.name in self._alarms.raised) if cools else None
            self._alarms.judge(_WALL_ALARMS, {} if found is None else {WALL_COOLING.name: found})

    def worth(self, doubted_since_s: float | None) -> None:
        """Take since when readings say nothing of the pot, s; None while they do."""
        if self._wall is not None and doubted_since_s is not None:
            self._wall.doubt(doubted_since_s)

    def wall_state(self) -> WallState | None:
        """Give the wall's difference; None where it is not followed or not known."""
        return None if self._wall is None else self._wall.state()

    @property
    def wall_peaks(self) -> tuple[WallPeak, ...]:
        """The greatest difference of each segment."""
        return () if self._wall is None else self._wall.by_segment
