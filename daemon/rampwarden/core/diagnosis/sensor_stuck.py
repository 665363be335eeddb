"""A stuck sensor: a reading that does not move at all, where readings were never still before.

A converter or a board that hangs goes on sending its last value, and every limit is kept. What gives it away is that
nothing real is so still. But a coarse converter on a quiet furnace also repeats itself for minutes, so stillness alone
proves nothing. Proof needs noise wider than a step: readings that jump two steps and more against the last move show
that, and by how often they do, how long a stillness chance could give. Where no such jumps were seen, nothing is said.

It looks at what the converter gave (µV, or °C of a board that converts), not at the compensated temperature, which
moves with the junction however stuck the converter is.
"""

import math

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt, ReportMeaning
from rampwarden.core.model import Finding, Priority
from rampwarden.core.quantities import format_duration
from rampwarden.core.short_orders import ShortOrder

SENSOR_STUCK = AlarmEntry(
    name="sensor-stuck",
    condition="not one step of movement for half a minute and more, where readings scattered before",
    priority=Priority.HIGH,
    on_delay_s=0.0,
    off_delay_s=10.0,
    about_delays="the stillness is the delay",
    why="the furnace goes on unseen, and every limit seems kept",
    action="restart board and converter, hold the heat until the reading moves",
    short_order=ShortOrder.RESTART_BOARD,
    time_to_act="at once",
    doubts=ReadingDoubt.MEANINGLESS,
    report=ReportMeaning.READING_IN_DOUBT,
)

# How long is too still. Common practice, no source, but where said.
_SHORTEST_S = 60.0
"""s, > 0. Nobody loses anything by waiting so long, and a board that answers late often repeats for seconds."""
_FEWEST_READINGS = 20
"""Readings that must be the same, however rough the noise was."""
_STILL_S = 120.0
"""s, > 0. So long one value may stand before it needs confirming: a quiet oven drifts by a quarter of a degree in
less."""
_STILL_READINGS = 5
"""Readings that must be the same for that: a board that speaks once a minute is no stiller for it."""
_JUMPS_MISSED = 12.0
"""How many jumps must have been missed. With noise half a step wide, about the least that jumps at all, twelve
missed last 340 readings, and the chance of that is below 1e-50; with more noise it is smaller still."""
_JUMPS_KNOWN = 12
"""Jumps seen before anything is said."""
_MEMORY = 900.0
"""Readings, > 0. Over so many the share of jumps is averaged: flame on and flame off are two kinds of noise."""


class StuckWatch:
    """Watches the converter's own values."""

    __slots__ = ("_count", "_jumps", "_last", "_last_s", "_run", "_share", "_since_s", "_step", "_way")

    def __init__(self) -> None:
        self._last = math.nan
        self._last_s = self._since_s = 0.0
        self._way = 0.0
        self._step = math.inf
        self._run = 0
        self._count = 0.0
        self._jumps = 0
        self._share = 0.0

    def feed(self, time_s: float, value: float) -> None:
        """Add what the converter gave (µV or °C) at `time_s` (s)."""
        self._last_s = time_s
        if value == self._last:
            self._run += 1
            return
        if self._run:
            self._move(value - self._last)
        self._last = value
        self._since_s = time_s
        self._run = 1

    @property
    def still_s(self) -> float:
        """How long the present value has stood, s."""
        return self._last_s - self._since_s

    @property
    def since_s(self) -> float:
        """Since when the present value has stood, s."""
        return self._since_s

    @property
    def is_still(self) -> bool:
        """Whether it has stood so long that nobody could tell a hung board from a quiet furnace."""
        return self._last_s - self._since_s >= _STILL_S and self._run >= _STILL_READINGS

    @property
    def is_odd(self) -> bool:
        """Whether readings scattered before and ought to have jumped several times since: no quiet furnace is so."""
        return self._run >= 0.5 * self._needed()

    def judge(self) -> Finding | None:
        """Tell whether the present value has stood too long."""
        still_s = self.still_s
        if self._run < self._needed() or still_s < _SHORTEST_S:
            return None
        lasted = format_duration(still_s)
        what = f"has not moved by one step for {lasted}, where readings scattered before: doubt board and sensor first"
        return Finding(round(still_s, 1), _SHORTEST_S, "s", what)

    def _move(self, move: float) -> None:
        """Learn from a change: how small a step is, and whether this was a jump against the last move."""
        size = abs(move)
        self._step = min(self._step, size)
        jumped = size >= 1.5 * self._step and move * self._way < 0.0
        self._way = move
        if jumped:
            self._jumps += 1
        count = self._count + self._run
        self._count = count = count if count < _MEMORY else _MEMORY
        share = self._share + (jumped - self._run * self._share) / count
        self._share = share if share > 0.0 else 0.0

    def _needed(self) -> float:
        """How many equal readings in a row are too many, by the share of jumps that was usual."""
        if self._jumps < _JUMPS_KNOWN or self._share <= 0.0:
            return math.inf
        return max(float(_FEWEST_READINGS), _JUMPS_MISSED / self._share)
