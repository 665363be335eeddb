"""Buckets: believed readings of a few seconds averaged into one, and the trend of the last minutes drawn from them.

Whatever takes a minute to happen need not be looked for at every reading. The diagnoses look at buckets, so they cost
next to nothing however fast the board talks. A bucket is closed by the first reading after it: the clock alone closes
none, and a board slower than a bucket fills each with one reading.

Knows nothing of what the trend may mean.
"""

import math
from collections import deque

from rampwarden.core.model import Bucket, Noise, Trend
from rampwarden.core.noise_formulas import jump_error_c

LENGTH_S = 5.0
"""s. A probe's lag is longer, a flame's flicker about as long: shorter buckets would show nothing more."""
_BEFORE = 12
"""Buckets in each half of the slope before: a minute."""
_AGO = 18
"""Buckets ago at which it ends: what happens now, as a probe's lag draws it out, does not belong to it."""
_JUMP = 2
"""Buckets over which a jump is measured."""
_KEPT = 2 * _BEFORE + _AGO
_SCATTER = 12.0
"""Buckets, a minute, over which the scatter is averaged."""
_CLIP = 4.0
"""One bucket counts for so many times the average at most: a step of the heat is no scatter, however large."""
_LEAST_C2 = 0.01
"""°C². Where there is less scatter than this one bucket may count for more: silence must not clip the first noise."""
_NEIGHBOURS = 3.0
"""Spacings from the bucket before one to the one after it: two, and half a one on either side."""
_ENOUGH = 4
"""Readings of a bucket at least from which a line of its own is drawn."""
_LONGEST_GAP = 6.0
"""Bucket lengths without a reading, after which nothing that was known before counts."""


class BucketMeter:
    """Averages readings over whole multiples of `LENGTH_S`."""

    __slots__ = (
        "_both_c_s",
        "_count",
        "_end_s",
        "_first_c",
        "_first_s",
        "_junction_c",
        "_junctions",
        "_square_c2",
        "_square_s2",
        "_temp_c",
        "_time_s",
    )

    def __init__(self) -> None:
        self._end_s = -math.inf
        self._first_c = self._first_s = 0.0
        self._clear()

    def feed(self, time_s: float, temp_c: float, junction_c: float | None) -> Bucket | None:
        """Add a believed reading (s, °C, °C); gives the bucket that it closed, if any."""
        closed = None
        if time_s >= self._end_s:
            closed = self._close()
            self._end_s = (math.floor(time_s / LENGTH_S) + 1.0) * LENGTH_S
        if not self._count:
            self._first_c, self._first_s = temp_c, time_s
        self._count += 1
        # Relative to the first one: squares of a thousand degrees would swallow the hundredths.
        after_s = time_s - self._first_s
        beside_c = temp_c - self._first_c
        self._time_s += after_s
        self._temp_c += beside_c
        self._square_s2 += after_s * after_s
        self._both_c_s += after_s * beside_c
        self._square_c2 += beside_c * beside_c
        if junction_c is not None:
            self._junctions += 1
            self._junction_c += junction_c
        return closed

    def restart(self) -> None:
        """Forget the bucket in hand: what came before belongs to another stretch of readings."""
        self._clear()
        self._end_s = -math.inf

    def _close(self) -> Bucket | None:
        count = self._count
        if not count:
            return None
        junction_c = self._junction_c / self._junctions if self._junctions else None
        mean_s, mean_c = self._time_s / count, self._temp_c / count
        scatter_c2 = slant_c_s = width_s2 = 0.0
        if count > 1:
            scatter_c2 = max(0.0, self._square_c2 - count * mean_c * mean_c) / (count - 1)
            slant_c_s = (self._both_c_s - count * mean_c * mean_s) / (count - 1)
            width_s2 = max(0.0, self._square_s2 - count * mean_s * mean_s) / (count - 1)
        time_s, temp_c = self._first_s + mean_s, self._first_c + mean_c
        bucket = Bucket(time_s, temp_c, junction_c, count, scatter_c2, slant_c_s, width_s2)
        self._clear()
        return bucket

    def _clear(self) -> None:
        self._count = self._junctions = 0
        self._time_s = self._temp_c = self._junction_c = 0.0
        self._square_s2 = self._both_c_s = self._square_c2 = 0.0


class TrendMeter:
    """Draws the trend through the last buckets, at a cost that does not depend on how many there are."""

    def __init__(self) -> None:
        self._last_s = -math.inf
        self._anchor_s = 0.0
        self._spacing_s = LENGTH_S
        self._noise: Noise | None = None
        self._jump_error_c = 0.0
        self._scatter_c2 = -1.0
        self._buckets: deque[Bucket] = deque(maxlen=_KEPT + 1)
        self._sums: deque[tuple[float, float]] = deque(maxlen=_KEPT + 1)

    def feed(self, bucket: Bucket, noise: Noise) -> Trend:
        """Add a bucket, later than the one before; what needs more buckets than there are is None."""
        if noise is not self._noise:
            self._noise = noise
            self._jump_error_c = jump_error_c(noise, self._spacing_s, _JUMP * self._spacing_s)
        step_s = bucket.time_s - self._last_s
        if step_s > _LONGEST_GAP * self._spacing_s:
            self._buckets.clear()
            self._sums.clear()
            self._anchor_s = bucket.time_s
        else:
            # A board slower than a bucket: its own pace is the spacing.
            self._spacing_s += 0.2 * (max(step_s, LENGTH_S) - self._spacing_s)
        self._last_s = bucket.time_s
        times_s, temps_c = self._sums[-1] if self._sums else (0.0, 0.0)
        self._sums.append((times_s + bucket.time_s - self._anchor_s, temps_c + bucket.temp_c))
        self._buckets.append(bucket)
        known = len(self._buckets)
        before = self._slope(_AGO, _BEFORE) if known > _KEPT else None
        jump_c = None
        if known > _JUMP:
            jump_c = bucket.temp_c - self._buckets[-1 - _JUMP].temp_c
            self._note_scatter(self._buckets[-3], self._buckets[-2], bucket)
        return Trend(
            time_s=bucket.time_s,
            temp_c=bucket.temp_c,
            spacing_s=self._spacing_s,
            before_c_per_s=before,
            jump_c=jump_c,
            jump_error_c=self._jump_error_c,
            scatter_c2=max(self._scatter_c2, 0.0),
        )

    def restart(self) -> None:
        """Begin anew after a time nobody watched: no slope is drawn across it. What readings scatter by stays known."""
        self._last_s = -math.inf

    def _note_scatter(self, before: Bucket, bucket: Bucket, after: Bucket) -> None:
        """Average the scatter of readings over the last minute, °C², the course taken out.

        The course in a bucket is drawn by its neighbours on both sides: so a climb that has just begun, or was steep
        from one bucket to the next, is none of it, and a line whose period is two buckets, as pickup may have, is.
        """
        fresh_c2 = self._fresh_scatter_c2(before, bucket, after)
        if fresh_c2 is None:
            return
        scatter_c2 = self._scatter_c2 if self._scatter_c2 >= 0.0 else fresh_c2
        most_c2 = _CLIP * (scatter_c2 if scatter_c2 > _LEAST_C2 else _LEAST_C2)
        self._scatter_c2 = scatter_c2 + ((fresh_c2 if fresh_c2 < most_c2 else most_c2) - scatter_c2) / _SCATTER

    def _fresh_scatter_c2(self, before: Bucket, bucket: Bucket, after: Bucket) -> float | None:
        """Give the variance of one bucket's readings about the course, °C²; None where that is not known."""
        apart_s = after.time_s - before.time_s
        if apart_s > _NEIGHBOURS * self._spacing_s:
            # Beside a gap: what the course did there is not known, so it is drawn by the readings themselves.
            if bucket.count < _ENOUGH:
                return None
            off_c2 = bucket.scatter_c2 - bucket.slant_c_s * bucket.slant_c_s / bucket.width_s2
            return max(0.0, off_c2) * (bucket.count - 1) / (bucket.count - 2)
        slope = (after.temp_c - before.temp_c) / apart_s
        if bucket.count > 1:
            return max(0.0, bucket.scatter_c2 - slope * (2.0 * bucket.slant_c_s - slope * bucket.width_s2))
        # One reading a bucket: it shows its scatter by how far it is off the line between the two beside it.
        share = (bucket.time_s - before.time_s) / apart_s
        off_c = bucket.temp_c - before.temp_c - slope * (bucket.time_s - before.time_s)
        return off_c * off_c / (1.0 + (1.0 - share) ** 2 / before.count + share * share / after.count)

    def _slope(self, ago: int, half: int) -> float:
        """Give the slope between the means of two neighbouring runs of `half` buckets, the later ending `ago` ago."""
        late = self._sums[-1 - ago]
        middle = self._sums[-1 - ago - half]
        early = self._sums[-1 - ago - 2 * half]
        apart_s = late[0] - 2.0 * middle[0] + early[0]
        return (late[1] - 2.0 * middle[1] + early[1]) / apart_s
