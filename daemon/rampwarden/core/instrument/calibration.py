"""What is known of a board's own error: an offset and a gain, how sure they are, and what they were made from.

A calibration corrects the EMF as the board sends it; the record keeps what was sent, and the calibration in its header,
so that a replay corrects by the same. It says nothing of the thermocouple, whose error is another one's.
"""

import math
from dataclasses import dataclass

from rampwarden.errors import SettingsError

# What is off by more has a fault to be mended, not an error to be corrected. Common practice, no source.
_LARGEST_OFFSET_UV = 2000.0
_GAINS = (0.8, 1.25)


@dataclass(frozen=True, slots=True)
class BoardCalibration:
    """The board's error. As it stands by itself it corrects nothing: a board that was never calibrated.

    `offset_uv` is what the board shows of a shorted input, µV; `gain` what the rest is to be multiplied by. Their
    standard uncertainties (k = 1) are None where nothing was measured, and then those of a usual board count.
    `made` is the date (ISO 8601), `made_from` what was measured.
    """

    offset_uv: float = 0.0
    gain: float = 1.0
    offset_uncertainty_uv: float | None = None
    gain_uncertainty: float | None = None
    made: str = ""
    made_from: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        numbers = (self.offset_uv, self.gain, self.offset_uncertainty_uv or 0.0, self.gain_uncertainty or 0.0)
        if not all(math.isfinite(number) for number in numbers):
            raise SettingsError("board calibration: a number that is none; calibrate again")
        if abs(self.offset_uv) > _LARGEST_OFFSET_UV or not _GAINS[0] <= self.gain <= _GAINS[1]:
            raise SettingsError(
                f"board calibration: offset {self.offset_uv:g} µV, gain {self.gain:g}: a board that far off is to be "
                f"mended (at most {_LARGEST_OFFSET_UV:g} µV, gain {_GAINS[0]:g} to {_GAINS[1]:g})"
            )

    @property
    def is_made(self) -> bool:
        """Whether the board was calibrated at all."""
        return bool(self.made_from)

    def correct(self, emf_uv: float) -> float:
        """Give the EMF without the board's error, µV.

        >>> BoardCalibration(offset_uv=12.0, gain=1.002).correct(4108.0)
        4104.192
        """
        return (emf_uv - self.offset_uv) * self.gain

    def words(self) -> str:
        """Say it to a person, uncertainties with k = 2."""
        if not self.is_made:
            return "none"
        offset = f"offset {self.offset_uv:+.1f} µV{_give_or_take(self.offset_uncertainty_uv, '.1f')}"
        gain = f"gain {self.gain:.4f}{_give_or_take(self.gain_uncertainty, '.4f')}"
        return f"{offset}, {gain} (k = 2), made {self.made} from {', '.join(self.made_from)}"


UNCALIBRATED = BoardCalibration()
"""Corrects nothing."""


def _give_or_take(uncertainty: float | None, form: str) -> str:
    return " (as it came)" if uncertainty is None else f" ± {2.0 * uncertainty:{form}}"
