"""Heats of two probes: what a chamber's probe beside the pot's sends, and what befalls either of them.

The furnace and the pot's probe are those of `scenarios`; the chamber's probe hangs in the same furnace and is read by
the same board, with a noise of its own. What befalls it is laid on what it shows. In half of the heats that begin in an
oven it hangs in the furnace all the while, cold.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from benchmarks.furnaces.sampling import Board, Disturbed, sample
from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import Row, SimulatedHeat
from rampwarden.core.schedule import SegmentKind

_ROOM_C = 20.0


class Befalls(Enum):
    """What befalls the chamber's probe of a heat that is sound else."""

    NOTHING = "nothing"
    MOVES = "chamber-probe-moves"
    DRIFTS = "chamber-probe-drifts"


@dataclass
class HeatOfTwo:
    """A heat, and what the chamber's probe sent: times (s) and readings (°C), shape (n,)."""

    heat: SimulatedHeat
    time_s: NDArray[np.float64]
    temp_c: NDArray[np.float64]
    befalls: Befalls
    began_s: float | None


def heat_of_two(simulator: str, row: Row, seed: int, stream: Stream, befalls: Befalls = Befalls.NOTHING) -> HeatOfTwo:
    """Give heat `seed` of a row with a second probe in the chamber."""
    heat = simulated_heat(simulator, row, seed, stream)
    place = (stream.value, SIMULATORS.index(simulator), list(Row).index(row), seed, 3, list(Befalls).index(befalls))
    dice = np.random.default_rng(place)
    shown_c = heat.beside_c.copy()
    transfers = [each.kind for each in heat.schedule.segments].count(SegmentKind.TRANSFER)
    if transfers and dice.random() < 0.5:
        arrived = int(heat.truth.began_s or 0.0) if row is Row.ARRIVAL else _arrived(heat)
        shown_c[:arrived] = _ROOM_C
    began_s = None
    if befalls is not Befalls.NOTHING:
        began_s = _befall(dice, heat, shown_c, befalls)
    board = Board(heat.noise, heat.drawn["interval_s"], 0.03, heat.drawn["before_lag"], 8.0, 1.0)
    rough = np.sqrt(np.clip(heat.valve, 0.0, 1.0))
    time_s, temp_c, _ = sample(dice, board, shown_c, rough, pink=simulator == "layered", disturbed=Disturbed())
    return HeatOfTwo(heat, time_s, temp_c, befalls, began_s)


def _arrived(heat: SimulatedHeat) -> int:
    """Give the second at which the pot stands in the furnace: from where on the chamber's course is the furnace's."""
    leaps = np.flatnonzero(np.abs(np.diff(heat.pot_c)) > 0.0)
    still = np.flatnonzero(np.diff(heat.beside_c) == 0.0)
    return int(still[-1]) + 1 if len(still) else int(leaps[0])


def _befall(dice: np.random.Generator, heat: SimulatedHeat, shown_c: NDArray[np.float64], befalls: Befalls) -> float:
    """Lay on the chamber's course what befalls its probe; gives from when on, s."""
    soak = heat.schedule.segments[-2]
    inside = np.flatnonzero(heat.pot_c >= soak.lowest_c)
    soak_s = int(inside[0])
    seconds = np.arange(len(shown_c), dtype=float)
    if befalls is Befalls.DRIFTS:
        began_s = soak_s + 300.0
        shown_c -= dice.uniform(20.0, 45.0) / 3600.0 * np.clip(seconds - began_s, 0.0, None)
        return began_s
    climbs = dice.random() < 0.5
    began_s = soak_s - dice.uniform(200.0, 400.0) if climbs else soak_s + dice.uniform(400.0, 900.0)
    share, lag_s = dice.uniform(0.05, 0.15), dice.uniform(3.0, 20.0)
    since_s = np.clip(seconds - began_s, 0.0, None)
    shown_c -= share * (shown_c - _ROOM_C) * -np.expm1(-since_s / lag_s)
    return began_s
