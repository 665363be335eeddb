"""A noisy sensor: readings that scatter far more than they used to, and whether the mains are to blame.

Slow scatter is the flame's business; this looks at what readings scatter by within a bucket of five seconds, which no
furnace does. It is compared with what was usual in this heat, and with what is bearable at all. The noise learnt
elsewhere would not do: it is a law of white noise and flicker, and neither pickup nor a loose plug keeps to it. When
the band has been left, the last readings are searched for a narrow line: flame and loose contacts have none, mains
pickup does. At the rate of the readings 50 or 60 Hz appear at their alias, far below their true frequency.

Knows nothing of the heat.
"""

import math
from collections import deque

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt, ReportMeaning
from rampwarden.core.diagnosis.strongest_line import strongest_line
from rampwarden.core.model import Finding, Priority, Trend
from rampwarden.core.short_orders import ShortOrder

SENSOR_NOISY = AlarmEntry(
    name="sensor-noisy",
    condition="readings scatter several times as much as was usual, or leap beside their course again and again",
    priority=Priority.LOW,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="the scatter is averaged and the leaps are counted already; a minute of quiet ends it",
    why="margins widen with the scatter, so ramp alarms come later",
    action="look at plug, shield and cable run; keep away from mains and ignition leads",
    short_order=ShortOrder.CABLE_RUN,
    time_to_act="this heat",
    rests_in_transfer=True,
    doubts=ReadingDoubt.UNCERTAIN,
    is_opinion=True,
    report=ReportMeaning.READING_IN_DOUBT,
)

_AVERAGED_S = 60.0
_MAINS_HZ = (50.0, 60.0)


# Where the band ends. Common practice, no source, but where said.
_BEARABLE_C = 2.5
"""°C. Beyond this it is too much whatever was usual: near half of what the outlier gate lets pass at all."""
_ROUGHEST_C = 1.2
"""°C. Up to this nothing is said: the roughest small burner we reckon with scatters by less than half of it."""
_RATIO = 3.0
"""Times the usual scatter. A flame that grows threefold rougher stays just inside."""
_BACK = 0.7
"""Share of the limit at which the alarm's condition ends."""
_MEMORY_S = 1800.0
"""s, > 0. What is usual is averaged over half an hour, and stands still while the band is left."""
_LEARNING_S = 300.0
"""s. At the start of a heat nothing is usual yet."""
_LINE_SHARE = 0.45
"""Share of all scatter that must lie in one line to call it one; of noise alone it holds about a tenth."""
_MAINS_OFF_HZ = 0.2
"""Hz. So far from its alias the mains may be met: the grid wanders by 0.1 Hz, and the pace is not known better."""
_READINGS = 128
"""Readings that are searched."""


class SensorNoiseWatch:
    """Compares the scatter with what was usual."""

    def __init__(self) -> None:
        self._readings: deque[tuple[float, float]] = deque(maxlen=_READINGS)
        self.add = self._readings.append
        """Add a believed reading (s, °C): a plain append, since it happens at every one."""
        self._first_s: float | None = None
        self._last_s = 0.0
        self._usual_c = 0.0
        self._present = False
        self._cause = ""
        self.since_s = 0.0
        """Since when it has been so, s: the scatter is averaged over a minute, so it began before it was seen."""

    def judge(self, trend: Trend, interval_s: float) -> Finding | None:
        """Compare the scatter with the usual; `interval_s` is the usual time between readings, s."""
        time_s = trend.time_s
        scatter_c = math.sqrt(trend.scatter_c2)
        if self._first_s is None:
            self._first_s = self._last_s = time_s
        age_s, step_s = time_s - self._first_s, time_s - self._last_s
        self._last_s = time_s
        limit_c = min(max(_RATIO * self._usual_c, _ROUGHEST_C), _BEARABLE_C)
        was = self._present
        self._present = age_s >= _LEARNING_S and scatter_c > (_BACK * limit_c if was else limit_c)
        if not self._present:
            gain = min(1.0, (step_s + 1.0) / (min(age_s, _MEMORY_S) + 1.0))
            self._usual_c += gain * (scatter_c - self._usual_c)
            return None
        if not was:
            self._cause = self._find_cause(interval_s)
            self.since_s = time_s - _AVERAGED_S
        what = f"readings scatter by {scatter_c:.1f} °C within seconds, {self._usual_c:.1f} is usual: "
        return Finding(round(scatter_c, 2), round(limit_c, 2), "°C", what + self._cause)

    def _shows_as(self, mains_hz: float, line_hz: float, interval_s: float) -> bool:
        """Tell whether this mains frequency, met once in `interval_s`, would show as the line."""
        alias_hz = abs(mains_hz - round(mains_hz * interval_s) / interval_s)
        return abs(alias_hz - line_hz) <= _MAINS_OFF_HZ

    def _find_cause(self, interval_s: float) -> str:
        line_hz, share = strongest_line(self._readings, interval_s)
        if share < _LINE_SHARE:
            return "doubt plug, wires and insulation, not the heat"
        near = [f"{mains_hz:.0f}" for mains_hz in _MAINS_HZ if self._shows_as(mains_hz, line_hz, interval_s)]
        if near:
            return f"likely mains pickup, a narrow line at {line_hz:.2f} Hz where {' or '.join(near)} Hz would show"
        return f"a narrow line at {line_hz:.2f} Hz, some pickup: doubt wires and shield, not the heat"
