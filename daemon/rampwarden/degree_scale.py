"""In what people read temperatures: °C, or °F. Inside everything stays °C; this is for every edge where it is shown."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DegreeScale:
    """Celsius, or Fahrenheit where the workshop thinks in it."""

    fahrenheit: bool = False

    @property
    def unit(self) -> str:
        """The unit as it is written."""
        return "°F" if self.fahrenheit else "°C"

    def temp(self, temp_c: float) -> float:
        """Give a temperature (°C) on this scale."""
        return temp_c * 1.8 + 32.0 if self.fahrenheit else temp_c

    def difference(self, difference_c: float) -> float:
        """Give a difference (°C), or what is one by the second, on this scale: it scales and never shifts."""
        return difference_c * 1.8 if self.fahrenheit else difference_c
