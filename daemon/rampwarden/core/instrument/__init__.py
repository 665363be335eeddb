"""From a board's bytes to a believed temperature, and how sure that is."""

from rampwarden.core.instrument.board_clock import BoardClock, Dating, SequenceCounter
from rampwarden.core.instrument.buzzer_lines import PATTERN_OF, Pattern, annunciation, heartbeat
from rampwarden.core.instrument.calibration import UNCALIBRATED, BoardCalibration
from rampwarden.core.instrument.framing import (
    LONGEST_LINE,
    AdcScaling,
    Column,
    ColumnDecoder,
    ColumnFormat,
    Delimiter,
    Frame,
    FrameDecoder,
    LineDecoder,
)
from rampwarden.core.instrument.instrument_chain import InstrumentChain
from rampwarden.core.instrument.sensor_alarms import SENSOR_ALARMS, sensor_findings
from rampwarden.core.instrument.thermocouple import Thermocouple, as_other_types, thermocouple
from rampwarden.core.instrument.uncertainty import StatedTemperature, Uncertainty, tolerance_limit_c

__all__ = [
    "LONGEST_LINE",
    "PATTERN_OF",
    "SENSOR_ALARMS",
    "UNCALIBRATED",
    "AdcScaling",
    "BoardCalibration",
    "BoardClock",
    "Column",
    "ColumnDecoder",
    "ColumnFormat",
    "Dating",
    "Delimiter",
    "Frame",
    "FrameDecoder",
    "InstrumentChain",
    "LineDecoder",
    "Pattern",
    "SequenceCounter",
    "StatedTemperature",
    "Thermocouple",
    "Uncertainty",
    "annunciation",
    "as_other_types",
    "heartbeat",
    "sensor_findings",
    "thermocouple",
    "tolerance_limit_c",
]
