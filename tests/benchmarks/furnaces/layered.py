"""A furnace whose wall is six layers, with flame temperature and flue losses, and a hand that climbs a ladder.

The flame's gas is in balance in each second between what it brings, what wall and pot take, and what leaves by the
flue; the wall conducts in one dimension and drinks heat for a long time. A lifted lid lets cold air in and lets the
probe see out by radiation. Nothing here has a time constant of its own; it follows from areas, layers and flows.
"""

import math

import numpy as np

from benchmarks.furnaces.parts import AMBIENT_C, ChamberProbe, Controls

_KELVIN = 273.15
_STEFAN_W = 5.670374e-8
_LAYERS = 6


class LayeredFurnace:
    """Six layers of wall, gas in balance, pot. SI units."""

    def __init__(self, dice: np.random.Generator, start_c: float, full_c_per_s: float) -> None:
        self._area_m2 = dice.uniform(0.3, 0.6)
        layer_m = dice.uniform(0.008, 0.014)
        conductivity = dice.uniform(0.18, 0.45)
        heat_j_per_m3 = dice.uniform(0.35e6, 0.9e6)
        self._layer_j_per_k = self._area_m2 * layer_m * heat_j_per_m3
        self._between = self._area_m2 * conductivity / layer_m
        self._outside = self._area_m2 * 9.0
        self._pot_m2 = dice.uniform(0.05, 0.12)
        self._pot_j_per_k = self._pot_m2 * dice.uniform(38000.0, 75000.0)
        self._exchange_pot = self._pot_m2 * dice.uniform(30.0, 60.0)
        self._exchange_wall = self._area_m2 * dice.uniform(20.0, 40.0)
        self._view = 0.75 * _STEFAN_W * self._pot_m2
        self._flame_k = dice.uniform(1600.0, 2050.0)
        self._rough = dice.uniform(0.5, 0.9)
        self._see_wall = dice.uniform(0.0, 0.3)
        self._see_gas = dice.uniform(0.0, 0.012)
        self._see_out = dice.uniform(0.1, 0.45)
        self._draught = dice.uniform(0.5, 1.5)
        # Air that a lifted lid lets in, W/K.
        self._lid_air = dice.uniform(1.0, 4.0)
        self._opening_m2 = dice.uniform(0.01, 0.03)
        self.pot_c = start_c
        hot = start_c > 100.0
        self._wall_c = [
            AMBIENT_C + (start_c + (25.0 if hot else 0.0) - AMBIENT_C) * math.exp(-0.45 * n) for n in range(_LAYERS)
        ]
        self._gas_c = self.chamber_c = start_c
        self._cold_j_per_k = self._cold_c = 0.0
        self._melting_c, self._melt_j, self._molten_j, self._metal_c = 2000.0, 0.0, 0.0, start_c
        self._metal_j_per_k = 0.0
        self._full_flow = 10.0
        self._full_flow = self._flow_for(full_c_per_s) * dice.uniform(1.15, 1.6)

    def _flow_for(self, c_per_s: float) -> float:
        """Give the flow of flame gas (W/K) that takes the pot up so fast at about 600 °C, the wall lagging behind."""
        pot_w = self._pot_j_per_k * c_per_s
        # The wall's skin drinks as a half-space that is climbed for ten minutes.
        wall_w = c_per_s * 2.0 * math.sqrt(self._between * self._layer_j_per_k * 600.0 / math.pi)
        gas_c = 600.0 + 0.5 * (wall_w / self._exchange_wall + pot_w / self._exchange_pot)
        bring_c = max(self._flame_k - _KELVIN - gas_c, 250.0)
        return (pot_w + wall_w) / bring_c

    def hold_valve(self, temp_c: float) -> float:
        """Give about the valve that holds a temperature (°C): the wall is never saturated."""
        lost_w = self._between * (temp_c - AMBIENT_C) / (_LAYERS * 0.6)
        return min(1.0, lost_w / (max(self._flame_k - _KELVIN - temp_c, 150.0) * self._full_flow))

    def step(self, controls: Controls) -> None:
        """Let one second pass."""
        wall_c, pot_c = self._wall_c, self.pot_c
        if controls.lit:
            flow = self._full_flow * controls.valve * controls.supply
            enters = flow * (self._flame_k - _KELVIN)
        else:
            flow = self._draught
            enters = flow * AMBIENT_C
        out_w = 0.0
        if controls.lid_open:
            flow += self._lid_air
            enters += self._lid_air * AMBIENT_C
            out_w = _STEFAN_W * self._opening_m2 * ((wall_c[0] + _KELVIN) ** 4 - 293.15**4)
        to_wall, to_pot = self._exchange_wall, self._exchange_pot
        gas_c = (enters + to_wall * wall_c[0] + to_pot * pot_c) / (flow + to_wall + to_pot)
        self._gas_c = gas_c
        # A probe beside the pot sees the wall's skin, and some of the gas.
        self.chamber_c = 0.85 * wall_c[0] + 0.15 * gas_c
        radiated_w = self._view * ((wall_c[0] + _KELVIN) ** 4 - (pot_c + _KELVIN) ** 4)
        flux_w = to_wall * (gas_c - wall_c[0]) - radiated_w - out_w
        for n in range(_LAYERS):
            inner_c = wall_c[n]
            beyond_w = (
                self._between * (inner_c - wall_c[n + 1]) if n + 1 < _LAYERS else self._outside * (inner_c - AMBIENT_C)
            )
            wall_c[n] = inner_c + (flux_w - beyond_w) / self._layer_j_per_k
            flux_w = beyond_w
        pot_w = to_pot * (gas_c - pot_c) + radiated_w
        if self._cold_j_per_k:
            # Lumps touch better as they warm.
            taken_w = self._cold_j_per_k * (pot_c - self._cold_c) / (70.0 - 0.04 * self._cold_c)
            self._cold_c += taken_w / self._cold_j_per_k
            pot_w -= taken_w
        if self._metal_j_per_k:
            taken_w = self._metal_j_per_k * (pot_c - self._metal_c) / 12.0
            pot_w -= taken_w
            if self._metal_c >= self._melting_c and self._molten_j < self._melt_j:
                self._molten_j += taken_w
            else:
                self._metal_c += taken_w / self._metal_j_per_k
        self.pot_c = pot_c + pot_w / self._pot_j_per_k

    def seen_c(self, controls: Controls) -> float:
        """Give what the probe would show without its lag, °C."""
        beside = self._see_wall + self._see_gas
        seen_c = (1.0 - beside) * self.pot_c + self._see_wall * (0.6 * self.pot_c + 0.4 * self._wall_c[0])
        seen_c += self._see_gas * self._gas_c
        if controls.lid_open:
            kelvin_4 = (1.0 - self._see_out) * (seen_c + _KELVIN) ** 4 + self._see_out * 293.15**4
            seen_c = kelvin_4**0.25 - _KELVIN
        return seen_c

    def chamber_seen_c(self, controls: Controls, probe: ChamberProbe) -> float:
        """Give what a probe in the chamber would show without its lag, °C: between the wall's skin and the gas."""
        seen_c = self._wall_c[0] + probe.in_gas * (self._gas_c - self._wall_c[0])
        if controls.lid_open:
            seen_c = ((1.0 - probe.lid_takes) * (seen_c + _KELVIN) ** 4 + probe.lid_takes * 293.15**4) ** 0.25 - _KELVIN
        return seen_c

    def flame_c(self, controls: Controls) -> float:
        """Give the temperature of the flame's gas beside the pot, °C."""
        return 0.5 * (self._flame_k - _KELVIN + self._gas_c)

    def roughness(self, controls: Controls) -> float:
        """Give the flicker's share of what it is at full flame."""
        return (controls.valve * controls.supply) ** self._rough if controls.lit else 0.0

    def warm_to(self, temp_c: float) -> None:
        """Let the wall be warm from an earlier heat, its skin at `temp_c`."""
        self._wall_c = [AMBIENT_C + (temp_c - AMBIENT_C) * math.exp(-0.3 * n) for n in range(_LAYERS)]

    def charge(self, share: float, melts: bool) -> None:
        """Put cold metal into the pot."""
        self._cold_j_per_k = share * self._pot_j_per_k * (1.3 if melts else 1.0)
        self._cold_c = AMBIENT_C

    def load(self, melting_c: float, stands_s: float, c_per_s: float) -> None:
        """Lay metal into the cold pot."""
        self._melting_c = melting_c
        self._metal_j_per_k = 0.7 * self._pot_j_per_k
        self._metal_c = self.pot_c
        self._melt_j = stands_s * c_per_s * (self._metal_j_per_k + self._pot_j_per_k)


class LadderOperator:
    """Moves one rung of a ladder of settings at a look while climbing, and holds like a slow controller."""

    def __init__(self, dice: np.random.Generator) -> None:
        self._dice = dice
        self._rung = dice.uniform(1.12, 1.3)
        self._every_s = dice.uniform(15.0, 45.0)
        self._early_s = dice.uniform(70.0, 200.0)
        self._gain = dice.uniform(0.0012, 0.003)
        self._valve = 0.6
        self._held = 0.0
        self._due_s = 0.0
        self._memory: list[tuple[float, float]] = []

    def start(self, valve: float) -> None:
        """Begin with such a valve."""
        self._valve = valve
        self._due_s = self._held = 0.0
        self._memory.clear()

    def look(self, time_s: float, temp_c: float, target_c: float, pace_c_per_s: float, *, holds: bool) -> float:
        """Give the valve."""
        if time_s < self._due_s:
            return self._valve
        self._due_s = time_s + self._every_s * self._dice.uniform(0.8, 1.2)
        memory = self._memory
        memory.append((time_s, temp_c))
        while len(memory) > 2 and time_s - memory[0][0] > 75.0:
            memory.pop(0)
        span_s = time_s - memory[0][0]
        slope = (temp_c - memory[0][1]) / span_s if span_s > 0.0 else pace_c_per_s
        left_c = target_c - temp_c
        if holds or left_c < self._early_s * slope:
            if not self._held:
                self._held = 0.5 * self._valve
            ahead_c = left_c - 70.0 * slope
            self._held = min(max(self._held + 0.15 * self._gain * ahead_c, 0.04), 1.0)
            self._valve = min(max(self._held + self._gain * ahead_c, 0.04), 1.0)
            return self._valve
        self._held = 0.0
        if slope > 1.12 * pace_c_per_s:
            self._valve /= self._rung
        elif slope < 0.88 * pace_c_per_s:
            self._valve *= self._rung
        self._valve = min(max(self._valve, 0.05), 1.0)
        return self._valve


class SwitchedOven:
    """An electric oven with an element, air and a wall, switched on and off by a bulb in the air."""

    def __init__(self, dice: np.random.Generator, start_c: float, cycling_c: float) -> None:
        self._element_s = dice.uniform(40.0, 120.0)
        self._element_full_c = dice.uniform(250.0, 420.0)
        self._wall_s = dice.uniform(300.0, 900.0)
        self._wall_cools_s = dice.uniform(2500.0, 6000.0)
        self._pot_s = dice.uniform(200.0, 600.0)
        self._half_width_c = cycling_c if cycling_c else dice.uniform(0.2, 0.6)
        self._in_air = dice.uniform(0.6, 1.0) if cycling_c else dice.uniform(0.0, 0.3)
        self._on = True
        self.pot_c = self.chamber_c = self._wall_c = start_c
        self._element_c = 0.0
        self.set_c = start_c

    def step(self, powered: bool) -> None:
        """Let one second pass."""
        if self.chamber_c < self.set_c - self._half_width_c:
            self._on = True
        elif self.chamber_c > self.set_c + self._half_width_c:
            self._on = False
        heats_c = self._element_full_c if self._on and powered else 0.0
        self._element_c += (heats_c - self._element_c) / self._element_s
        self.chamber_c += (self._element_c * 0.5 - 1.6 * (self.chamber_c - self._wall_c)) / 260.0
        self._wall_c += (self.chamber_c - self._wall_c) / self._wall_s - (self._wall_c - AMBIENT_C) / self._wall_cools_s
        self.pot_c += (self.chamber_c - self.pot_c) / self._pot_s

    def seen_c(self) -> float:
        """Give what the probe would show without its lag, °C."""
        return self.pot_c + self._in_air * (self.chamber_c - self.pot_c)
