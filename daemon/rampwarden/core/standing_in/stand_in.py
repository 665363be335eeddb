"""One probe standing in for another: what the failed one would show, and how far that may be off.

Goes on from what was learnt of both (`parting`): the guess is the mean of the laws, each by what it counts for. The
uncertainty has two parts: how the best law wandered before, and by how much the laws disagree by now. Among them is the
best law once without its offset wearing off and once with it: nobody can tell whether an offset is the probe's place,
which stays, or heat that is still to flow.
Knows nothing of schedules, limits and alarms.
"""

import math

import numpy as np

from rampwarden.core.standing_in.parting import LearntParting

_COVERAGE = 2.0
_OF_WANDER, _OF_DISAGREEMENT = 1.25, 1.0
"""Where several laws disagree, what they scatter by holds some of what the best one wandered by. Tuned together with
the laws' weights on the tuning heats of both simulators: 19 of 20 truths in each lie within, nearly at the least width;
with less of the wander, which would be narrower by a tenth, a furnace that no law fits would be trusted too much."""
_ANCHORED = 0.5
"""What the best law with its level set anew counts for."""
_LEAST_C = 2.0
"""°C. No guess is better."""
_FORGETS_S = 3600.0
"""s in which a disagreement that is over is forgotten: what it was shows what it may be."""


class StandIn:
    """Guesses the followed probe's temperature from the other's readings. Public state is for reading only.

    `temp_c` is the guess (°C) at `time_s` (s).
    """

    def __init__(self, learnt: LearntParting) -> None:
        self.learnt_s = learnt.learnt_s
        self._wander = learnt.wander
        self._laws, self._levels, self._offsets = learnt.laws, learnt.level_c, learnt.offset_c
        weight = learnt.weight
        # A single law has nobody to disagree with: then its wander is all there is to go by.
        self._of_wander = _COVERAGE
        if learnt.laws.lag:
            self._of_wander = _OF_WANDER
            weight = np.append(weight, _ANCHORED)
            # The best once more, its level set to what the followed probe read.
            self._laws = learnt.laws.picked([*range(len(learnt.offset_c)), 0])
            self._offsets = np.append(learnt.offset_c, 0.0)
            self._levels = np.append(learnt.level_c, learnt.level_c[0] + learnt.offset_c[0])
        self.time_s, self._other_c = learnt.at_s, learnt.other_c
        self._share = weight / weight.sum()
        self._apart_c = 0.0
        self.temp_c = float(self._share @ (self._levels + self._offsets))

    def feed(self, time_s: float, other_c: float) -> None:
        """Take a believed reading (s, rising; °C) of the other probe."""
        step_s = time_s - self.time_s
        if step_s <= 0.0:
            return
        self._levels = self._laws.follow(self._levels, step_s, self._other_c, other_c)
        self.time_s, self._other_c = time_s, other_c
        guesses = self._levels + self._offsets
        self.temp_c = float(self._share @ guesses)
        apart_c = math.sqrt(float(self._share @ (guesses - self.temp_c) ** 2))
        self._apart_c = max(self._apart_c * max(0.0, 1.0 - step_s / _FORGETS_S), apart_c)

    @property
    def off_c(self) -> float:
        """How far the guess may be off now, ± °C, k = 2, beside what the followed probe itself may be off by."""
        return self.off_over(math.inf)

    def off_over(self, window_s: float) -> float:
        """Give how far a change of the guess within `window_s` (s) up to now may be off, ± °C, k = 2."""
        age_s = min(self.time_s - self.learnt_s, window_s)
        return max(_LEAST_C, math.hypot(self._of_wander * self._wander.at(age_s), _OF_DISAGREEMENT * self._apart_c))
