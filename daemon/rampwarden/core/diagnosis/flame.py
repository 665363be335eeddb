"""Flame out: a fall that begins in one moment, with the furnace's own time constant and nothing leading up to it.

A climb that turns at once is not yet a flame gone out: a lifted lid looks the same for a minute. But a flame flickers,
and its flicker reaches the probe. So two signs are added up. First, the flicker has stopped: each bend of the buckets'
course is weighed by how likely it is with the flame's flicker, as learnt in this heat, and without it, when only the
scatter of single readings is left; the sum of the logarithms is the evidence (a CUSUM). Second, the temperature falls;
to level off is not to fall. In a ramp that should go on climbing for long a broken-off slope will do,
since a cool furnace carries on for minutes before it turns, and that is when unburnt gas is worst. Where no flicker
can be told from the converter's noise (electric heat, a thick tube) only time is left: a steep fall that has lasted
three minutes.

It knows neither marks nor segments; whether a fall is to be expected is told from outside.
"""

import math

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.model import Finding, Priority, Trend
from rampwarden.core.quantities import format_duration

FLAME_OUT = AlarmEntry(
    name="flame-out",
    condition="from one moment the temperature falls as an unheated furnace does, with no flicker left",
    priority=Priority.HIGH,
    on_delay_s=0.0,
    off_delay_s=60.0,
    about_delays="no on-delay: gas is flowing",
    why="unburnt gas flows into a hot furnace and pools low; relighting it explodes",
    action="close the gas valve, wait, air out; only then look, and relight as the burner's maker says",
    time_to_act="at once",
    rests_in_transfer=True,
    rests_in_doubt=True,
    # Gas without a flame is worse than a heat lost: whatever the reading is worth, somebody goes and looks.
    action_in_doubt="do not trust the reading: look at the flame; where none burns, close the gas valve",
    is_opinion=True,
    look_at=("the gas: weigh the bottle, look at regulator, hose and burner",),
)

# How sure it must be. Common practice, no source, but where said.
_EVIDENCE = 10.0
"""Sum of log likelihood ratios that counts as flicker stopped."""
_INDEPENDENT = 0.6
"""Share of the evidence of one bend that is its own: neighbouring bends share two of their three buckets."""
_UNLIT = 1.25
"""Times what single readings' own scatter explains, that bends have without a flame: both are only estimated."""
_KNOWN = 0.8
"""Share of the lit variance below which the unlit must lie, for there to have been a flicker at all."""
_BEND_C = 0.08
"""°C that the course itself bends by from bucket to bucket while a furnace turns from climb to fall."""
_MEMORY = 360.0
"""Buckets, half an hour: over so many the lit variance is averaged."""
_LEARNT = 36
"""Buckets, three minutes, before the lit variance is believed."""
_BROKEN_OFF = 0.5
"""Share of the former slope below which a ramp that should go on has broken off."""
_RECOVERED = 0.8
"""Share of the former slope, or `relit_c_per_s` if that is more, above which a flame burns again."""
_RELIT_C_PER_S = 0.01
_DEVIATIONS = 3.0
"""Standard errors of a slope without a flame by which it must have changed, and fall."""
_FALLEN = 4.0
"""Times the usual bend by which it must have fallen since: flicker that sleeps by chance for minutes of a long soak
leaves the temperature where it was."""
_STEEP_C_PER_S = 300.0 / 3600.0
"""°C/s, > 0. A fall so steep is no drift: 300 K/h, the usual figure for a lost flame."""
_STEEP_S = 180.0
"""s. So long a steep fall must last when no flicker can tell: two time constants of a small furnace."""


class FlameWatch:
    """Weighs flicker and slope."""

    def __init__(self) -> None:
        self._steep_since_s: float | None = None
        self._present: Finding | None = None
        # A finding ends when the evidence falls below the one, or the slope rises above the other.
        self._ends_at = self._recovered = 0.0
        self.restart()

    def restart(self) -> None:
        """Learn the flicker anew: the pot stands elsewhere, or another fire is lit."""
        self._count = 0
        self._lit_c2 = 0.0
        self.set_aside()

    def set_aside(self) -> None:
        """Forget evidence and finding, not what was learnt: no flame is wanted now, or the sensor is in doubt."""
        self._evidence = 0.0
        self._stopped_s = 0.0
        self._highest_c = -math.inf
        self._slope_before: float | None = None
        self._steep_since_s = None
        self._present = None

    def feed(
        self,
        trend: Trend,
        *,
        climb_expected: bool = False,
        fall_expected: bool = False,
        excused: bool = False,
    ) -> Finding | None:
        """Judge the trend of a segment that wants a flame.

        `climb_expected` says that the climb should go on for long at this slope: then it need not fall to be judged.
        `fall_expected` says that a fall may be wanted or explained (a soak above its temperature, a lid marked open);
        a stopped flicker then still speaks. While it is `excused` nothing does, and what was said is taken back.
        """
        if trend.bend_c is None:
            return self._present
        known = self._weigh(trend, trend.bend_c * trend.bend_c)
        slope = trend.now_c_per_s
        if excused:
            # The evidence goes on: a flame that is still out when the excuse ends is told at once.
            self._present = self._steep_since_s = None
            return None
        if self._present is not None:
            if self._evidence < self._ends_at or (slope is not None and slope > self._recovered):
                self.set_aside()
            return self._present
        if slope is None:
            self._steep_since_s = None
        elif known:
            self._steep_since_s = None
            if self._evidence >= _EVIDENCE:
                self._judge_slope(trend, slope, climb_expected=climb_expected)
        else:
            self._judge_fall(trend, slope, expected=fall_expected)
        return self._present

    def _weigh(self, trend: Trend, bend_c2: float) -> bool:
        """Add one bend to the evidence, or learn from it; tells whether a flicker was there that could stop."""
        course_c = _BEND_C * (trend.spacing_s / 5.0) ** 2
        unlit_c2 = 6.0 * _UNLIT * trend.mean_c2 + course_c * course_c
        lit_c2 = self._lit_c2
        if lit_c2 > 0.0 and bend_c2 > 9.0 * lit_c2:
            bend_c2 = 9.0 * lit_c2
        known = self._count >= _LEARNT and unlit_c2 < _KNOWN * lit_c2
        if known:
            gain = math.log(lit_c2 / unlit_c2) + bend_c2 / lit_c2 - bend_c2 / unlit_c2
            evidence = self._evidence + 0.5 * _INDEPENDENT * gain
            if self._evidence <= 0.0 < evidence:
                self._stopped_s = trend.time_s
                self._slope_before = trend.before_c_per_s
                self._highest_c = trend.temp_c
            self._highest_c = max(self._highest_c, trend.temp_c)
            self._evidence = min(max(0.0, evidence), 1.5 * _EVIDENCE)
        else:
            self._evidence = 0.0
        if self._evidence < 0.2 * _EVIDENCE:
            self._count += 1
            self._lit_c2 += (bend_c2 - lit_c2) / min(float(self._count), _MEMORY)
        return known

    def _judge_slope(self, trend: Trend, slope: float, *, climb_expected: bool) -> None:
        before = self._slope_before
        if before is None:
            return
        half_s = 6.0 * trend.spacing_s
        # Two means of six buckets each, and no flicker in them.
        unlit_error = math.sqrt(trend.mean_c2 / 3.0) / half_s
        fallen_c = self._highest_c - trend.temp_c
        falls = slope < min(0.0, before) - _DEVIATIONS * unlit_error and fallen_c > _FALLEN * math.sqrt(self._lit_c2)
        breaks_off = climb_expected and slope < min(_BROKEN_OFF * before, before - 2.0 * _DEVIATIONS * unlit_error)
        if not (falls or breaks_off):
            return
        self._recovered = max(_RECOVERED * before, _RELIT_C_PER_S)
        self._ends_at = 0.2 * _EVIDENCE
        ago = format_duration(trend.time_s - self._stopped_s)
        what = (
            f"the flame's flicker stopped {ago} ago and {60 * before:+.1f} became {60 * slope:+.1f} °C/min: likely the "
            "flame is out while gas may still flow; else the probe has left the fire"
        )
        limit = min(before, 0.0) if falls else _BROKEN_OFF * before
        self._present = Finding(round(60 * slope, 2), round(60 * limit, 2), "°C/min", what)

    def _judge_fall(self, trend: Trend, slope: float, *, expected: bool) -> None:
        if slope > -_STEEP_C_PER_S or expected:
            self._steep_since_s = None
        elif self._steep_since_s is None:
            self._steep_since_s = trend.time_s
        elif trend.time_s - self._steep_since_s >= _STEEP_S:
            self._recovered, self._ends_at = 0.0, 0.0
            lasted = format_duration(trend.time_s - self._steep_since_s)
            what = (
                f"falls by {-60 * slope:.1f} °C/min, for {lasted} now and from one moment: likely the flame is out "
                "while gas may still flow, or the power is gone; possibly the lid stands open"
            )
            self._present = Finding(round(60 * slope, 2), round(-60 * _STEEP_C_PER_S, 2), "°C/min", what)
