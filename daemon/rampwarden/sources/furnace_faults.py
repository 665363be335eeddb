"""What can be made to go wrong in a rehearsal, and where in a given schedule each mishap belongs.

Owns names, one-line descriptions and places. What a mishap does is done elsewhere: by the operator's hand or by the
board. It must not know the furnace.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.errors import ScheduleError


class FaultName(StrEnum):
    """The mishaps of a rehearsal."""

    FAST_RAMP = "fast-ramp"
    GAS_FAILING = "gas-failing"
    OPEN_SENSOR = "open-sensor"
    SPIKES = "spikes"
    SILENCE = "silence"
    BOARD_RESTART = "board-restart"
    SLOW_RED_HEAT = "slow-red-heat"
    OVEN_NOTCHES = "oven-notches"
    SOAK_DRIFT = "soak-drift"
    OVERSHOOT = "overshoot"
    FLAME_OUT = "flame-out"
    LID_OPEN = "lid-open"
    CHARGE = "charge"
    SHORTED_SENSOR = "shorted-sensor"
    STUCK_SENSOR = "stuck-sensor"
    REVERSED_SENSOR = "reversed-sensor"
    NOISY_SENSOR = "noisy-sensor"
    HOT_BOARD = "hot-board"
    PULLED_SENSOR = "pulled-sensor"
    DRIFTING_SENSOR = "drifting-sensor"


DESCRIPTIONS = {
    FaultName.FAST_RAMP: "while drying, the heat stands too high for 20 minutes: 1.8 times the limit, then corrected",
    FaultName.GAS_FAILING: "in the last ramp the gas pressure sags by 60 % within 20 minutes; a new bottle after 25",
    FaultName.OPEN_SENSOR: "the thermocouple is open for 40 seconds",
    FaultName.SPIKES: "as long as the burner burns, one reading in 29 is a spike of 20 to 400 °C",
    FaultName.SILENCE: "the board says nothing for 90 seconds",
    FaultName.BOARD_RESTART: "the board is away for 3 seconds and starts counting at 0 again",
    FaultName.SLOW_RED_HEAT: "red heat is crossed at half the least allowed rate for 15 minutes",
    FaultName.OVEN_NOTCHES: "not a fault: the first ramp is climbed by a dial, in notches as large as its limit",
    FaultName.SOAK_DRIFT: "the soak drifts below its band for about 6 minutes and comes back",
    FaultName.OVERSHOOT: "the soak is overrun: about 13 °C above its ceiling, 3 minutes long, then brought back",
    FaultName.FLAME_OUT: "in the last ramp the flame goes out; it is seen and lit again after 8 minutes",
    FaultName.LID_OPEN: "not a fault: in the last ramp the lid is lifted for 45 seconds",
    FaultName.CHARGE: "not a fault: in the last ramp the lid is lifted and cold metal put into the pot",
    FaultName.SHORTED_SENSOR: "the thermocouple touches the furnace for 40 seconds: a short to ground",
    FaultName.STUCK_SENSOR: "the converter repeats one value for 10 minutes",
    FaultName.REVERSED_SENSOR: "the thermocouple's wires are crossed at the board, all heat long",
    FaultName.NOISY_SENSOR: "for 15 minutes the wires pick up the mains, 3 °C of it",
    FaultName.HOT_BOARD: "for 10 minutes hot air blows at the board: its junction races up by 25 °C",
    FaultName.PULLED_SENSOR: "the probe is drawn back for 15 minutes and reads a fifth too low",
    FaultName.DRIFTING_SENSOR: "from red heat on the probe drifts, by 5 % lower each hour",
}

_LASTING_S = {
    FaultName.FLAME_OUT: 480.0,
    FaultName.LID_OPEN: 45.0,
    FaultName.CHARGE: 45.0,
    FaultName.SHORTED_SENSOR: 40.0,
    FaultName.STUCK_SENSOR: 600.0,
    FaultName.NOISY_SENSOR: 900.0,
    FaultName.HOT_BOARD: 600.0,
    FaultName.OPEN_SENSOR: 40.0,
    FaultName.SILENCE: 90.0,
    FaultName.PULLED_SENSOR: 900.0,
}


@dataclass(frozen=True, slots=True)
class FaultPlace:
    """A mishap begins in segment `segment`, `after_s` or later from its start, once the probe has passed `from_c`.

    It lasts `lasting_s`, or as long as its maker thinks right where that is not said.
    """

    segment: int
    from_c: float = -math.inf
    after_s: float = 0.0
    lasting_s: float = math.inf


def place_of(fault: FaultName, schedule: Schedule) -> FaultPlace:
    """Find where in `schedule` a mishap belongs; raises `ScheduleError` if it has no place there."""
    ramps = [index for index, segment in enumerate(schedule.segments) if segment.kind is SegmentKind.RAMP]
    soaks = [index for index, segment in enumerate(schedule.segments) if segment.kind is SegmentKind.SOAK]
    held_low = [index for index in ramps if schedule.segments[index].min_rate is not None]
    match fault:
        case FaultName.FAST_RAMP:
            limited = [index for index in ramps if schedule.segments[index].max_rates]
            # Twenty minutes in, the ramp is steady and the watch has learnt the noise.
            return FaultPlace(_first(limited, fault, "ramp with a max_rate"), after_s=1200.0)
        case FaultName.OVEN_NOTCHES:
            limited = [index for index in ramps if schedule.segments[index].max_rates]
            return FaultPlace(_first(limited, fault, "ramp with a max_rate"))
        case FaultName.SLOW_RED_HEAT:
            index = _first(held_low, fault, "ramp with a min_rate")
            return FaultPlace(index, from_c=_part_of_ramp(schedule, index, 0.3))
        case FaultName.GAS_FAILING | FaultName.FLAME_OUT | FaultName.LID_OPEN | FaultName.CHARGE:
            index = _first(ramps[::-1], fault, "ramp")
            from_c = _part_of_ramp(schedule, index, 0.3)
            return FaultPlace(index, from_c, lasting_s=_LASTING_S.get(fault, math.inf))
        case FaultName.REVERSED_SENSOR:
            return FaultPlace(_first(ramps, fault, "ramp"))
        case FaultName.SOAK_DRIFT:
            index = _first(_hottest_first(soaks, schedule), fault, "soak")
            return FaultPlace(index, after_s=schedule.segments[index].hold_s / 4.0)
        case FaultName.OVERSHOOT:
            return FaultPlace(_first(_hottest_first(soaks, schedule), fault, "soak"))
        case _:
            # Faults of sensor, board and line come where they hurt most: on the way through red heat.
            index = _first(held_low or ramps[::-1], fault, "ramp")
            from_c = _part_of_ramp(schedule, index, 0.5)
            return FaultPlace(index, from_c, lasting_s=_LASTING_S.get(fault, math.inf))


def _first(candidates: list[int], fault: FaultName, wanted: str) -> int:
    if not candidates:
        raise ScheduleError(f"{fault} needs a {wanted}; this schedule has none, rehearse another or without the fault")
    return candidates[0]


def _hottest_first(soaks: list[int], schedule: Schedule) -> list[int]:
    return sorted(soaks, key=lambda index: schedule.segments[index].at_c or 0.0, reverse=True)


def _part_of_ramp(schedule: Schedule, index: int, share: float) -> float:
    """Give the temperature a `share` of the way up ramp `index`, from where the segments before it lead, °C."""
    before = [segment.target_c for segment in schedule.segments[:index] if segment.target_c is not None]
    start_c = before[-1] if before else 20.0
    end_c = schedule.segments[index].to_c or 0.0
    return start_c + share * (end_c - start_c)
