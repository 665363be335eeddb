"""A probe pulled out of a hot furnace: it reads the room within seconds, and the pot is as hot as it was.

Told by a fall that no pot makes. A lid that is lifted costs a bare probe some ten degrees in as many seconds; one that
is pulled loses most of what it stood above the room.
"""

from collections import deque

# A fall of this share of what stands above the room, within this time, is no cooling: a probe with a time constant of
# 20 s, a thick one, loses 63 % of it. Own judgement, no source.
_SHARE = 0.35
PULLED_WITHIN_S = 20.0
_LEAST_C = 40.0
_ROOM_C = 25.0
# So far above where it fell to, the probe is back in its place.
_BACK_C = 50.0


class PulledProbe:
    """Looks at believed temperatures while a pot cools; `pulled` until the probe is back where it is hot."""

    def __init__(self) -> None:
        self.pulled = False
        self._lowest_c = 0.0
        # The highest first, each followed by the highest after it: the maximum of the time that counts.
        self._highs: deque[tuple[float, float]] = deque()

    def feed(self, time_s: float, temp_c: float) -> bool:
        """Take a believed temperature (°C) at `time_s` (s, rising); gives whether the probe is out of its place."""
        highs = self._highs
        while highs and highs[-1][1] <= temp_c:
            highs.pop()
        highs.append((time_s, temp_c))
        while highs[0][0] < time_s - PULLED_WITHIN_S:
            highs.popleft()
        if self.pulled:
            self._lowest_c = min(self._lowest_c, temp_c)
            self.pulled = temp_c < self._lowest_c + _BACK_C
            return self.pulled
        from_c = highs[0][1]
        if from_c - temp_c > max(_LEAST_C, _SHARE * (from_c - _ROOM_C)):
            self.pulled, self._lowest_c = True, temp_c
        return self.pulled
