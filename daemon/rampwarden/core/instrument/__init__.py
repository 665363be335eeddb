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
from rampwarden.core.instrument.intermittence import SENSOR_INTERMITTENT
from rampwarden.core.instrument.sensor_alarms import SENSOR_ALARMS, sensor_findings
from rampwarden.core.instrument.thermocouple import Thermocouple, as_other_types, thermocouple
from rampwarden.core.instrument.uncertainty import (
    COVERAGE_FACTOR,
    NOT_IN_IT,
    StatedTemperature,
    Uncertainty,
    board_figures,
    expanded_uncertainty_c,
    is_covered,
    tolerance_limit_c,
    what_is_in_it,
)

__all__ = [
    "COVERAGE_FACTOR",
    "LONGEST_LINE",
    "NOT_IN_IT",
    "PATTERN_OF",
    "SENSOR_ALARMS",
    "SENSOR_INTERMITTENT",
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
    "board_figures",
    "expanded_uncertainty_c",
    "heartbeat",
    "is_covered",
    "sensor_findings",
    "thermocouple",
    "tolerance_limit_c",
    "what_is_in_it",
]
