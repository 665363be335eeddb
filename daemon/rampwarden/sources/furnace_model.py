"""The model furnace: a pot in an oven, in the open air or in a small gas furnace, as three masses of heat in a row.

Owns the physics: heat put into the chamber, chamber to pot, pot to probe, and what is lost on the way. It must not know
schedules, operators, frames or clocks; it is told where the pot stands and how much heat is given, and stepped.

Every figure is that of a plausible small furnace (a pot of 5 kg, a chamber lined with fibre, a burner of 25 kW of which
about half stays in the chamber): common practice, no source. It is meant to look like a heat, not to predict one.
"""

import math
from dataclasses import dataclass
from enum import Enum

ROOM_C = 21.0
_ZERO_C_IN_K = 273.15

# A pot of 5 kg at 1.1 kJ/(kg·°C), the specific heat of clay-graphite in the middle of its range.
_POT_J_PER_C = 5500.0
# In the open air the hot pot loses through 0.2 m² inside and out at 30 W/(m²·°C), a yard with some draught.
_OPEN_AIR_W_PER_C = 6.0
# The probe: a thin mineral-insulated couple laid to the wall. In the air its tail cools it a little.
_PROBE_TAU_S = 8.0
_TAIL_SHARE_IN_AIR = 0.07
# Scrap in a pot takes up heat where it touches it, and by radiation.
_CHARGE_W_PER_C = 6.0
# Somebody has lit and warmed the furnace before the pot is set in, so that it does not drink the pot's heat.
CHAMBER_AT_ARRIVAL_C = 100.0
# Explicit steps stay accurate up to a quarter of the fastest time constant.
_LONGEST_STEP_S = 2.0
# How quickly a practised hand brings the chamber to where the pot needs it, and how an oven's thermostat does.
_HAND_TAU_S = 75.0
_THERMOSTAT_TAU_S = 480.0


class PotPlace(Enum):
    """Where the pot stands."""

    OVEN = "drying oven"
    OPEN_AIR = "open air"
    FURNACE_UNCOVERED = "furnace, lid taken off a full fire"
    FURNACE_LID_OPEN = "furnace, lid open"
    FURNACE_LID_SHUT = "furnace, lid shut"


@dataclass(frozen=True, slots=True)
class Chamber:
    """What surrounds the pot: heat capacity, exchange with the pot, losses to the room, and the heat it can be given.

    Exchange and losses have a part by difference of temperature (convection) and one by fourth powers (radiation).
    `heat_share` of the heat given stays, and the probe's tail draws the reading by `tail_share` towards the room.
    """

    capacity_j_per_c: float
    exchange_w_per_c: float
    exchange_w_per_k4: float
    loss_w_per_c: float
    loss_w_per_k4: float
    lowest_w: float
    highest_w: float
    heat_share: float = 1.0
    tail_share: float = 0.0


CHAMBERS = {
    # Moving air on 0.2 m² of pot, inside and out, and shiny walls: a quarter of an hour of lag.
    PotPlace.OVEN: Chamber(6000.0, 5.0, 2.0e-9, 5.0, 0.0, 0.0, 2400.0),
    # A flame round the outside alone. With the lid open nine tenths of its heat leave at once: that is how a furnace
    # dries a pot at all.
    PotPlace.FURNACE_LID_OPEN: Chamber(8000.0, 10.0, 4.5e-9, 4.0, 1.5e-9, 40.0, 2500.0),
    PotPlace.FURNACE_LID_SHUT: Chamber(8000.0, 10.0, 4.5e-9, 2.2, 0.5e-9, 200.0, 12000.0),
    # The lid lifted in mid-heat: the fire goes on but its heat leaves, and cold air falls in along the probe.
    PotPlace.FURNACE_UNCOVERED: Chamber(8000.0, 10.0, 4.5e-9, 4.0, 1.5e-9, 200.0, 12000.0, 0.2, 0.05),
}
_IN_FURNACE = (PotPlace.FURNACE_LID_OPEN, PotPlace.FURNACE_LID_SHUT, PotPlace.FURNACE_UNCOVERED)


class FurnaceModel:
    """The pot with what surrounds it. Public temperatures are the truth, in °C; nothing here is noisy.

    `heat_w` is the heat asked for: oven element or gas valve, as heat that stays in the chamber, W. `gas_pressure` is
    the share of it that a failing bottle still delivers, 0 when the flame is out; an oven does not mind.
    """

    def __init__(self, place: PotPlace, start_c: float = ROOM_C) -> None:
        self.place = place
        self.heat_w = 0.0
        self.gas_pressure = 1.0
        self.chamber_c = start_c
        self.pot_c = start_c
        self.probe_c = start_c
        self.probe_tau_s = _PROBE_TAU_S
        self._charge_c = ROOM_C
        self._charge_j_per_c = 0.0

    @property
    def burning(self) -> bool:
        """Whether a flame stands in the chamber."""
        return self.heat_w > 0.0 and self.gas_pressure > 0.0 and self.place in _IN_FURNACE

    @property
    def chamber(self) -> Chamber | None:
        """What surrounds the pot; None in the open air."""
        return CHAMBERS.get(self.place)

    def move_to(self, place: PotPlace) -> None:
        """Carry the pot elsewhere, or open or shut the lid. Out of the oven and into the furnace goes by the air."""
        if self.place is PotPlace.OPEN_AIR and place is not PotPlace.OPEN_AIR:
            self.chamber_c = CHAMBER_AT_ARRIVAL_C
        if place is PotPlace.OPEN_AIR:
            self.heat_w = 0.0
        self.place = place

    def charge(self, capacity_j_per_c: float) -> None:
        """Put cold metal of this heat capacity into the pot."""
        self._charge_c = ROOM_C
        self._charge_j_per_c = capacity_j_per_c

    def step(self, seconds: float) -> None:
        """Let `seconds` pass."""
        steps = max(1, math.ceil(seconds / _LONGEST_STEP_S))
        for _ in range(steps):
            self._step(seconds / steps)

    def _step(self, seconds: float) -> None:
        chamber = CHAMBERS.get(self.place)
        if chamber is None:
            self.pot_c -= _OPEN_AIR_W_PER_C * (self.pot_c - ROOM_C) * seconds / _POT_J_PER_C
            felt_c = self.pot_c + _TAIL_SHARE_IN_AIR * (ROOM_C - self.pot_c)
        else:
            to_pot_w = _exchange_w(chamber, self.chamber_c, self.pot_c)
            given_w = self.heat_w * chamber.heat_share
            if self.place in _IN_FURNACE:
                given_w *= self.gas_pressure
            kept_w = given_w - to_pot_w - _loss_w(chamber, self.chamber_c)
            self.chamber_c += kept_w * seconds / chamber.capacity_j_per_c
            self.pot_c += to_pot_w * seconds / _POT_J_PER_C
            felt_c = self.pot_c + chamber.tail_share * (ROOM_C - self.pot_c)
        if self._charge_j_per_c:
            to_charge_w = _CHARGE_W_PER_C * (self.pot_c - self._charge_c)
            self._charge_c += to_charge_w * seconds / self._charge_j_per_c
            self.pot_c -= to_charge_w * seconds / _POT_J_PER_C
        self.probe_c += (felt_c - self.probe_c) * -math.expm1(-seconds / self.probe_tau_s)

    def heat_for_ramp(self, ramp_c_per_s: float) -> float:
        """Give the heat that brings the pot to this ramp within about a minute, W: what a practised hand knows.

        Not bounded by what burner or element can give; below zero when even a cold chamber would be too warm.
        """
        chamber = CHAMBERS.get(self.place)
        if chamber is None:
            return 0.0
        to_pot_w = _POT_J_PER_C * ramp_c_per_s
        wanted_c = self.pot_c
        for _ in range(2):  # the second time with the radiation half-way up to where the first one led
            conductance_w_per_c = _conductance_w_per_c(chamber, (self.pot_c + wanted_c) / 2.0)
            wanted_c = self.pot_c + to_pot_w / conductance_w_per_c
        return self._heat_for(chamber, wanted_c, _HAND_TAU_S, ramp_c_per_s)

    def heat_for_dial(self, dial_c: float) -> float:
        """Give the heat by which a thermostat set to `dial_c` brings the chamber there, W. Not bounded either."""
        chamber = CHAMBERS.get(self.place)
        return 0.0 if chamber is None else self._heat_for(chamber, dial_c, _THERMOSTAT_TAU_S, 0.0)

    def _heat_for(self, chamber: Chamber, wanted_c: float, tau_s: float, ramp_c_per_s: float) -> float:
        change_c_per_s = ramp_c_per_s + (wanted_c - self.chamber_c) / tau_s
        kept_w = chamber.capacity_j_per_c * change_c_per_s
        return kept_w + _loss_w(chamber, self.chamber_c) + _exchange_w(chamber, self.chamber_c, self.pot_c)


def _conductance_w_per_c(chamber: Chamber, mean_c: float) -> float:
    return chamber.exchange_w_per_c + 4.0 * chamber.exchange_w_per_k4 * (mean_c + _ZERO_C_IN_K) ** 3


def _exchange_w(chamber: Chamber, chamber_c: float, pot_c: float) -> float:
    radiated = (chamber_c + _ZERO_C_IN_K) ** 4 - (pot_c + _ZERO_C_IN_K) ** 4
    return chamber.exchange_w_per_c * (chamber_c - pot_c) + chamber.exchange_w_per_k4 * radiated


def _loss_w(chamber: Chamber, chamber_c: float) -> float:
    radiated = (chamber_c + _ZERO_C_IN_K) ** 4 - (ROOM_C + _ZERO_C_IN_K) ** 4
    return chamber.loss_w_per_c * (chamber_c - ROOM_C) + chamber.loss_w_per_k4 * radiated
