"""The band of a soak: what lies outside it does not count as soaked."""

from collections.abc import Collection

from rampwarden.core.limits.edges import Edge
from rampwarden.core.limits.limit_alarms import SOAK_DEVIATION
from rampwarden.core.model import Finding


class SoakBand:
    """Judges the band from `lowest_c` to `highest_c`, °C."""

    def __init__(self, lowest_c: float, highest_c: float) -> None:
        self._lowest_c = lowest_c
        self._highest_c = highest_c
        # Never more than a quarter of the band, or a narrow soak could not come back at all.
        self._deadband_c = min(SOAK_DEVIATION.deadband, (highest_c - lowest_c) / 4)
        self._well_inside = False
        self._approaching = True

    def feed(
        self,
        temp_c: float,
        raised: Collection[str],
        found: dict[str, Finding],
        *,
        approaching: bool,
        off_c: float = 0.0,
    ) -> None:
        """Judge one believed temperature, °C; adds what is found. `approaching`: it has never been in the band yet.

        `off_c` is how far the temperature may be off, ± °C, beside what any reading may.
        """
        self._approaching = approaching
        if temp_c >= self._lowest_c + self._deadband_c:
            self._well_inside = True
        low_c, high_c = self._lowest_c - self._margin_c(), self._highest_c
        if SOAK_DEVIATION.name in raised:
            low_c, high_c = self._lowest_c + self._deadband_c, self._highest_c - self._deadband_c
        below = temp_c + off_c < low_c and not approaching
        if below or temp_c - off_c > high_c:
            limit = self._lowest_c if below else self._highest_c
            what = f"{temp_c:.0f} °C, band {self._lowest_c:.0f} to {self._highest_c:.0f}"
            found[SOAK_DEVIATION.name] = Finding(round(temp_c, 1), limit, "°C", what)

    def _margin_c(self) -> float:
        """A slow ramp is still coming in, and flicker about the edge is no way out; a sagging furnace is."""
        return 0.0 if self._well_inside else self._deadband_c

    def edges(self) -> list[Edge]:
        """Give both edges of the band, the upper alone while the temperature is still on its way there."""
        upper = Edge(SOAK_DEVIATION.name, self._highest_c, 0.0, upper=True)
        if self._approaching:
            return [upper]
        return [Edge(SOAK_DEVIATION.name, self._lowest_c, self._margin_c(), upper=False), upper]
