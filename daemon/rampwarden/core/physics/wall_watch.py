"""Follows the wall's difference through a heat: now, its greatest in segment and heat, and what cooling does to it.

Theory of operation. Readings are averaged over steps of two seconds; each step moves the wall. Steps in which nothing
came are filled in along a straight line, up to a minute; after longer silence, a transfer or a probe out of its place
the wall begins anew, the same all through, and nothing is shown until L²/a later, when what it was before has worn off.
Until then its tension is understated, never overstated. What a doubted reading had shown is forgotten.

An estimate: strengths and moduli of one kind of wall scatter by a factor of two (common practice, no source).
"""

import math
from collections.abc import Iterable

from rampwarden.core.model import Finding, WallPeak, WallState
from rampwarden.core.physics.physics_alarms import WALL_COOLING
from rampwarden.core.physics.pot_wall import STEP_S, PotWall, WallConduction

CAUTION_SHARE = 0.25
"""Of the strength: what a schedule's usual safety factor of four leaves. Common practice, no source."""
_LONGEST_FILLED_S = 60.0
# A pot found colder than this has stood: it is as cold inside. Common practice, no source.
_COLD_C = 60.0
# Peaks this close to one another are one, s; at most so many are kept to go back to when readings come to be doubted.
_APART_S = 15.0
_MOST_PEAKS = 64
# No face in a furnace falls by so much within a step, K: an open lid costs 2 or 3. A probe that is pulled does, and is
# known for one within so many seconds. Own arithmetic: 800 °C above the room, time constants up to 20 s.
_LEAP_K = 10.0
_LEAP_RESTS_S = 20.0


class WallWatch:
    """Follows one wall. `on_pot`: the probe lies on its outer face; else it hangs in the chamber around it.

    `longest_gap_s` is how far two readings of a slow board may be apart and still be joined, s.
    """

    def __init__(self, wall: PotWall, *, on_pot: bool, longest_gap_s: float = 0.0) -> None:
        self._wall = wall
        self._on_pot = on_pot
        self._longest_gap_s = max(_LONGEST_FILLED_S, longest_gap_s)
        self._body: WallConduction | None = None
        self._known_from_s = 0.0
        self._waits_until_s = -math.inf
        self._step_ends_s = self._last_mean_c = self._sum_c = 0.0
        self._count = 0
        self._segment = 1
        self._peaks: list[WallPeak] = []
        self._through_k = self._pull_k = self._share = 0.0
        self._time_s = 0.0
        self._leapt_s = -math.inf

    def enter(self, number: int) -> None:
        """Segment `number` begins."""
        self._segment = number

    def rest(self, until_s: float = -math.inf) -> None:
        """What the probe reads is not the pot's: begin anew with the first reading after `until_s` (s)."""
        self._body = None
        self._waits_until_s = until_s

    def doubt(self, since_s: float) -> None:
        """What came since `since_s` (s) is doubted: forget what it showed, and begin anew."""
        self._peaks = [peak for peak in self._peaks if peak.at_s < since_s]
        self.rest()

    def feed(self, time_s: float, temp_c: float) -> bool:
        """Take a believed reading (s, rising; °C); gives whether the wall has moved a step."""
        if time_s < self._waits_until_s:
            return False
        if self._body is None or time_s - self._step_ends_s > self._longest_gap_s:
            self._begin(time_s, temp_c)
            return False
        if time_s < self._step_ends_s:
            self._sum_c += temp_c
            self._count += 1
            return False
        # What came since the step began, or along the line to this reading where nothing did.
        steps = int((time_s - self._step_ends_s) / STEP_S) + 1
        if self._count:
            self._move(self._sum_c / self._count)
            steps -= 1
        from_c = self._last_mean_c
        for number in range(1, steps + 1):
            self._move(from_c + (temp_c - from_c) * number / (steps + 1))
        self._sum_c, self._count = temp_c, 1
        self._look(time_s)
        return True

    def finding(self, *, raised: bool) -> Finding | None:
        """Give what cooling does to the wall if that is worth a caution; to one that is `raised` a deadband applies."""
        limit_k = CAUTION_SHARE * self._wall.stands_k
        if self._body is None or self._time_s < self._leapt_s + _LEAP_RESTS_S:
            return None
        if self._pull_k <= limit_k - (WALL_COOLING.deadband if raised else 0.0):
            return None
        pull_k, share = self._pull_k, self._pull_k / self._wall.stands_k
        what = (
            f"the outer face is {pull_k:.0f} K colder than the wall's mean, {share:.0%} of what such a wall stands by "
            "handbook figures: an estimate, good to a factor of two"
        )
        return Finding(round(pull_k, 1), round(limit_k, 1), "K", what)

    def state(self) -> WallState | None:
        """Give the wall as it is; None while it is not known."""
        if self._body is None or self._time_s < self._known_from_s:
            return None
        return WallState(
            through_k=round(self._through_k, 1),
            strength_share=round(self._share, 3),
            in_segment=_greatest(peak for peak in self._peaks if peak.segment == self._segment),
            in_heat=self.greatest,
        )

    @property
    def greatest(self) -> WallPeak | None:
        """The greatest difference of the heat so far; None while none is known."""
        return _greatest(self._peaks)

    @property
    def by_segment(self) -> tuple[WallPeak, ...]:
        """The greatest of each segment, in order."""
        numbers = sorted({peak.segment for peak in self._peaks})
        found = (_greatest(peak for peak in self._peaks if peak.segment == number) for number in numbers)
        return tuple(peak for peak in found if peak is not None)

    def _begin(self, time_s: float, temp_c: float) -> None:
        self._body = WallConduction(self._wall, temp_c)
        self._known_from_s = time_s if temp_c <= _COLD_C else time_s + self._wall.settling_s
        self._step_ends_s = time_s + STEP_S
        self._last_mean_c, self._sum_c, self._count = temp_c, temp_c, 1
        self._through_k = self._pull_k = self._share = 0.0
        self._time_s = time_s

    def _move(self, mean_c: float) -> None:
        body = self._body
        if body is None:
            return
        if self._on_pot:
            body.step(STEP_S, mean_c)
        else:
            body.step_in_chamber(STEP_S, mean_c)
        if mean_c < self._last_mean_c - _LEAP_K:
            self._leapt_s = self._step_ends_s
        self._last_mean_c = mean_c
        self._step_ends_s += STEP_S

    def _look(self, time_s: float) -> None:
        """Work out what is shown, and keep it where it is the greatest."""
        body = self._body
        if body is None:
            return
        mean_c, outer_c, inner_c = body.mean_c, body.outer_c, body.inner_c
        self._time_s = time_s
        self._through_k, self._pull_k = outer_c - inner_c, mean_c - outer_c
        self._share = max(self._pull_k, mean_c - inner_c, 0.0) / self._wall.stands_k
        if time_s < self._known_from_s:
            return
        peaks, size_k = self._peaks, abs(self._through_k)
        last = next((peak for peak in reversed(peaks) if peak.segment == self._segment), None)
        if last is not None and size_k <= abs(last.through_k):
            return
        peak = WallPeak(
            round(self._through_k, 1), round(time_s, 1), self._segment, round(self._share, 3), round(self._pull_k, 1)
        )
        if last is not None and time_s - last.at_s < _APART_S:
            peaks[peaks.index(last)] = peak
            return
        peaks.append(peak)
        if len(peaks) > _MOST_PEAKS:
            self._thin()

    def _thin(self) -> None:
        """Forget every second of the older half, but for the last of each segment: that is its greatest."""
        peaks = self._peaks
        kept = {peak.segment: peak for peak in peaks}
        self._peaks = [
            peak
            for place, peak in enumerate(peaks)
            if place >= _MOST_PEAKS // 2 or place % 2 or kept[peak.segment] is peak
        ]


def _greatest(peaks: Iterable[WallPeak]) -> WallPeak | None:
    return max(peaks, key=lambda peak: abs(peak.through_k), default=None)
