"""What every simulated furnace shares with the heat that is run in it: controls in, what a probe would see out."""

from dataclasses import dataclass
from typing import Protocol

AMBIENT_C = 20.0


@dataclass
class Controls:
    """What is done to a furnace in this second.

    `valve` is the share of the full flame (or the power) that a hand asks for, `supply` the share of it that the gas
    delivers; `lit` is whether it burns.
    """

    valve: float = 0.0
    supply: float = 1.0
    lit: bool = True
    lid_open: bool = False


@dataclass(frozen=True)
class ChamberProbe:
    """A second probe, in the chamber beside the pot.

    `in_gas` is the share by which it sees the flame's gas, the rest is the wall; `lid_takes` what a lifted lid takes of
    what it stands above the room.
    """

    lag_s: float
    in_gas: float
    lid_takes: float


class Furnace(Protocol):
    """A furnace with a pot in it, advanced by whole seconds."""

    pot_c: float
    chamber_c: float

    def step(self, controls: Controls) -> None:
        """Let one second pass."""

    def seen_c(self, controls: Controls) -> float:
        """Give what the probe would show without its lag, °C."""

    def chamber_seen_c(self, controls: Controls, probe: ChamberProbe) -> float:
        """Give what a probe in the chamber would show without its lag, °C."""

    def flame_c(self, controls: Controls) -> float:
        """Give the temperature of the flame's gas beside the pot, °C."""

    def roughness(self, controls: Controls) -> float:
        """Give the flicker's share of what it is at full flame; 0 when nothing burns."""

    def charge(self, share: float, melts: bool) -> None:
        """Put cold metal into the pot, its heat capacity as a share of the pot's."""

    def load(self, melting_c: float, stands_s: float, c_per_s: float) -> None:
        """Lay metal into the cold pot that stands still for about so long at its point when climbing so fast."""


class Operator(Protocol):
    """A person at the valve."""

    def look(self, time_s: float, temp_c: float, target_c: float, pace_c_per_s: float, *, holds: bool) -> float:
        """Give the valve from the reading (°C), the segment's target, and the pace wanted; `holds` in a soak."""
