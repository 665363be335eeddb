"""A gas bottle that chills as it boils, so that a burner starves before it is empty: the bench's own model.

Not the product's: one exponential for the vapour's pressure, and a warming coefficient that is drawn for each heat.
"""

import math
from copy import copy

import numpy as np

MJ_PER_KG = 46.3
NEEDED_BAR = 1.0
"""Gauge pressure below which the regulator no longer holds."""
_BURNS_ABOVE = 0.3
"""Share of the flame below which it goes out."""


class GasBottle:
    """One bottle: `content_kg`, `liquid_c`; `starved` is whether it can keep no flame."""

    def __init__(self, dice: np.random.Generator, content_kg: float, ambient_c: float) -> None:
        self._w_per_m2_k = float(dice.uniform(6.5, 10.5))
        self._ambient_c = self.liquid_c = ambient_c
        self.content_kg = content_kg

    def refill(self, content_kg: float) -> None:
        """A full one, as warm as the air, takes its place."""
        self.content_kg, self.liquid_c = content_kg, self._ambient_c

    @property
    def supply(self) -> float:
        """The share of the wanted flame that it can feed, 0 to 1."""
        if self.content_kg <= 0.02:
            return 0.0
        bar = 7.3 * math.exp(-2200.0 * (1.0 / (self.liquid_c + 273.15) - 1.0 / 288.15)) - 1.013
        return min(1.0, max(0.0, bar / NEEDED_BAR))

    @property
    def starved(self) -> bool:
        """Whether no flame holds on it."""
        return self.supply < _BURNS_ABOVE

    def lasts(self, kw: float, seconds: float) -> bool:
        """Tell whether it would feed this flame in full for so long."""
        ahead = copy(self)
        for _ in range(int(seconds / 60.0)):
            ahead.draw(kw, 60.0)
            if ahead.supply < 1.0:
                return False
        return True

    def draw(self, kw: float, seconds: float) -> None:
        """Burn so much (kW) for so long (s)."""
        taken_kg = min(kw / (MJ_PER_KG * 1000.0) * seconds, self.content_kg)
        wetted_m2 = 0.07 + 4.0 * self.content_kg / 500.0 / 0.3
        joules = self._w_per_m2_k * wetted_m2 * (self._ambient_c - self.liquid_c) * seconds - taken_kg * 370_000.0
        self.liquid_c = max(self.liquid_c + joules / (2500.0 * self.content_kg + 6000.0), -55.0)
        self.content_kg -= taken_kg
