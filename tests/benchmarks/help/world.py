"""The workshop while a heat runs: drying oven, furnace, lid, bottle, probe; nobody decides anything here."""

import math
from dataclasses import dataclass

from benchmarks.furnaces.layered import LayeredFurnace, SwitchedOven
from benchmarks.furnaces.parts import AMBIENT_C, Controls
from benchmarks.furnaces.two_mass import ProportionalOven, TwoMassFurnace
from benchmarks.help.drawn import Drawn
from benchmarks.help.gas import GasBottle

_UNPLUGGED_S = 900.0
_STICKS_S = 900.0
_HOLDS_AT = 0.7
"""The valve at which a burner worth its furnace holds the target, at most."""


@dataclass
class ProbeState:
    """How the probe is: what befell it and when (s), None before; `mended` says that somebody put it right."""

    began_s: float | None = None
    mended: bool = False
    held_c: float | None = None


class World:
    """All that is true. `pot_c`, `lid_open`, `lit` and the rest are the truth; `read` is what the board sends."""

    def __init__(self, drawn: Drawn) -> None:
        self.drawn = drawn
        self._layered = drawn.simulator == "layered"
        make = SwitchedOven if self._layered else ProportionalOven
        self._oven: ProportionalOven | SwitchedOven = make(drawn.dice(1), AMBIENT_C, 0.0)
        self._furnace = self._sound_furnace()
        self.controls = Controls(valve=0.0, lit=False)
        self.bottle = GasBottle(drawn.dice(3), drawn.gas.content_kg, drawn.gas.ambient_c)
        self.dial_c = AMBIENT_C
        self.where = "oven"
        self.second = 0
        self.flame_s = 0.0
        self.probe = ProbeState()
        self._noise = drawn.dice(4)
        self._carried_c = AMBIENT_C
        self._probe_c = self._shown_c = AMBIENT_C
        self._flicker = 0.0
        self._arrived_s = 0

    def _sound_furnace(self) -> TwoMassFurnace | LayeredFurnace:
        """Build a furnace whose burner can hold the target; its other parameters come out the same."""
        segments = self.drawn.schedule.segments
        full = segments[4].max_rates[0].c_per_s * self.drawn.full_pace
        make = LayeredFurnace if self._layered else TwoMassFurnace
        while True:
            furnace = make(self.drawn.dice(2), AMBIENT_C, full)
            if furnace.hold_valve(segments[-2].at_c or 0.0) < _HOLDS_AT:
                return furnace
            full *= 1.2

    @property
    def pot_c(self) -> float:
        """The pot's own temperature, °C."""
        if self.where == "oven":
            return self._oven.pot_c
        return self._carried_c if self.where == "carried" else self._furnace.pot_c

    @property
    def usual_kw(self) -> float:
        """What the burner takes on the whole, as somebody knows who has weighed a bottle before and after a heat."""
        target_c = self.drawn.schedule.segments[-2].at_c or 0.0
        share = self._furnace.hold_valve(target_c) + 0.3 * self._furnace.hold_valve(0.6 * target_c)
        return self.drawn.gas.full_kw * min(share, 0.9)

    @property
    def burns(self) -> bool:
        """Whether there is a flame."""
        return self.where == "furnace" and self.controls.lit and self.controls.valve > 0.0

    @property
    def lid_open(self) -> bool:
        """Whether the furnace stands open."""
        return self.controls.lid_open

    @property
    def misreads(self) -> bool:
        """Whether the probe tells something else than the pot now."""
        return self.probe.began_s is not None and not self.probe.mended

    def lift(self) -> None:
        """Take the pot out of the oven."""
        self._carried_c = self._oven.pot_c
        self.where = "carried"

    def set_down(self) -> None:
        """Put the pot into the furnace; the burner is not lit yet."""
        self._furnace.pot_c = self._carried_c
        self.where = "furnace"
        self._arrived_s = self.second

    def light(self, valve: float) -> None:
        """Light the burner, if there is gas."""
        self.controls.valve = valve
        self.controls.lit = not self.bottle.starved

    def step(self) -> None:
        """Let a second pass."""
        self.second += 1
        drawn, controls = self.drawn, self.controls
        if self.where == "oven":
            scale, offset_c = drawn.dial
            self._oven.set_c = AMBIENT_C + max(0.0, (self.dial_c - AMBIENT_C) * scale + offset_c)
            self._oven.step(True)
            seen_c = self._oven.seen_c()
        elif self.where == "carried":
            self._carried_c -= (self._carried_c - AMBIENT_C) / 2000.0
            seen_c = AMBIENT_C + 10.0 + (self._probe_c - AMBIENT_C - 10.0) * math.exp(-1.0 / 15.0)
        else:
            seen_c = self._in_furnace(controls)
        self._probe_c = seen_c
        self._befall_probe()
        self._shown_c += (self._misread(seen_c) - self._shown_c) / max(1.0, drawn.lag_s)

    def _in_furnace(self, controls: Controls) -> float:
        controls.supply = self.bottle.supply
        if self.burns:
            self.flame_s += 1.0
            self.bottle.draw(self.drawn.gas.full_kw * controls.valve * controls.supply, 1.0)
            out_s = self.drawn.flame_out_s
            if self.bottle.starved or self.flame_s - 1.0 < out_s <= self.flame_s:
                controls.lit = False
        self._furnace.step(controls)
        seen_c = self._furnace.seen_c(controls)
        since_s = self.second - self._arrived_s
        # The contact grows as the probe is settled in its place.
        return self._probe_c + (seen_c - self._probe_c) / max(1.0, 20.0 * (1.0 - since_s / 200.0))

    def _befall_probe(self) -> None:
        mishap, probe = self.drawn.mishap, self.probe
        if mishap.kind == "none" or self.where != "furnace":
            return
        if probe.began_s is None and self.pot_c >= mishap.at_c:
            probe.began_s = float(self.second)
            probe.held_c = self._shown_c
        lasts_s = {"sticks": _STICKS_S, "unplugged": _UNPLUGGED_S}.get(mishap.kind)
        if probe.began_s is not None and lasts_s is not None and self.second > probe.began_s + lasts_s:
            probe.mended = True

    def _misread(self, seen_c: float) -> float:
        if self.misreads and self.drawn.mishap.kind == "slips":
            return seen_c - self.drawn.mishap.share * (seen_c - AMBIENT_C)
        return seen_c

    def read(self, every_s: float) -> float | None:
        """Give what the board sends after `every_s` seconds, °C; None when it sends nothing."""
        white_c, flicker_c, flicker_s = self.drawn.noise
        keep = math.exp(-every_s / flicker_s)
        kick, white = self._noise.standard_normal(2)
        self._flicker = keep * self._flicker + math.sqrt(1.0 - keep * keep) * kick
        if self.misreads and self.drawn.mishap.kind == "unplugged":
            return None
        if self.misreads and self.drawn.mishap.kind == "sticks":
            return self.probe.held_c
        rough = self._furnace.roughness(self.controls) if self.burns else 0.0
        value = self._shown_c + white_c * white + flicker_c * rough * self._flicker
        return round(value * 4.0) / 4.0
