"""The heat of a siege: sound stretches and true breaches in turn, drawn from its seed, at the pace of life.

Lines on paper and a little noise, no furnace: what is wanted is that alarms must come, over and over, and that an
undisturbed twin says which and when.
"""

import bisect
import itertools
import random

SCHEDULE = """\
title = "A heat under siege"
basis = "invented for a fault run"

[[segment]]
name = "warming"
kind = "ramp"
to = "150 C"
max_rate = "40 C / 20 s"

[[segment]]
name = "holding"
kind = "soak"
at = "150 C"
band = ["-15 C", "+15 C"]
hold = "6 h"
"""
_SOAK_C = 150.0
_NOISE_C = 0.2
# As the schedule above has them.
_CLIMB_C, _WINDOW_S, _BAND_C = 40.0, 20.0, 15.0
_SAID_WITHIN_S = 15.0


class Course:
    """°C at each second of one heat."""

    def __init__(self, seed: int, lasts_s: float) -> None:
        chance = random.Random(f"course {seed}")
        self._points = [(0.0, 25.0), (40.0, 45.0)]
        if chance.random() < 0.7:
            self._go(chance.uniform(55.0, 75.0), 3.2)
        self._stay(20.0)
        self._go(_SOAK_C, 0.9)
        while self._points[-1][0] < lasts_s:
            self._stay(chance.uniform(15.0, 45.0))
            self._breach(chance)

    def temperature_c(self, heat_s: float, noise: random.Random) -> float:
        """Give the temperature at a second of the heat, °C, with the noise of one reading."""
        return self.true_c(heat_s) + noise.gauss(0.0, _NOISE_C)

    def true_c(self, heat_s: float) -> float:
        """Give the temperature at a second of the heat, °C."""
        at = bisect.bisect_right(self._points, (heat_s, 0.0))
        if at >= len(self._points):
            return self._points[-1][1]
        (from_s, from_c), (to_s, to_c) = self._points[max(0, at - 1)], self._points[max(1, at)]
        return from_c + (to_c - from_c) * (heat_s - from_s) / (to_s - from_s)

    def justifies(self, alarm: str, heat_s: float) -> bool:
        """Tell whether the course itself shows what an alarm of the heat says, within the seconds before `heat_s`.

        The twin is a watch, too, and may miss what another sees: an alarm that is true is not false for that.
        """
        lately = [heat_s - 0.5 * step for step in range(round(2.0 * _SAID_WITHIN_S))]
        match alarm:
            case "ramp-high":
                return any(self._climb_c(at_s, _WINDOW_S) > _CLIMB_C for at_s in lately)
            case "ramp-forecast":
                # It says that the ramp lies beyond its limit, for however short a time it has.
                return any(self._climb_c(at_s, 1.0) > _CLIMB_C / _WINDOW_S for at_s in lately)
            case "soak-deviation":
                return any(abs(self.true_c(at_s) - _SOAK_C) > _BAND_C for at_s in lately)
        return False

    def _climb_c(self, at_s: float, within_s: float) -> float:
        return self.true_c(at_s) - min(self.true_c(at_s - 0.5 * step) for step in range(round(2.0 * within_s) + 1))

    def _breach(self, chance: random.Random) -> None:
        """Leave what is allowed, and come back."""
        kind = chance.choice(("too fast", "too fast", "too hot", "too cold"))
        if kind == "too fast":
            # Far too fast: a meter of noise that has seen few whole minutes still takes bends for flicker.
            self._go(_SOAK_C + chance.uniform(150.0, 200.0), chance.uniform(5.0, 7.0))
        elif kind == "too hot":
            self._go(_SOAK_C + chance.uniform(22.0, 35.0), chance.uniform(0.7, 1.2))
        else:
            self._go(_SOAK_C - chance.uniform(22.0, 35.0), chance.uniform(0.7, 1.2))
        self._stay(chance.uniform(15.0, 30.0))
        self._go(_SOAK_C, 1.1)

    def _go(self, to_c: float, c_per_s: float) -> None:
        at_s, at_c = self._points[-1]
        self._points.append((at_s + abs(to_c - at_c) / c_per_s, to_c))

    def _stay(self, seconds: float) -> None:
        at_s, at_c = self._points[-1]
        self._points.append((at_s + seconds, at_c))


def turns(course: Course) -> list[tuple[float, float]]:
    """Give where each stretch begins (s) and its slope (°C/s)."""
    return [
        (from_s, (to_c - from_c) / (to_s - from_s))
        for (from_s, from_c), (to_s, to_c) in itertools.pairwise(course._points)
    ]
