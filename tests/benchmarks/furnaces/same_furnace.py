"""Several whole heats of one furnace, one pot and one person: what is learnt from earlier heats can be judged.

Furnace, oven, pot, board, schedule and habits are drawn once for a workshop; a day's pace, gas, carrying and starting
warmth are drawn anew for each heat. Spreads are assumptions, own arithmetic: a person's pace varies by 6 % from day to
day, the gas by 3 %, draught and lid (so what the furnace loses) by 5 %, the time of carrying by 15 %, and how soon a
finished segment is noticed by 40 %. A quarter of the workshops hold their cooling back with a low flame.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.furnaces.layered import LadderOperator, LayeredFurnace, SwitchedOven
from benchmarks.furnaces.parts import AMBIENT_C, Controls
from benchmarks.furnaces.sampling import Disturbed, draw_board, sample
from benchmarks.furnaces.scenarios import SIMULATORS, Stream
from benchmarks.furnaces.two_mass import LookingOperator, ProportionalOven, TwoMassFurnace
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

_WORKSHOP = 77
_LONGEST_S = 14 * 3600
_OVEN_RATE = Rate(25.0, 900.0)
_AFTER_END_S = 120
_HOLDS_AT = 0.7
"""The valve at which a burner worth its furnace holds the target, at most."""


@dataclass
class WorkshopHeat:
    """Heat `number` (from 0) of a workshop: readings as a board would send them, shape (n,), s and °C.

    `stops_c` is where the pot came to stand when the flame was too weak for its schedule, None in a sound heat.
    """

    schedule: Schedule
    number: int
    time_s: NDArray[np.float64]
    temp_c: NDArray[np.float64]
    junction_c: NDArray[np.float64]
    stops_c: float | None = None


class Workshop:
    """One furnace, pot and person of a simulator; `heat` gives each of its heats, the same whenever it is asked."""

    def __init__(self, simulator: str, seed: int, stream: Stream) -> None:
        self.simulator = simulator
        self._place = (stream.value, _WORKSHOP, SIMULATORS.index(simulator), seed)
        dice = np.random.default_rng(self._place)
        self._pace = math.exp(dice.uniform(math.log(6.0), math.log(40.0))) / 60.0
        self._full = self._pace * float(dice.uniform(1.25, 1.9))
        self._furnace_seed, self._oven_seed, self._person_seed = (int(each) for each in dice.integers(0, 2**31, 3))
        self.has_oven = bool(dice.random() < 0.5)
        self._notched = bool(dice.random() < 0.5)
        self._oven_pace = _OVEN_RATE.c_per_s * float(dice.uniform(0.65, 0.85))
        self._carries_s = float(dice.uniform(120.0, 400.0))
        self._air_s = float(dice.uniform(8.0, 30.0))
        self._notices_s = float(dice.uniform(30.0, 120.0))
        self._interval_s = float(dice.choice((0.5, 1.0, 2.0)))
        self.schedule = self._schedule(dice)

    def _schedule(self, dice: np.random.Generator) -> Schedule:
        target_c = round(float(dice.uniform(950.0, 1170.0)), -1)
        window_s = float(dice.choice((120.0, 180.0, 300.0)))
        limit = Rate(round(self._pace / dice.uniform(0.65, 0.85) * window_s, 1), window_s)
        band_c = float(dice.choice((15.0, 20.0, 25.0)))
        segments: list[Segment] = []
        if self.has_oven:
            segments += (
                Segment("oven drying", SegmentKind.RAMP, to_c=180.0, max_rates=(_OVEN_RATE,)),
                Segment("dry soak", SegmentKind.SOAK, at_c=180.0, band_c=(-15.0, 15.0), hold_s=1200.0),
                Segment("oven to furnace", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=60.0),
            )
        if dice.random() < 0.5:
            segments.append(Segment("to red heat", SegmentKind.RAMP, to_c=650.0, max_rates=(limit,)))
        hold_s = round(float(dice.uniform(900.0, 2700.0)), -2)
        segments += (
            Segment("climb", SegmentKind.RAMP, to_c=target_c, max_rates=(limit,)),
            Segment("hold", SegmentKind.SOAK, at_c=target_c, band_c=(-band_c, band_c), hold_s=hold_s),
            self._cooling(dice),
        )
        return Schedule(f"{self.simulator} {self._place[-1]}", tuple(segments))

    def _cooling(self, dice: np.random.Generator) -> Segment:
        to_c, limit = float(dice.choice((150.0, 200.0, 300.0))), Rate(float(dice.integers(4, 9)) * 10.0, 600.0)
        self.holds_cooling = bool(dice.random() < 0.25)
        self.cools_at = limit.c_per_s * float(dice.uniform(0.65, 0.85))
        limits = (limit,) if self.holds_cooling else (Rate(400.0, 600.0),) if dice.random() < 0.5 else ()
        return Segment("closed furnace", SegmentKind.COOL, to_c=to_c, max_rates=limits)

    def two_mass(self, start_c: float) -> TwoMassFurnace:
        """Build the furnace, cold, with a burner that can hold the target; its own parameters come out the same."""
        full = self._full
        while True:
            furnace = TwoMassFurnace(np.random.default_rng(self._furnace_seed), start_c, full)
            if furnace.hold_valve(self.target_c) < _HOLDS_AT:
                return furnace
            full *= 1.2

    def layered(self, start_c: float) -> LayeredFurnace:
        """Build the furnace of layers likewise."""
        full = self._full
        while True:
            furnace = LayeredFurnace(np.random.default_rng(self._furnace_seed), start_c, full)
            if furnace.hold_valve(self.target_c) < _HOLDS_AT:
                return furnace
            full *= 1.2

    @property
    def target_c(self) -> float:
        """Where the last climb leads, °C."""
        return self.schedule.segments[-2].at_c or 0.0

    def heat(self, number: int, *, weak: bool = False) -> WorkshopHeat:
        """Give one heat; in a `weak` one the gas is too little for the last climb."""
        dice = np.random.default_rng((*self._place, number, int(weak)))
        run = _HeatRun(self, dice, weak=weak)
        run.run()
        shown, rough = np.array(run.shown), np.array(run.rough)
        board = draw_board(np.random.default_rng(self._person_seed))
        object.__setattr__(board, "interval_s", self._interval_s)
        object.__setattr__(board, "lag_s", run.lag_s)
        time_s, temp_c, _ = sample(dice, board, shown, rough, pink=self.simulator == "layered", disturbed=Disturbed())
        room_c = AMBIENT_C + float(dice.uniform(-1.0, 3.0))
        junction_c = room_c + 5.0 * (1.0 - np.exp(-time_s / 5400.0))
        return WorkshopHeat(self.schedule, number, time_s, temp_c, junction_c, run.stops_c)


class _HeatRun:
    """One heat under way, a value a second."""

    def __init__(self, shop: Workshop, dice: np.random.Generator, *, weak: bool) -> None:
        self._shop, self._dice, self._weak = shop, dice, weak
        self.lag_s = 3.0 + 17.0 * float(np.random.default_rng(shop._person_seed + 1).random())
        self._keep = math.exp(-1.0 / self.lag_s)
        self.shown: list[float] = []
        self.rough: list[float] = []
        self.stops_c: float | None = None
        # What holds a wall of layers is reckoned for one that drinks no more: it gets further with it.
        self._weak_share = 1.0 if shop.simulator == "two-mass" else 0.55

    def run(self) -> None:
        start_c = AMBIENT_C
        if self._shop.has_oven:
            start_c = self._through_oven()
        self._through_furnace(start_c)

    def _spread(self, sigma: float) -> float:
        return float(np.exp(sigma * self._dice.standard_normal()))

    def _show(self, seen_c: float, rough: float) -> float:
        value = self._keep * self.shown[-1] + (1.0 - self._keep) * seen_c if self.shown else seen_c
        self.shown.append(value)
        self.rough.append(rough)
        return value

    def _through_oven(self) -> float:
        """Dry in the oven and carry the pot over; gives the temperature it arrives with."""
        shop = self._shop
        make = ProportionalOven if shop.simulator == "two-mass" else SwitchedOven
        oven = make(np.random.default_rng(shop._oven_seed), AMBIENT_C, 0.0)
        pace = shop._oven_pace * self._spread(0.06)
        soaked_s, done_s = 0.0, shop._notices_s * self._spread(0.4) + 60.0
        while len(self.shown) < _LONGEST_S:
            wanted_c = AMBIENT_C + pace * len(self.shown)
            oven.set_c = min(182.0, math.floor(wanted_c / 12.5) * 12.5 if shop._notched else wanted_c)
            oven.step(True)
            if self._show(oven.seen_c(), 0.0) >= 165.0:
                soaked_s += 1.0
            if soaked_s >= 1200.0 + done_s:
                break
        pot_c, probe_c = oven.pot_c, self.shown[-1]
        for _ in range(int(shop._carries_s * self._spread(0.15))):
            pot_c -= (pot_c - AMBIENT_C) / 2000.0
            probe_c += (AMBIENT_C + 10.0 - probe_c) / shop._air_s
            self._show(probe_c, 0.0)
        return pot_c

    def _through_furnace(self, start_c: float) -> None:
        shop, dice = self._shop, self._dice
        furnace, operator = self._furnace(start_c)
        full = self._spread(0.03)
        controls = Controls(valve=0.0, lit=False)
        soak, cool = shop.schedule.segments[-2:]
        pace = shop._pace * self._spread(0.06)
        cooling_pace = shop.cools_at * self._spread(0.06)
        probe_c = self.shown[-1] if self.shown else start_c
        operator.start(float(dice.uniform(0.5, 0.8)))
        settles_s = float(dice.uniform(6.0, 40.0)) if self.shown else 0.0
        began, phase, soaked_s = len(self.shown), "climb", 0.0
        lit_at = began + int(dice.uniform(20.0, 100.0))
        noticed_s = shop._notices_s * self._spread(0.4) + 20.0
        shown_c, over = probe_c, 0
        while len(self.shown) < _LONGEST_S and over < _AFTER_END_S:
            second = len(self.shown)
            if phase == "climb" and shown_c >= soak.lowest_c:
                phase = "soak"
            elif phase == "soak":
                soaked_s += soak.lowest_c <= shown_c <= soak.highest_c
                if soaked_s >= soak.hold_s + noticed_s:
                    phase = "cool"
            elif phase == "cool" and shown_c <= (cool.to_c or 0.0):
                over += 1
            if phase != "cool":
                controls.lit = second >= lit_at
            elif not shop.holds_cooling:
                controls.lit = False
            if phase == "cool" and shop.holds_cooling:
                self._hold_back(controls, cooling_pace)
            elif controls.lit:
                target_c = soak.at_c or 0.0
                valve = operator.look(float(second), shown_c, target_c, pace, holds=phase == "soak")
                controls.valve = min(valve * full, 1.0)
                if self._weak:
                    # Full gas holds it some way short of where it should go.
                    controls.valve = min(controls.valve, self._weak_share * furnace.hold_valve(self._weak_c(soak)))
            furnace.step(controls)
            seen_c = furnace.seen_c(controls)
            if second < began + 200 and settles_s:
                probe_c += (seen_c - probe_c) / max(1.0, settles_s * (1.0 - (second - began) / 200.0))
                seen_c = probe_c
            shown_c = self._show(seen_c, furnace.roughness(controls))
            if self._weak and second > began + 5 * 3600:
                # One that got there all the same came to no stand.
                self.stops_c = shown_c if phase == "climb" else None
                break

    def _hold_back(self, controls: Controls, pace: float) -> None:
        """Turn a low flame up or down once in half a minute, so that it cools at about this pace (°C/s)."""
        if len(self.shown) % 30 == 0:
            falls, step = (self.shown[-120] - self.shown[-1]) / 119.0, 0.004 + 0.06 * controls.valve
            valve = controls.valve + (step if falls > 1.06 * pace else -step if falls < 0.94 * pace else 0.0)
            controls.valve = min(max(valve, 0.0), 0.5)
        controls.lit = controls.valve > 0.0

    def _weak_c(self, soak: Segment) -> float:
        return (soak.at_c or 0.0) - 60.0

    def _furnace(
        self, start_c: float
    ) -> tuple[TwoMassFurnace, LookingOperator] | tuple[LayeredFurnace, LadderOperator]:
        """Build the workshop's furnace and put its person before it, who looks at other moments in each heat."""
        shop = self._shop
        person, draught = np.random.default_rng(shop._person_seed), self._spread(0.05)
        if shop.simulator == "two-mass":
            two_mass, looking = shop.two_mass(start_c), LookingOperator(person)
            looking._dice = self._dice
            two_mass.chamber_c = start_c
            two_mass._loss *= draught
            two_mass._loss_4 *= draught
            return two_mass, looking
        layered, ladder = shop.layered(start_c), LadderOperator(person)
        ladder._dice = self._dice
        layered._outside *= draught
        layered._draught *= draught
        layered.warm_to(float(self._dice.uniform(20.0, 60.0)) if self._dice.random() < 0.8 else 250.0)
        return layered, ladder
