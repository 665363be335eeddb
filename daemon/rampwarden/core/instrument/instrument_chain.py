"""A reading's way to a judged temperature, and how sure that is: converter, calibration, outlier gate, uncertainty.

Of what cannot be believed it keeps count: a sensor that works now and then. Knows the instrument and nothing of
schedules, segments or alarms. What cannot be a temperature is given back in words.
"""

import math
from dataclasses import replace

from rampwarden.core.instrument.calibration import BoardCalibration
from rampwarden.core.instrument.intermittence import Intermittence
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.instrument.sensor_alarms import FAULT_WORDS
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.instrument.uncertainty import (
    COVERAGE_FACTOR,
    StatedTemperature,
    board_figures,
    expanded_uncertainty_c,
    is_covered,
    ramp_uncertainty,
    temperature_uncertainty,
)
from rampwarden.core.model import Measurement, Noise, Quality, Ramp, Reading

# Asked at every reading, and so looked up once (see `SegmentKind.heats`).
_GOOD = Quality.GOOD
_SPIKES = "they leap"
_OUT_OF_RANGE = "they lie outside what the thermocouple can give"
"""Why readings cannot be believed that the gate has set aside, or that are none; the board says the rest itself."""
_STALE_S = 60.0
"""s after which the last reading that was believed stands for nothing any more."""


class InstrumentChain:
    """Measures the readings of one heat; `last` is the latest, None before the first.

    `intermittence` says whether enough of them can be believed.
    """

    def __init__(self, type_letter: str, tolerance_class: int, calibration: BoardCalibration) -> None:
        self._thermocouple = thermocouple(type_letter)
        self._tolerance_class = tolerance_class
        self._calibration = calibration
        self._board = board_figures(calibration)
        self._gate = OutlierGate()
        self._measured_s = -math.inf
        self.last: Measurement | None = None
        self.intermittence = Intermittence()
        self._believed: Measurement | None = None

    @property
    def shown(self) -> Measurement | None:
        """The last reading as people are shown it: in the place of one that is not trusted, the last that was."""
        last, believed = self.last, self._believed
        if last is None or last.quality is not Quality.HELD or believed is None:
            return last
        if last.time_s - believed.time_s > _STALE_S:
            return last
        return Measurement(believed.time_s, believed.temp_c, Quality.HELD, believed.junction_c)

    def measure(self, reading: Reading) -> tuple[Measurement, str | None]:
        """Give the reading as a temperature with its quality, and in words what is out of range."""
        before = self.last
        self.last, range_fault = measurement, _ = self._measure(reading)
        is_good = measurement.quality is _GOOD
        if is_good:
            self._believed = measurement
        if not is_good or self.intermittence.seconds > 0.0:
            self._count(reading, measurement, before, range_fault)
        return measurement, range_fault

    def stated(
        self,
        ramp: Ramp | None,
        noise: Noise,
        junction_c_per_s: float,
        guess: Measurement | None = None,
        off_c: float = 0.0,
    ) -> StatedTemperature | None:
        """Give the last temperature and this ramp with their standard uncertainty; None while there is none.

        In its place a `guess` by another probe, which may be off by `off_c` more, ± °C (k = 2).
        """
        measurement, couple, tolerance_class = guess or self.shown, self._thermocouple, self._tolerance_class
        if measurement is None or measurement.temp_c is None:
            return None
        temp_c = measurement.temp_c
        uncertainty = temperature_uncertainty(
            couple, tolerance_class, temp_c, measurement.junction_c or 0.0, noise, junction_c_per_s, self._board
        )
        if off_c:
            uncertainty = replace(uncertainty, guess=off_c / COVERAGE_FACTOR)
        return StatedTemperature(
            time_s=measurement.time_s,
            temp_c=temp_c,
            temperature=uncertainty,
            ramp_c_per_s=ramp.c_per_s if ramp else None,
            ramp=ramp_uncertainty(couple, tolerance_class, ramp, junction_c_per_s, self._board) if ramp else None,
            covered=is_covered(couple, tolerance_class, temp_c),
        )

    def expanded_uncertainty_c(self, temp_c: float) -> float:
        """Give how far a temperature of this heat (°C) may be off, ± °C (k = 2), as everything else states it."""
        return expanded_uncertainty_c(self._thermocouple, self._tolerance_class, temp_c, self._board)

    def _count(
        self, reading: Reading, measurement: Measurement, before: Measurement | None, range_fault: str | None
    ) -> None:
        """Take note of a reading that cannot be believed, or of one after it."""
        time_s = measurement.time_s
        step_s = 0.0 if before is None else time_s - before.time_s
        reason = _SPIKES if range_fault is None else _OUT_OF_RANGE
        if reading.faults:
            reason = FAULT_WORDS[reading.faults[0]]
        gate = self._gate
        turned = gate.followed, gate.leapt, gate.impossible, gate.odd_one
        self.intermittence.note(time_s, step_s, measurement.quality, reason, turned)

    def _measure(self, reading: Reading) -> tuple[Measurement, str | None]:
        time_s, junction_c = reading.time_s, reading.junction_c
        if reading.faults:
            return Measurement(time_s, None, Quality.BAD, junction_c), None
        try:
            temp_c = self._temperature(reading)
        except ValueError as error:
            return Measurement(time_s, None, Quality.BAD, junction_c), str(error)
        if time_s <= self._measured_s:
            # Two readings of one instant, or out of order: no slope can be drawn through them.
            return Measurement(time_s, temp_c, Quality.HELD, junction_c), None
        self._measured_s = time_s
        return Measurement(time_s, temp_c, self._gate.feed(time_s, temp_c), junction_c), None

    def _temperature(self, reading: Reading) -> float:
        if reading.emf_uv is not None:
            return self._thermocouple.temp_c(self._calibration.correct(reading.emf_uv), reading.junction_c or 0.0)
        lowest, highest = self._thermocouple.range_c
        if reading.temp_c is None:
            raise ValueError("the reading carries neither an EMF nor a temperature")
        if not lowest <= reading.temp_c <= highest:
            raise ValueError(f"{reading.temp_c:g} °C is outside type {self._thermocouple.letter}'s range")
        return reading.temp_c
