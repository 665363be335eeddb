"""The ceiling of one segment: passed is a fact, passed soon is a forecast."""

from collections.abc import Collection

from rampwarden.core.limits.ceiling_forecast import CeilingForecast
from rampwarden.core.limits.edges import Edge
from rampwarden.core.limits.level_doubt import LevelDoubt
from rampwarden.core.limits.limit_alarms import CEILING_FORECAST, TEMPERATURE_HIGH
from rampwarden.core.model import Finding, Noise
from rampwarden.core.quantities import format_duration


class Ceiling:
    """Judges one ceiling, °C."""

    def __init__(self, ceiling_c: float) -> None:
        self.ceiling_c = ceiling_c
        self._forecast = CeilingForecast(ceiling_c)

    def feed(
        self,
        time_s: float,
        temp_c: float,
        noise: Noise,
        raised: Collection[str],
        found: dict[str, Finding],
        doubt: LevelDoubt | None = None,
    ) -> None:
        """Judge one believed temperature (°C) at `time_s` (s, rising); adds what is found.

        In doubt the ceiling rings where it would without: too hot is the one harm that waiting makes worse. Nothing is
        foretold then.
        """
        ceiling_c = edge_c = self.ceiling_c
        outlook = self._forecast.feed(time_s, temp_c, noise)
        if TEMPERATURE_HIGH.name in raised:
            edge_c -= TEMPERATURE_HIGH.deadband
        if temp_c > edge_c:
            what = f"{temp_c:.0f} °C, ceiling {ceiling_c:.0f}"
            found[TEMPERATURE_HIGH.name] = Finding(round(temp_c, 1), ceiling_c, "°C", what)
        elif outlook is not None and outlook.present and temp_c < ceiling_c and doubt is None:
            # Flicker apart it may be there already, while this reading lies a little below.
            soon = f"passed in about {format_duration(outlook.reach_in_s)}" if outlook.reach_in_s >= 1.0 else "reached"
            what = f"{temp_c:.0f} °C and {60 * outlook.c_per_s:+.1f} °C/min: ceiling {ceiling_c:.0f} {soon}"
            found[CEILING_FORECAST.name] = Finding(round(temp_c, 1), ceiling_c, "°C", what)

    def resume(self) -> None:
        """Go on after a time when nobody watched: nothing is foretold across it."""
        self._forecast = CeilingForecast(self.ceiling_c)

    def edges(self) -> list[Edge]:
        """Give the edge it is."""
        return [Edge(TEMPERATURE_HIGH.name, self.ceiling_c, 0.0, upper=True)]
