"""How a pot comes after its chamber: by convection and by radiation, which grows with the third power of the heat.

dx/dt = r (c - x), with r = ((1 - s) + s (c² + x²)(c + x) / 4 T₁³) / τ in kelvin: at the chamber's 900 °C (T₁) all of it
takes the time τ, and s is the share of that by radiation (Incropera and others, Fundamentals of Heat and Mass Transfer,
the radiation heat transfer coefficient). Steps are exact for a rate that stands during a step; c is taken halfway.
Shapes: one number, or an array of one value a law.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

_KELVIN = 273.15
_AT_900_K3 = 4.0 * 1173.15**3
_LONGEST_STEP_S = 60.0


@dataclass(frozen=True, slots=True)
class Laws:
    """Some laws side by side: `follows_s` is τ, s, `radiates` is s, 0 … 1; both of shape (n,)."""

    follows_s: Numbers
    radiates: Numbers

    @property
    def lag(self) -> bool:
        """Whether any of them takes time."""
        return bool(self.follows_s.max() > 1.0)

    def picked(self, places: list[int]) -> "Laws":
        """Give only those at `places`."""
        return Laws(self.follows_s[places], self.radiates[places])

    def follow(self, level_c: Numbers, step_s: float, from_c: float, to_c: float) -> Numbers:
        """Give what the levels (°C, (n,)) come to in `step_s` (s) while the chamber goes from one to the other (°C)."""
        steps = max(1, int(np.ceil(step_s / _LONGEST_STEP_S)))
        for step in range(steps):
            chamber_c = from_c + (to_c - from_c) * (step + 0.5) / steps
            hot, cold = chamber_c + _KELVIN, level_c + _KELVIN
            radiated = (hot * hot + cold * cold) * (hot + cold) / _AT_900_K3
            rate = (1.0 - self.radiates + self.radiates * radiated) / self.follows_s
            level_c = chamber_c + (level_c - chamber_c) * np.exp(-rate * step_s / steps)
        return level_c


_FOLLOWS_S = (15.0, 30.0, 45.0, 60.0, 90.0, 130.0, 180.0, 250.0, 350.0, 500.0, 700.0, 1000.0, 1400.0)
_RADIATES = (0.0, 0.5, 0.8, 1.0)

EVERY_LAW = Laws(
    np.array([follows_s for follows_s in _FOLLOWS_S for _ in _RADIATES]),
    np.array([radiates for _ in _FOLLOWS_S for radiates in _RADIATES]),
)
"""From a bare wire beside the pot to a thick pot behind its wall."""

AT_ONCE = Laws(np.array([1e-3]), np.array([0.0]))
"""For a chamber's probe in whose place the pot's stands: nobody can undo a lag."""
