"""The model board: what its converter makes of the probe's true temperature, and the frames it sends.

Owns noise, pickup, quantisation, the warming reference junction and the board's own sequence number and clock. It must
not know schedules, operators or ports, nor how fast its seconds are played.

Frames have the form `$TC,<channel>,<seq>,<ms>,<emf_nv>,<junction_mc>,<flags hex>*<CRC-16/XMODEM hex>`, the CRC over
the bytes between `$` and `*`; `firmware_notes/frame_format.md` has it in full with test vectors.
"""

import binascii
import math
import random
from dataclasses import dataclass
from enum import Enum, StrEnum

from msgspec import Struct

from rampwarden.core.instrument import thermocouple
from rampwarden.sources.furnace_model import ROOM_C, FurnaceModel

FLAG_OPEN = 0x01
FLAG_SHORT_GROUND = 0x02
# What a converter with a burn-out current reads on an open circuit: its positive end of scale.
_OPEN_EMF_UV = 78125.0

# Type K around red heat; turns °C of flicker or spike into µV where the exact figure would gain nothing.
_K_UV_PER_C = 41.0
# Type K ends at 1372 °C: flame flicker on a very hot probe must not ask for more.
_HOTTEST_C = 1370.0

# Mains and the board's clock wander against each other: from one conversion to the next the phase in which the pickup
# is met moves by about this much, 1 sigma, so that it is no steady beat.
_MAINS_WANDER = math.pi / 2

_SQRT_2 = math.sqrt(2.0)  # from rms to amplitude

# A pickup that is a fault keeps its beat: the mains at 50 Hz against a board's clock a quarter of a percent off.
_PICKUP_HZ = 50.13
_PICKUP_UV = 3.0 * _K_UV_PER_C  # rms
# Hot air at the board draws the junction so far up, this quickly.
_HOT_AIR_C = 35.0
_HOT_AIR_TAU_S = 480.0

# After lighting, sparks and the first unsteady flame disturb for this long, one reading in so many.
_IGNITION_S = 8.0
_IGNITION_SPIKE_SHARE = 0.1
_SPIKE_C = (20.0, 400.0)

# The board stands beside the furnace: its junction follows the chamber's heat faintly and slowly.
_JUNCTION_SHARE = 0.012
_JUNCTION_TAU_S = 2400.0
_JUNCTION_STEP_C = 0.0625  # usual step of a junction sensor


class NoiseClass(StrEnum):
    """How quiet wiring and flame are. `moderate` lies between low and mid and is what a rehearsal uses by itself."""

    LOW = "low"
    MODERATE = "moderate"
    MID = "mid"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class NoiseFigures:
    """Noise of a class, rms: white and mains in µV, flicker in °C with its correlation time; the converter's step."""

    white_uv: float
    step_uv: float
    flicker_c: float
    flicker_s: float
    spike_share: float
    mains_uv: float


# Measured by us on a simulated small gas furnace; no published source.
NOISE = {
    NoiseClass.LOW: NoiseFigures(2.0, 1.0, 0.3, 5.0, 0.001, 2.0),
    NoiseClass.MODERATE: NoiseFigures(3.0, 4.0, 0.4, 8.0, 0.002, 3.0),
    NoiseClass.MID: NoiseFigures(5.0, 10.0, 0.7, 12.0, 0.003, 4.0),
    NoiseClass.HIGH: NoiseFigures(10.0, 10.0, 1.5, 30.0, 0.01, 8.0),
}


class Wiring(Enum):
    """What is the matter between probe and converter."""

    SOUND = "sound"
    OPEN = "open"
    SHORTED = "shorted to ground"
    REVERSED = "reversed"
    STUCK = "converter stuck"
    PICKUP = "mains pickup"


class BoardSample(Struct, frozen=True, gc=False):
    """One conversion: the EMF as measured with the junction as the board reports it, µV and °C, and its fault flags."""

    emf_uv: float
    junction_c: float
    flags: int


class BoardModel:
    """Converts and frames once per `interval_s`. The same `rng` seed gives the same bytes."""

    def __init__(
        self,
        rng: random.Random,
        noise: NoiseFigures,
        interval_s: float = 1.0,
        start_junction_c: float = ROOM_C,
        channel: int = 0,
    ) -> None:
        self._rng = rng
        self._channel = channel
        self._noise = noise
        self._interval_s = interval_s
        self._type_k = thermocouple("K")
        self._flicker_c = 0.0
        self._flicker_kept = math.exp(-interval_s / noise.flicker_s)
        self._flicker_fresh_c = noise.flicker_c * math.sqrt(1.0 - self._flicker_kept**2)
        self._junction_c = start_junction_c
        self._junction_follows = -math.expm1(-interval_s / _JUNCTION_TAU_S)
        self._mains_phase = 0.0
        self._was_burning = False
        self._unsteady_until_s = -math.inf
        self._sequence = 0
        self._ms_zero_s = 0.0
        self._hot_air_follows = -math.expm1(-interval_s / _HOT_AIR_TAU_S)
        self._last_emf_uv = 0.0

    def restart(self, time_s: float) -> None:
        """Start again as after a reset: sequence and milliseconds count from zero."""
        self._sequence = 0
        self._ms_zero_s = time_s

    def measure(
        self,
        furnace: FurnaceModel,
        time_s: float,
        wiring: Wiring = Wiring.SOUND,
        *,
        hot_air: bool = False,
        felt_c: float | None = None,
        in_flame: bool = True,
    ) -> BoardSample:
        """Convert a probe's EMF at `time_s`, through this wiring; `hot_air` blows at the board or does not.

        The probe is the pot's unless `felt_c` says what it reads, °C; one that is not `in_flame` has no flicker of it.
        """
        gauss = self._rng.gauss
        noise = self._noise
        warmth_c = ROOM_C + _JUNCTION_SHARE * (furnace.chamber_c - ROOM_C)
        self._junction_c += (warmth_c - self._junction_c) * self._junction_follows
        if hot_air:
            self._junction_c += (warmth_c + _HOT_AIR_C - self._junction_c) * self._hot_air_follows
        junction_c = round(self._junction_c / _JUNCTION_STEP_C) * _JUNCTION_STEP_C
        burning = furnace.burning and in_flame
        if burning and not self._was_burning:
            self._unsteady_until_s = time_s + _IGNITION_S
        self._was_burning = burning
        self._flicker_c *= self._flicker_kept
        self._mains_phase += gauss(0.0, _MAINS_WANDER)
        disturbance_uv = gauss(0.0, noise.white_uv) + _SQRT_2 * noise.mains_uv * math.sin(self._mains_phase)
        if burning:
            self._flicker_c += gauss(0.0, self._flicker_fresh_c)
            disturbance_uv += self._spike_uv(time_s)
        if wiring is Wiring.OPEN:
            return BoardSample(_OPEN_EMF_UV, junction_c, FLAG_OPEN)
        if wiring is Wiring.SHORTED:
            return BoardSample(0.0, junction_c, FLAG_SHORT_GROUND)
        if wiring is Wiring.STUCK:
            return BoardSample(self._last_emf_uv, junction_c, 0)
        if wiring is Wiring.PICKUP:
            disturbance_uv += _SQRT_2 * _PICKUP_UV * math.sin(2.0 * math.pi * _PICKUP_HZ * time_s)
        true_c = furnace.probe_c if felt_c is None else felt_c
        emf_uv = self._type_k.emf_uv(min(true_c + self._flicker_c, _HOTTEST_C)) - self._type_k.emf_uv(self._junction_c)
        if wiring is Wiring.REVERSED:
            emf_uv = -emf_uv
        self._last_emf_uv = round((emf_uv + disturbance_uv) / noise.step_uv) * noise.step_uv
        return BoardSample(self._last_emf_uv, junction_c, 0)

    def _spike_uv(self, time_s: float) -> float:
        share = self._noise.spike_share
        if time_s < self._unsteady_until_s:
            share = max(share, _IGNITION_SPIKE_SHARE)
        if self._rng.random() >= share:
            return 0.0
        height_uv = self._rng.uniform(*_SPIKE_C) * _K_UV_PER_C
        return height_uv if self._rng.random() < 0.5 else -height_uv

    def frame(self, sample: BoardSample, time_s: float) -> bytes:
        """Frame a sample with the board's own sequence number and clock, and count on."""
        board_ms = round((time_s - self._ms_zero_s) * 1000.0) & 0xFFFFFFFF
        body = b"TC,%d,%d,%d,%d,%d,%02X" % (
            self._channel,
            self._sequence,
            board_ms,
            round(sample.emf_uv * 1000.0),
            round(sample.junction_c * 1000.0),
            sample.flags,
        )
        self._sequence = (self._sequence + 1) & 0xFFFF
        return b"$%b*%04X\r\n" % (body, binascii.crc_hqx(body, 0))
