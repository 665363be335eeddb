"""What a thermocouple that is wired right cannot read: three plausibility watches, each against a known point.

- `ReversedWatch`: no probe in a furnace that is being heated falls below its own reference junction. Crossed wires do
  exactly that: E - E(junction) changes its sign. Crossed twice (at the probe and again at the board) the reading has
  the right direction and is merely wrong by twice the EMF between the two places; that cannot be told from here.
- `JunctionWatch`: the junction's temperature enters every reading. A junction that races is not measured right, since
  its sensor and its terminals are two pieces of metal, and the error follows into the reading.
- `StartWatch`: a furnace at room temperature reads what the junction reads, whatever the type. Twice as much, or zero,
  means that the junction is compensated twice or not at all.

Whether the heat is on is told from outside.
"""

import math
from collections import deque

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt, ReportMeaning
from rampwarden.core.model import Bucket, Finding, Noise, Priority
from rampwarden.core.short_orders import ShortOrder

SENSOR_REVERSED = AlarmEntry(
    name="sensor-reversed",
    condition="the reading falls below its own reference junction while the heat is on",
    priority=Priority.HIGH,
    on_delay_s=0.0,
    off_delay_s=10.0,
    about_delays="it is found over minutes, which is delay enough",
    why="crossed wires show the heat upside down",
    action="swap the two wires at the board, hold the heat meanwhile",
    short_order=ShortOrder.SWAP_WIRES,
    time_to_act="minutes",
    doubts=ReadingDoubt.MEANINGLESS,
    report=ReportMeaning.READING_IN_DOUBT,
)

SENSOR_TYPE_SUSPECT = AlarmEntry(
    name="sensor-type-suspect",
    condition="the reading at a known point (cold start, a pure metal's plateau) fits another type or format",
    priority=Priority.LOW,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="it is found at one moment of a heat, so no delay would help",
    why="the wrong type is wrong by a hundred degrees and more at red heat",
    action="compare probe, cable and plug colours with the type that is set",
    short_order=ShortOrder.CHECK_TYPE,
    time_to_act="before red heat",
    doubts=ReadingDoubt.UNCERTAIN,
    is_opinion=True,
    report=ReportMeaning.READING_IN_DOUBT,
)

JUNCTION_RACING = AlarmEntry(
    name="junction-racing",
    condition="the reference junction changes by more than a degree a minute",
    priority=Priority.LOW,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="the rate is averaged already",
    why="its sensor lags behind its terminals, and the difference is an error of the reading",
    action="shade the board from heat and draught",
    short_order=ShortOrder.SHADE_BOARD,
    time_to_act="minutes",
    report=ReportMeaning.JUNCTION_IN_DOUBT,
    look_at=("where the board stands: out of heat and draught",),
)

# What a thermocouple that is wired right cannot read. Common practice, no source.
_BELOW_C = 6.0
"""°C below the junction, beyond which a probe in a heated furnace is taken for reversed; 2 °C of a junction's
error, 2.5 °C of a class 2 probe's, and a draught."""
_FALLEN_C = 5.0
"""°C fallen in the last twenty minutes: a furnace out of doors in winter is below the junction too, but still."""
_FALLEN_WITHIN_S = 1200.0
_IMPOSSIBLE_C = 40.0
"""°C below the junction after the pot was hot: no pot gets so cold, in a transfer neither."""
_HOT_C = 40.0
"""°C above the junction, from which on a pot counts as having been hot."""
_DEVIATIONS = 4.0
"""Standard deviations of the noise added to `below_c` and `fallen_c`."""
_RACE_C_PER_MIN = 1.0
"""°C/min, > 0. A board that warms up after switching on stays below half of it."""
_RACE_S = 120.0
"""s. The junction's rate is taken over so long."""
_COLD_START_C = 12.0
"""°C. With a junction nearer to zero than this, twice and once and none at all are too close to tell."""
_START_NEAR_C = 2.5
"""°C. So near to twice the junction, or to zero, a start must stand."""
_START_S = 120.0
"""s. So long it must stand there, moving by less than a degree."""


class ReversedWatch:
    """Watches for a reading that falls below its junction while the heat is on."""

    def __init__(self) -> None:
        self._highest: deque[tuple[float, float]] = deque()  # highest first, of the last twenty minutes
        self._was_hot = False
        self._suspected = False
        self._present = False
        self.since_s = 0.0
        """Since when the wires may have been crossed, s: since the heat began, or since a hot pot began to fall."""

    def feed(self, bucket: Bucket, noise: Noise, *, heating: bool) -> Finding | None:
        """Judge a bucket; `heating` says that the segment heats and the probe is in its place."""
        highest = self._highest
        while highest and highest[-1][1] <= bucket.temp_c:
            highest.pop()
        highest.append((bucket.time_s, bucket.temp_c))
        while highest[0][0] < bucket.time_s - _FALLEN_WITHIN_S:
            highest.popleft()
        if bucket.junction_c is None:
            return None
        below_c = bucket.junction_c - bucket.temp_c
        if below_c < -_HOT_C:
            self._was_hot = True
        if self._present:
            self._present = below_c > 0.5 * _BELOW_C
        else:
            doubt_c = _DEVIATIONS * math.hypot(noise.white_c, noise.flicker_c)
            fallen_c = highest[0][1] - bucket.temp_c
            falls = heating and below_c > _BELOW_C + doubt_c and fallen_c > _FALLEN_C + doubt_c
            impossible = self._was_hot and below_c > _IMPOSSIBLE_C + doubt_c
            # Twice in a row: the first bucket after a fault may hold half of it.
            self._present = self._suspected and (falls or impossible)
            if self._present:
                self.since_s = highest[0][0] if self._was_hot else 0.0
            self._suspected = falls or impossible
        if not self._present:
            return None
        what = (
            f"{bucket.temp_c:.0f} °C and falling while the heat is on, {below_c:.0f} below its own junction: "
            "likely the wires are crossed; the heat goes on unseen"
        )
        return Finding(round(bucket.temp_c, 1), round(bucket.junction_c, 1), "°C", what)


class JunctionWatch:
    """Watches how fast the reference junction changes; `c_per_s` is its present rate."""

    def __init__(self) -> None:
        self._past: deque[tuple[float, float]] = deque()
        self._present = False
        self.c_per_s = 0.0

    def feed(self, bucket: Bucket) -> Finding | None:
        """Judge a bucket."""
        if bucket.junction_c is None:
            return None
        past = self._past
        past.append((bucket.time_s, bucket.junction_c))
        while len(past) > 1 and past[1][0] <= bucket.time_s - _RACE_S:
            past.popleft()
        from_s, from_c = past[0]
        span_s = bucket.time_s - from_s
        if not 0.9 * _RACE_S <= span_s <= 2.0 * _RACE_S:
            self._present = False
            self.c_per_s = 0.0
            return None
        self.c_per_s = (bucket.junction_c - from_c) / span_s
        c_per_min = 60.0 * self.c_per_s
        self._present = abs(c_per_min) > (0.7 if self._present else 1.0) * _RACE_C_PER_MIN
        if not self._present:
            return None
        what = (
            f"the reference junction changes by {c_per_min:+.1f} °C/min, now {bucket.junction_c:.0f} °C: "
            "the reading is off by what its sensor lags behind; doubt the reading's last degrees, not the heat"
        )
        return Finding(round(c_per_min, 2), _RACE_C_PER_MIN, "°C/min", what)


class StartWatch:
    """Watches the first minutes of a heat for a junction compensated twice or not at all."""

    def __init__(self) -> None:
        self._first: Bucket | None = None
        self._lowest_c = math.inf
        self._highest_c = -math.inf
        self._finding: Finding | None = None
        self._over = False

    def feed(self, bucket: Bucket) -> Finding | None:
        """Judge a bucket; what was found at the start stands until the reading has moved on."""
        if self._finding is not None and bucket.temp_c > self._highest_c + 10.0 * _START_NEAR_C:
            # From here on a person has seen it climb, and can say more than we.
            self._finding = None
        if self._over:
            return self._finding
        if self._first is None:
            self._first = bucket
        self._lowest_c = min(self._lowest_c, bucket.temp_c)
        self._highest_c = max(self._highest_c, bucket.temp_c)
        if self._highest_c - self._lowest_c > 1.0 or bucket.junction_c is None:
            self._over = True
        elif bucket.time_s - self._first.time_s >= _START_S:
            self._over = True
            self._finding = self._judge(bucket.temp_c, bucket.junction_c)
        return self._finding

    def _judge(self, temp_c: float, junction_c: float) -> Finding | None:
        if junction_c < _COLD_START_C:
            return None
        if abs(temp_c - 2.0 * junction_c) < _START_NEAR_C:
            fault = "twice its junction: possibly the junction is compensated twice"
        elif abs(temp_c) < _START_NEAR_C:
            fault = f"its junction {junction_c:.0f}: possibly the junction is not compensated"
        else:
            return None
        what = f"a cold start stands at {temp_c:.0f} °C, {fault}; doubt board and format, not the heat"
        return Finding(round(temp_c, 1), round(junction_c, 1), "°C", what)
