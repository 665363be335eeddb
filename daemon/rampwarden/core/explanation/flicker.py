"""Whether a flame burns, by its flicker: what buckets scatter about a parabola, against what a lit flame's was learnt.

Each lit level (as learnt, or turned down to a half, a quarter, a tenth of that variance) runs a cumulative sum against
"unlit" (E. S. Page, Biometrika 41, 100, 1954), capped, so that it unwinds when a flame comes back. A probe with a long
lag swallows the flicker: then the unlit variance is not below the lit one, the sums stay near nothing, and the course
alone must tell.
"""

import math
from collections import deque

LEVELS = (1.0, 0.5, 0.25, 0.11)
"""Lit levels, shares of the learnt variance."""
_LEANING, _LEAN_KEEPS = 2, 0.85
"""The level, and the share kept from bucket to bucket, of evidence that counts both ways."""
_WIDTH = 6
"""Buckets under one parabola: half a minute, three degrees of freedom."""
_CAP = 12.0
_KEPT = 72
"""Every third variance of the last eighteen minutes."""
_MEDIAN_TO_MEAN = 1.27
"""Of a χ² of three degrees of freedom over three."""
_LEAST_C2 = 0.0008
"""°C². What a converter's rounding and the mains leave in a bucket at best. Own arithmetic."""
_MAINS = 0.02
"""Share of the learnt variance that may be mains rather than flame."""
_LEAST_KEPT = 12


class Flicker:
    """Follows the flicker. `lit_c2` is the learnt variance about the parabola, °C²; None while too little was seen."""

    def __init__(self) -> None:
        self._temps_c: deque[float] = deque(maxlen=_WIDTH)
        self._whites_c2: deque[float] = deque(maxlen=_WIDTH)
        self._kept: deque[float] = deque(maxlen=_KEPT)
        self._turn = 0
        self.lit_c2: float | None = None
        self.now_c2: float | None = None
        self.sums = [0.0] * len(LEVELS)
        """For each level the evidence, in nats, that the flame is out rather than at that level."""
        self.lean = 0.0
        """The newest evidence that the flame is out rather than at a quarter, in nats; negative: it burns."""

    def feed(self, temp_c: float, white_c2: float, *, learn: bool) -> None:
        """Take a bucket's mean (°C) and what its readings' white noise leaves in it (°C²); `learn` if a flame burns."""
        temps_c, whites_c2 = self._temps_c, self._whites_c2
        temps_c.append(temp_c)
        whites_c2.append(white_c2)
        if len(temps_c) < _WIDTH:
            return
        a, b, c, d, e, f = temps_c
        # The three orthogonal polynomials over six points that a parabola has no part in.
        cubic = 5.0 * (a - f) - 7.0 * (b - e) - 4.0 * (c - d)
        quartic = a + f - 3.0 * (b + e) + 2.0 * (c + d)
        quintic = f - a + 5.0 * (b - e) - 10.0 * (c - d)
        now_c2 = (cubic * cubic / 180.0 + quartic * quartic / 28.0 + quintic * quintic / 252.0) / 3.0
        self.now_c2 = now_c2
        if learn:
            self._turn += 1
            if self._turn % 3 == 0:
                self._kept.append(now_c2)
                if self._turn % 9 == 0 and len(self._kept) >= _LEAST_KEPT:
                    kept = sorted(self._kept)
                    self.lit_c2 = _MEDIAN_TO_MEAN * kept[len(kept) // 2]
        lit_c2 = self.lit_c2
        if lit_c2 is None:
            return
        unlit_c2 = sum(whites_c2) / _WIDTH + _LEAST_C2 + _MAINS * lit_c2
        sums = self.sums
        for n, level in enumerate(LEVELS):
            level_c2 = level * lit_c2
            if level_c2 < 1.2 * unlit_c2:
                # Not to be told apart: what was gathered fades.
                sums[n] *= 0.9
                if n == _LEANING:
                    self.lean *= _LEAN_KEEPS
                continue
            gain = 0.5 * (math.log(level_c2 / unlit_c2) - now_c2 * (1.0 / unlit_c2 - 1.0 / level_c2))
            total = sums[n] + (gain if gain > -3.0 else -3.0)
            if n == _LEANING:
                self.lean = _LEAN_KEEPS * self.lean + (gain if -3.0 < gain < 3.0 else 3.0 if gain > 0.0 else -3.0)
            sums[n] = 0.0 if total < 0.0 else total if total < _CAP else _CAP

    def restart(self) -> None:
        """Forget the course, not what a flame's flicker is."""
        self._temps_c.clear()
        self.sums = [0.0] * len(LEVELS)
        self.lean = 0.0
        self.now_c2 = None

    @property
    def share(self) -> float | None:
        """The present variance as a share of a lit flame's; None while either is not known."""
        if self.lit_c2 is None or self.now_c2 is None:
            return None
        return self.now_c2 / max(self.lit_c2, _LEAST_C2)
