"""A furnace of two masses, chamber and pot, and an operator who looks now and then.

The chamber takes the flame's heat and loses it linearly and by radiation; the pot follows by exchange and radiation,
within 85 to 160 s at red heat. A lifted lid takes a share of what the probe sees at once and doubles the losses.
"""

import numpy as np

from benchmarks.furnaces.parts import AMBIENT_C, ChamberProbe, Controls

_KELVIN = 273.15


def _quartic(temp_c: float) -> float:
    kelvin = (temp_c + _KELVIN) * 1e-2
    return kelvin * kelvin * kelvin * kelvin


_AMBIENT_4 = _quartic(AMBIENT_C)


class TwoMassFurnace:
    """Chamber and pot. Powers in W, heat capacities in J/K."""

    def __init__(self, dice: np.random.Generator, start_c: float, full_c_per_s: float) -> None:
        mass, loss = dice.uniform(0.6, 1.6, 2), dice.uniform(0.7, 1.5)
        self._chamber_j_per_k = 9000.0 * mass[0]
        self._pot_j_per_k = 5500.0 * mass[1]
        # So that the pot follows within 85 to 160 s at 900 °C, a fifth of it by convection.
        follows_s = dice.uniform(85.0, 160.0)
        exchange = self._pot_j_per_k / follows_s
        self._convection = 0.2 * exchange
        self._radiation = 0.8 * exchange / (4.0 * (1173.15e-2) ** 3 * 1e-2)
        self._loss = 4.0 * loss
        self._loss_4 = 3000.0 * loss / (_quartic(1100.0) - _AMBIENT_4)
        # Full flame climbs so fast at 600 °C.
        self._losses_at = 0.0
        needed = (self._chamber_j_per_k + self._pot_j_per_k) * full_c_per_s + self._lost(620.0)
        self._full_w = needed * dice.uniform(1.02, 1.3)
        self._rough = dice.uniform(0.4, 0.6)
        self._pot_share = dice.uniform(0.75, 1.0)
        self._gas_share = dice.uniform(0.0, 0.008)
        self._lid_takes = dice.uniform(0.05, 0.22)
        self._lid_loss = dice.uniform(1.6, 3.0)
        self.pot_c = start_c
        self.chamber_c = start_c + full_c_per_s * follows_s * 0.4 if start_c > 100.0 else start_c
        self._cold_j_per_k = self._cold_c = self._cold_exchange = self._cold_melt_j = 0.0
        self._melting_c = 2000.0
        self._melt_j = self._melted_j = 0.0

    def _lost(self, temp_c: float) -> float:
        return self._loss * (temp_c - AMBIENT_C) + self._loss_4 * (_quartic(temp_c) - _AMBIENT_4)

    def hold_valve(self, temp_c: float) -> float:
        """Give the valve that holds a temperature (°C)."""
        return self._lost(temp_c + 10.0) / self._full_w

    def step(self, controls: Controls) -> None:
        """Let one second pass."""
        chamber_c, pot_c = self.chamber_c, self.pot_c
        power_w = self._full_w * controls.valve * controls.supply if controls.lit else 0.0
        lost_w = self._lost(chamber_c)
        if controls.lid_open:
            lost_w *= self._lid_loss
        given_w = self._convection * (chamber_c - pot_c) + self._radiation * (_quartic(chamber_c) - _quartic(pot_c))
        self.chamber_c = chamber_c + (power_w - lost_w - given_w) / self._chamber_j_per_k
        if self._cold_j_per_k:
            taken_w = self._cold_exchange * (pot_c - self._cold_c)
            given_w -= taken_w
            if self._cold_melt_j > 0.0 and self._cold_c >= 650.0:
                self._cold_melt_j -= taken_w
            else:
                self._cold_c += taken_w / self._cold_j_per_k
        if pot_c >= self._melting_c and self._melted_j < self._melt_j:
            self._melted_j += given_w
            return
        self.pot_c = pot_c + given_w / self._pot_j_per_k

    def seen_c(self, controls: Controls) -> float:
        """Give what the probe would show without its lag, °C."""
        seen_c = self._pot_share * self.pot_c + (1.0 - self._pot_share) * (0.7 * self.pot_c + 0.3 * self.chamber_c)
        if controls.lit:
            seen_c += self._gas_share * (self.flame_c(controls) - seen_c) * controls.valve * controls.supply
        if controls.lid_open:
            seen_c -= self._lid_takes * (seen_c - AMBIENT_C)
        return seen_c

    def chamber_seen_c(self, controls: Controls, probe: ChamberProbe) -> float:
        """Give what a probe in the chamber would show without its lag, °C: a little of the flame beside it."""
        seen_c = self.chamber_c
        if controls.lit:
            seen_c += 0.03 * probe.in_gas * (self.flame_c(controls) - seen_c) * controls.valve * controls.supply
        return seen_c - (probe.lid_takes * (seen_c - AMBIENT_C) if controls.lid_open else 0.0)

    def flame_c(self, controls: Controls) -> float:
        """Give the temperature of the flame's gas beside the pot, °C."""
        return min(1750.0, self.chamber_c + 550.0)

    def roughness(self, controls: Controls) -> float:
        """Give the flicker's share of what it is at full flame."""
        return (controls.valve * controls.supply) ** self._rough if controls.lit else 0.0

    def charge(self, share: float, melts: bool) -> None:
        """Put cold metal into the pot."""
        self._cold_j_per_k = share * self._pot_j_per_k
        self._cold_c = AMBIENT_C
        self._cold_exchange = self._cold_j_per_k / 40.0
        self._cold_melt_j = 350.0 * self._cold_j_per_k if melts else 0.0

    def load(self, melting_c: float, stands_s: float, c_per_s: float) -> None:
        """Lay metal into the cold pot."""
        self._melting_c = melting_c
        self._melt_j = stands_s * c_per_s * self._pot_j_per_k


class LookingOperator:
    """Looks every 12 to 60 s, turns the valve by a share of itself, and closes in on the target by eye."""

    def __init__(self, dice: np.random.Generator) -> None:
        self._dice = dice
        self._every_s = dice.uniform(12.0, 60.0)
        self._lead_s = dice.uniform(60.0, 170.0)
        self._firm = dice.uniform(0.5, 1.0)
        self._slack_c = dice.uniform(2.0, 6.0)
        self._valve = dice.uniform(0.5, 0.8)
        self._due_s = 0.0
        self._last_s = self._last_c = 0.0
        self._closing = False

    def start(self, valve: float) -> None:
        """Begin with such a valve."""
        self._valve = valve
        self._due_s = 0.0
        self._closing = False

    def look(self, time_s: float, temp_c: float, target_c: float, pace_c_per_s: float, *, holds: bool) -> float:
        """Give the valve."""
        if time_s < self._due_s:
            return self._valve
        step_s = time_s - self._last_s
        slope = (temp_c - self._last_c) / step_s if 0.0 < step_s < 200.0 else pace_c_per_s
        self._last_s, self._last_c = time_s, temp_c
        self._due_s = time_s + self._every_s * self._dice.uniform(0.7, 1.3)
        left_c = target_c - temp_c
        valve = self._valve
        if holds or left_c < slope * self._lead_s:
            wanted = left_c / (1.5 * self._lead_s)
            error = (wanted - slope) * self._lead_s
            if abs(error) > self._slack_c:
                valve *= min(max(1.0 + self._firm * 0.012 * error, 0.55), 1.35)
        elif slope > 1.08 * pace_c_per_s:
            valve *= 1.0 - self._firm * min(0.25, 0.5 * (slope / pace_c_per_s - 1.0))
        elif slope < 0.9 * pace_c_per_s:
            valve *= 1.0 + self._firm * min(0.25, 0.6 * (1.0 - slope / pace_c_per_s))
        self._valve = min(max(valve, 0.04), 1.0)
        return self._valve


class ProportionalOven:
    """A quiet electric oven: one mass, a thermostat in proportion, a pot that follows."""

    def __init__(self, dice: np.random.Generator, start_c: float, cycling_c: float) -> None:
        self._pot_follows_s = dice.uniform(150.0, 500.0)
        self._cools_s = dice.uniform(2500.0, 5000.0)
        self._full_c_per_s = dice.uniform(0.12, 0.25)
        self._cycling_c = cycling_c
        self._in_air = dice.uniform(0.2, 0.6) if not cycling_c else dice.uniform(0.5, 1.0)
        self._on = True
        self.pot_c = self.chamber_c = start_c
        self.set_c = start_c

    def step(self, powered: bool) -> None:
        """Let one second pass."""
        error_c = self.set_c - self.chamber_c
        if self._cycling_c:
            if error_c > self._cycling_c:
                self._on = True
            elif error_c < -self._cycling_c:
                self._on = False
            share = 1.0 if self._on else 0.0
        else:
            share = min(max(error_c / 4.0 + (self.set_c - AMBIENT_C) / (self._cools_s * self._full_c_per_s), 0.0), 1.0)
        power = share * self._full_c_per_s if powered else 0.0
        self.chamber_c += power - (self.chamber_c - AMBIENT_C) / self._cools_s
        self.pot_c += (self.chamber_c - self.pot_c) / self._pot_follows_s

    def seen_c(self) -> float:
        """Give what the probe would show without its lag, °C."""
        return self.pot_c + self._in_air * (self.chamber_c - self.pot_c)
