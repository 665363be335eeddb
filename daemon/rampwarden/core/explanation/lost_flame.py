"""How likely the flame is out: the bend of the course over two minutes and the flicker, weighed together.

The log odds are linear in what is seen, with weights fitted to heats of two simulated furnaces of different structure
(own arithmetic; the tuning seeds, three heats without to one with a lost flame). What they weigh: which share of the
heat was lost, from the slopes of four spans of the last two minutes; how steeply it falls; whether the flicker is gone;
and how near the target is, where people turn the flame down as a rule.
"""

from collections import deque

from rampwarden.core.explanation.statements import Context
from rampwarden.core.explanation.usual_furnace import NEAR_C, beyond_point_c, falls_c_per_s
from rampwarden.core.schedule import SegmentKind

_KEPT = 48
_LEAST_KEPT = 32
_SPACING_S = 5.0
_LEAST_C = 250.0
_LEAST_LOST = 0.1
_UNLIKELY = -10.0
"""Log odds where less than that share of the heat is gone: nothing else is looked at then."""
_BEND_DEVIATIONS = 8.0
_MINUTE, _EARLIER = 6, 8
_BEND_ERROR = 0.0229
"""1/s. Standard error of the bend from `_EARLIER` to the last `_MINUTE` buckets, over what one bucket scatters by: the
slopes' √(2 ÷ half) ÷ (half · 5 s), squared and added. Own arithmetic; a slow climb seen every few seconds bends by as
much in its noise, and is then no lost flame."""
_POINT_NATS = 4.0
_ABOVE_C, _ABOVE_NATS = 55.0, 2.2
"""°C by which a pot is hotter than the metal that melts in it, at a brisk climb."""
_HEADED, _HEADED_NATS = 0.5, 2.5
"""Of 20 °C by which a soak was headed beyond its target in two minutes: who sees that turns the flame right down."""
_FADED, _FADED_NATS = 0.15, 2.2
"""Share of the heat that was gone a minute and more before: what fades is no flame that goes out."""
_CLIMB = (-8.0, 5.6, 1.61, -0.68, 0.6, 0.15, 0.67, 0.53, 2.13, -7.28, -0.4, 0.46, -1.83, -0.59, 3.07)
_SOAK = (-10.21, 1.77, 3.31, -4.28, 1.98, -0.97, -0.55, 1.63, 2.25, -7.59, 0.0, 0.56, -1.28, 0.32, 5.32)
CLIMB_TELLS, SOAK_TELLS = 0.1, 0.8


class LostFlame:
    """Follows the slopes: `now_c_per_s` and `before_c_per_s` at the last bucket that could be judged."""

    def __init__(self) -> None:
        self._sums: deque[float] = deque(maxlen=_KEPT)
        self.now_c_per_s = self.before_c_per_s = 0.0
        self.unlikely = 0.0
        """Nats more that are asked for: a plateau, or heat that had been fading before."""

    def restart(self) -> None:
        """Forget the course."""
        self._sums.clear()

    def bridge(self, missing: int, temp_c: float) -> None:
        """Draw a line over the `missing` buckets of a gap to the one that comes, of `temp_c`: slopes want them all."""
        kept = self._sums
        if len(kept) > 1:
            last_c = kept[-1] - kept[-2]
            for n in range(1, missing + 1):
                kept.append(kept[-1] + last_c + (temp_c - last_c) * n / (missing + 1))

    def feed(
        self, temp_c: float, context: Context | None, entered_s: float, sums: list[float], lean: float, sigma_c: float
    ) -> float | None:
        """Take a bucket's mean, the segment and for how long (s), the flicker's sums and leaning (nats), the
        scatter (°C).

        Gives the log odds that the flame is out; None where there is no telling.
        """
        kept = self._sums
        kept.append((kept[-1] if kept else 0.0) + temp_c)
        if len(kept) < _LEAST_KEPT or context is None or context.target_c is None:
            return None
        is_soak = context.kind is SegmentKind.SOAK
        if not is_soak and context.kind is not SegmentKind.RAMP:
            return None
        if not context.wants_flame or temp_c < _LEAST_C:
            return None
        w1, w4 = self._slope(0, 3), self._slope(14, _EARLIER)
        w5 = self._slope(30, 8) if len(kept) >= _KEPT else w4
        cooling = falls_c_per_s(temp_c)
        scale = max(w4, 0.0) + cooling
        lost = (w4 - w1) / scale
        self.now_c_per_s, self.before_c_per_s = w1, w4
        if lost < _LEAST_LOST:
            return _UNLIKELY
        if w4 - self._slope(0, _MINUTE) < _BEND_DEVIATIONS * _BEND_ERROR * sigma_c:
            return _UNLIKELY
        w2, w3 = self._slope(6, 3), self._slope(12, 5)
        left_c = context.target_c - temp_c
        faded = _within((w5 - w4) / (max(w5, 0.0) + cooling), -1.0, 1.0)
        by_point = not is_soak and abs(beyond_point_c(temp_c)) < NEAR_C
        near = 1.0 if by_point and w1 > -0.25 * cooling else 0.0
        headed = _within((kept[-16] - kept[-17] + 120.0 * w4 - context.target_c) / 20.0, -1.5, 1.5)
        if is_soak:
            self.unlikely = _HEADED_NATS if headed > _HEADED else 0.0
        else:
            self.unlikely = self._unlikely(temp_c, cooling, sigma_c, faded)
        seen = [
            1.0,
            _within(lost, -2.0, 2.0),
            _within((w3 - w1) / (max(w3, 0.0) + cooling), -2.0, 2.0),
            _within(w1 / cooling, -1.5, 1.0),
            _within((w2 - w1) / scale, -1.0, 1.0),
            faded,
            sums[0] / 5.0,
            sums[1] / 5.0,
            sums[3] / 5.0,
            min(sigma_c * 0.1 / scale, 1.0),
            near,
            lean / 5.0,
            headed,
        ]
        if is_soak:
            seen += (_within(left_c / 20.0, -1.0, 1.0), _within(entered_s / 420.0, 0.0, 1.0))
        else:
            seen += (_within(left_c / max(w3, 0.03) / 300.0, -1.0, 3.0), _within(left_c / 100.0, -1.0, 1.0))
        weights = _SOAK if is_soak else _CLIMB
        total = 0.0
        for weight, value in zip(weights, seen, strict=True):
            total += weight * value
        return total

    def _unlikely(self, temp_c: float, cooling: float, sigma_c: float, faded: float) -> float:
        more = _FADED_NATS if faded > _FADED else 0.0
        if self._slope(0, 6) > -0.35 * cooling - 0.03 * sigma_c:
            beyond_c = beyond_point_c(temp_c)
            if abs(beyond_c) < NEAR_C:
                more += _POINT_NATS
            elif 0.0 < beyond_c < _ABOVE_C:
                more += _ABOVE_NATS
        return more

    def _slope(self, ago: int, half: int) -> float:
        """Give the slope between two neighbouring runs of `half` buckets, the later ending `ago` ago, °C/s."""
        kept = self._sums
        return (kept[-1 - ago] - 2.0 * kept[-1 - ago - half] + kept[-1 - ago - 2 * half]) / (half * half * _SPACING_S)


def _within(value: float, least: float, most: float) -> float:
    return least if value < least else most if value > most else value
