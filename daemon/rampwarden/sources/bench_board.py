"""The model board on the bench: a probe that somebody dips into this and that, and what may be wrong with its board.

Beside `board_model`, which sits in a furnace. Here only the tip's surroundings change, by a person's hand; played
through a real pseudo-terminal by `rehearsal_board`, so that listening and bring-up can be tried without a board.
"""

import binascii
import math
import random
from dataclasses import dataclass
from enum import StrEnum

from rampwarden.core.instrument import thermocouple
from rampwarden.sources.board_model import FLAG_OPEN, NOISE, NoiseClass

ROOM_C = 23.0

# A thin probe in a liquid or a closed hand; what it takes in air does not matter here.
_TIP_TAU_S = 3.0
# The box warms a little after it was switched on.
_BOX_WARMS_C, _BOX_TAU_S = 2.0, 1200.0
_JUNCTION_STEP_C = 0.0625  # usual step of a junction sensor
_OPEN_EMF_UV = 78_125.0  # a break detection drives an open input to the converter's end
_MAINS_WANDER = math.pi / 2
_SQRT_2 = math.sqrt(2.0)

# How large each mishap is. The pickup is that of a probe beside a mains cable, met 50 times a second plus what the
# board's clock is off by.
WRONG_GAIN = 0.5
DROPPED_SHARE = 0.04
_PICKUP_UV, _PICKUP_HZ = 40.0, 50.13


class BenchFault(StrEnum):
    """What is the matter with the board."""

    NONE = "none"
    WRONG_GAIN = "wrong-gain"
    SWAPPED_COLUMNS = "swapped-columns"
    MAINS_PICKUP = "mains-pickup"
    DROPPED_FRAMES = "dropped-frames"
    REVERSED_LEADS = "reversed-leads"


@dataclass(frozen=True, slots=True)
class BenchSurroundings:
    """What is at the board's input: a probe whose tip is in `tip_c`, nothing (`is_open`), or a voltage, µV."""

    tip_c: float = ROOM_C
    input_uv: float | None = None
    is_open: bool = False


class BenchBoard:
    """Converts once in `interval_s` and sends frames, or `columns` of EMF and junction: same seed, same bytes.

    `at` is changed by whoever plays the person. `offset_uv` and `gain` are the converter's own small errors, which a
    calibration finds.
    """

    over = False

    def __init__(
        self,
        seed: int,
        fault: BenchFault = BenchFault.NONE,
        *,
        interval_s: float = 0.1,
        noise: NoiseClass = NoiseClass.MODERATE,
        offset_uv: float = 0.0,
        gain: float = 1.0,
        columns: bool = False,
    ) -> None:
        self.at = BenchSurroundings()
        self.time_s = 0.0
        self._rng = random.Random(f"bench {seed}")
        self._fault = fault
        self._noise = NOISE[noise]
        self._interval_s = interval_s
        self._offset_uv = offset_uv
        self._gain = gain * (WRONG_GAIN if fault is BenchFault.WRONG_GAIN else 1.0)
        self._columns = columns
        self._type_k = thermocouple("K")
        self._tip_c = ROOM_C
        self._mains_phase = 0.0
        self._count = 0

    def put(self, surroundings: BenchSurroundings) -> None:
        """Begin with the tip there, long since at its temperature."""
        self.at = surroundings
        self._tip_c = surroundings.tip_c

    def next_frame(self) -> bytes | None:
        """Let one interval pass and give the line; None for one that gets lost."""
        self.time_s = self._count * self._interval_s
        self._tip_c += (self.at.tip_c - self._tip_c) * -math.expm1(-self._interval_s / _TIP_TAU_S)
        box_c = ROOM_C + _BOX_WARMS_C * -math.expm1(-self.time_s / _BOX_TAU_S)
        emf_uv, flags = self._emf_uv(box_c)
        junction_c = round(box_c / _JUNCTION_STEP_C) * _JUNCTION_STEP_C
        number, self._count = self._count, self._count + 1
        if self._fault is BenchFault.DROPPED_FRAMES and self._rng.random() < DROPPED_SHARE:
            return None
        return self._line(number, emf_uv, junction_c, flags)

    def _emf_uv(self, box_c: float) -> tuple[float, int]:
        noise, gauss = self._noise, self._rng.gauss
        self._mains_phase += gauss(0.0, _MAINS_WANDER)
        scatter_uv = gauss(0.0, noise.white_uv) + _SQRT_2 * noise.mains_uv * math.sin(self._mains_phase)
        if self.at.is_open:
            return _OPEN_EMF_UV, FLAG_OPEN
        if self.at.input_uv is not None:
            input_uv = self.at.input_uv
        else:
            input_uv = self._type_k.emf_uv(self._tip_c) - self._type_k.emf_uv(box_c)
            if self._fault is BenchFault.REVERSED_LEADS:
                input_uv = -input_uv
            if self._fault is BenchFault.MAINS_PICKUP:
                scatter_uv += _SQRT_2 * _PICKUP_UV * math.sin(2.0 * math.pi * _PICKUP_HZ * self.time_s)
        seen_uv = self._gain * (input_uv + scatter_uv) + self._offset_uv
        return round(seen_uv / noise.step_uv) * noise.step_uv, 0

    def _line(self, number: int, emf_uv: float, junction_c: float, flags: int) -> bytes:
        first, second = (emf_uv, junction_c)
        if self._fault is BenchFault.SWAPPED_COLUMNS:
            first, second = second, first
        if self._columns:
            return b"%.3f,%.4f\r\n" % (first, second)
        board_ms = round(self.time_s * 1000.0) & 0xFFFFFFFF
        body = b"TC,0,%d,%d,%d,%d,%02X" % (number & 0xFFFF, board_ms, round(first * 1e3), round(second * 1e3), flags)
        return b"$%b*%04X\r\n" % (body, binascii.crc_hqx(body, 0))
