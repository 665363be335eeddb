"""How a report writes quantities: in °C or °F, elapsed time, and rates with their window.

Inside stays °C; a report is an edge like any other.
"""

from dataclasses import dataclass

from rampwarden.core.quantities import format_duration
from rampwarden.degree_scale import DegreeScale


@dataclass(frozen=True, slots=True)
class Scale(DegreeScale):
    """The scale of one report, and how it writes on it."""

    def show_temp(self, temp_c: float | None) -> str:
        """Write a temperature to the degree.

        >>> Scale(fahrenheit=True).show_temp(200.0)
        '392 °F'
        """
        return "–" if temp_c is None else f"{self.temp(temp_c):.0f} {self.unit}"

    def show_difference(self, difference_c: float) -> str:
        """Write a difference with the digits it deserves.

        >>> Scale().show_difference(6.84)
        '6.8 °C'
        """
        number = self.difference(difference_c)
        return f"{number:.0f} {self.unit}" if abs(number) >= 20.0 else f"{number:.1f} {self.unit}"

    def show_signed(self, difference_c: float) -> str:
        """Write a difference with its sign."""
        return ("+" if difference_c >= 0 else "−") + self.show_difference(abs(difference_c))

    def show_climb(self, climb_c: float, window_s: float) -> str:
        """Write a climb within its window.

        >>> Scale().show_climb(25.0, 900.0)
        '25 °C in 15 min'
        """
        number = self.difference(climb_c)
        digits = f"{number:.1f}".removesuffix(".0")
        return f"{digits} {self.unit} in {format_duration(window_s)}"

    def show_measure(self, value: float | None, unit: str | None) -> str:
        """Write the value or limit of an alarm, whose unit is that of the event (always Celsius or none at all)."""
        if value is None or unit is None:
            return "–"
        if unit == "°C":
            return self.show_temp(value)
        if unit.startswith("°C/"):
            return f"{self.difference(value):.3g} {self.unit}{unit.removeprefix('°C')}"
        return format_duration(value) if unit == "s" else f"{value:g} {unit}"


def clock(time_s: float) -> str:
    """Write the time since the heat began as h:mm.

    >>> clock(3725.0)
    '1:02'
    """
    minutes = round(max(0.0, time_s)) // 60
    return f"{minutes // 60}:{minutes % 60:02d}"
