"""What happens in a simulated heat, when it begins, and which statements about it are right."""

from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from rampwarden.core.schedule import Schedule


class Row(Enum):
    """A line of the table: one kind of thing that happens in a heat, or nothing."""

    SOUND = "sound"
    FLAME_OUT_CLIMB = "flame-out-climb"
    FLAME_OUT_SOAK = "flame-out-soak"
    BOTTLE_CHANGE = "bottle-change"
    GAS_SAG = "gas-sag"
    FREEZING = "bottle-freezing"
    DOWN_ONCE = "turned-down-once"
    DOWN_STEPS = "turned-down-steps"
    LID_20_SOAK = "lid-20-soak"
    LID_120_SOAK = "lid-120-soak"
    LID_120_CLIMB = "lid-120-climb"
    CHARGE = "charge"
    MOVED_SOAK = "probe-moved-soak"
    MOVED_CLIMB = "probe-moved-climb"
    IN_FLAME = "probe-in-flame"
    OVEN_CYCLING = "oven-cycling"
    BURNER_CYCLING = "burner-cycling"
    INTERFERENCE = "interference"
    STUCK = "stuck"
    OVEN_OFF = "oven-off"
    LEFT_ON = "heat-left-on"
    PLATEAU = "plateau"
    ARRIVAL = "arrival"
    # What two probes are for; one is not asked about them.
    POT_DRIFTS = "pot-probe-drifts"
    OUT_OF_SEAT = "pot-probe-out-of-its-seat"
    LONG_SOAK = "sound-long-soak"


FOR_TWO_PROBES = (Row.POT_DRIFTS, Row.OUT_OF_SEAT, Row.LONG_SOAK)
"""Rows that one probe is not asked about."""


class Said(Enum):
    """What can be said of a heat, by whoever says it."""

    FLAME_OUT = "flame-out"
    FADING = "gas-or-turned-down"
    SAG = "sag"
    LID = "lid-or-probe"
    LID_SHUT = "lid-shut"
    CHARGE = "charge"
    MOVED = "probe-moved"
    IN_FLAME = "in-flame"
    CYCLING = "cycling"
    INTERFERENCE = "interference"
    STUCK = "stuck"
    HEAT_OFF = "heat-off"
    LEFT_ON = "left-on"
    PLATEAU = "plateau"
    OTHER = "other"


@dataclass(frozen=True)
class Rule:
    """Which statements name the cause of a row, and which beside it are true or a pair that holds the truth."""

    right: frozenset[Said]
    fine: frozenset[Said] = frozenset()


def _rule(*right: Said, fine: tuple[Said, ...] = ()) -> Rule:
    return Rule(frozenset(right), frozenset(fine))


RULES: dict[Row, Rule] = {
    Row.SOUND: _rule(),
    Row.FLAME_OUT_CLIMB: _rule(Said.FLAME_OUT),
    Row.FLAME_OUT_SOAK: _rule(Said.FLAME_OUT),
    Row.BOTTLE_CHANGE: _rule(Said.FLAME_OUT),
    Row.GAS_SAG: _rule(Said.SAG, Said.FADING),
    Row.FREEZING: _rule(Said.FADING, fine=(Said.SAG,)),
    # An unmarked turning down is counted in a column of its own.
    Row.DOWN_ONCE: _rule(),
    Row.DOWN_STEPS: _rule(),
    Row.LID_20_SOAK: _rule(Said.LID, fine=(Said.LID_SHUT,)),
    Row.LID_120_SOAK: _rule(Said.LID, fine=(Said.LID_SHUT,)),
    Row.LID_120_CLIMB: _rule(Said.LID, fine=(Said.LID_SHUT,)),
    # The lid is open while it is charged.
    Row.CHARGE: _rule(Said.CHARGE, fine=(Said.LID, Said.LID_SHUT)),
    Row.MOVED_SOAK: _rule(Said.LID, Said.MOVED),
    Row.MOVED_CLIMB: _rule(Said.LID, Said.MOVED),
    Row.IN_FLAME: _rule(Said.IN_FLAME),
    # One fall of a thermostat cannot be told from a trip: the statement is that pair.
    Row.OVEN_CYCLING: _rule(Said.CYCLING, fine=(Said.HEAT_OFF,)),
    Row.BURNER_CYCLING: _rule(Said.CYCLING),
    Row.INTERFERENCE: _rule(Said.INTERFERENCE),
    Row.STUCK: _rule(Said.STUCK),
    Row.OVEN_OFF: _rule(Said.HEAT_OFF),
    Row.LEFT_ON: _rule(Said.LEFT_ON),
    Row.PLATEAU: _rule(Said.PLATEAU),
    Row.ARRIVAL: _rule(),
    Row.POT_DRIFTS: _rule(),
    Row.LONG_SOAK: _rule(),
    Row.OUT_OF_SEAT: _rule(Said.LID, Said.MOVED, fine=(Said.CHARGE,)),
}

SILENT_ROWS = (Row.SOUND, Row.DOWN_ONCE, Row.DOWN_STEPS, Row.ARRIVAL)
"""Rows in which silence is right."""


@dataclass
class Truth:
    """When a row's happening began and ended, s; None where it never came about (a heat that does not count)."""

    began_s: float | None = None
    ended_s: float | None = None


@dataclass
class SimulatedHeat:
    """One heat: what the board sent, and what truly happened.

    `time_s`, `temp_c` are the readings, shape (n,); `true_c` the probe's course without noise at those times. `valve`
    is what a hand asked for in each second, as a share of the full flame, `pot_c` and `chamber_c` the pot's own
    temperature and the chamber's beside it then, `beside_c` what a probe in the chamber would show without noise.
    `marks` are what a person told the watch; `noise` names the class.
    """

    row: Row
    simulator: str
    seed: int
    schedule: Schedule
    time_s: NDArray[np.float64]
    temp_c: NDArray[np.float64]
    true_c: NDArray[np.float64]
    truth: Truth
    noise: str
    drawn: dict[str, float]
    valve: NDArray[np.float64]
    pot_c: NDArray[np.float64]
    chamber_c: NDArray[np.float64]
    beside_c: NDArray[np.float64]
    marks: list[tuple[float, str]] = field(default_factory=list)
