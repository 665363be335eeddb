"""Runs one simulated heat: furnace, person, story and board, from numbers drawn for this heat alone.

Tuning and reporting draw from streams that never meet: `Stream` is part of every seed.
"""

import math
from enum import Enum

import numpy as np

from benchmarks.furnaces.layered import LadderOperator, LayeredFurnace, SwitchedOven
from benchmarks.furnaces.parts import AMBIENT_C, ChamberProbe, Controls
from benchmarks.furnaces.plan import OVEN_ROWS, Plan, draw_oven_plan, draw_plan
from benchmarks.furnaces.sampling import Board, Disturbed, draw_board, sample
from benchmarks.furnaces.story import Row, SimulatedHeat, Truth
from benchmarks.furnaces.two_mass import LookingOperator, ProportionalOven, TwoMassFurnace

SIMULATORS = ("two-mass", "layered")
_LONGEST_S = 7 * 3600
_AFTERMATH_S = 420.0
_STAYS = (Row.MOVED_CLIMB, Row.MOVED_SOAK, Row.POT_DRIFTS, Row.OUT_OF_SEAT)
"""What is not put right by itself."""


class Stream(Enum):
    """What a heat's dice are for."""

    TUNING = 7001
    REPORTING = 9004


def simulated_heat(simulator: str, row: Row, seed: int, stream: Stream, noise: str | None = None) -> SimulatedHeat:
    """Give heat `seed` of a row; `noise` asks for a class, else it is drawn too."""
    for attempt in range(20):
        place = (stream.value, SIMULATORS.index(simulator), list(Row).index(row), seed, attempt)
        dice = np.random.default_rng(place)
        board = draw_board(dice, noise)
        run = _Run(simulator, row, dice, board, _chamber_probe(place))
        if row in OVEN_ROWS:
            run.dry(draw_oven_plan(dice, row), to_end=True)
        else:
            run.whole(draw_plan(dice, row))
        if run.finished:
            break
    else:
        raise RuntimeError(f"{simulator} {row} {seed}: no furnace of twenty gets there")
    time_s, temp_c, true_c = sample(
        dice, board, np.array(run.shown), np.array(run.rough), pink=simulator == "layered", disturbed=run.disturbed
    )
    drawn = {"lag_s": board.lag_s, "interval_s": board.interval_s, "before_lag": board.before_lag, **run.drawn}
    return SimulatedHeat(
        row=row,
        simulator=simulator,
        seed=seed,
        schedule=run.schedule,
        time_s=time_s,
        temp_c=temp_c,
        true_c=true_c,
        truth=run.truth,
        noise=board.noise,
        drawn=drawn,
        valve=np.array(run.valve),
        pot_c=np.array(run.pots),
        chamber_c=np.array(run.chambers),
        beside_c=np.array(run.besides),
        marks=run.marks,
    )


def _chamber_probe(place: tuple[int, ...]) -> ChamberProbe:
    """Draw a chamber's probe with dice of its own: heats are the same whether it hangs there or not."""
    dice = np.random.default_rng((*place, 2))
    return ChamberProbe(float(dice.uniform(3.0, 20.0)), float(dice.uniform(0.0, 0.6)), float(dice.uniform(0.08, 0.3)))


class _Run:
    """One heat under way: a value a second of what the probe shows and of the flicker's share."""

    def __init__(self, simulator: str, row: Row, dice: np.random.Generator, board: Board, beside: ChamberProbe) -> None:
        self.beside = beside
        self._keep_beside = math.exp(-1.0 / beside.lag_s)
        self.besides: list[float] = []
        self.simulator, self.row, self.dice = simulator, row, dice
        self._keep = math.exp(-1.0 / board.lag_s)
        self.shown: list[float] = []
        self.rough: list[float] = []
        self.valve: list[float] = []
        self.pots: list[float] = []
        self.chambers: list[float] = []
        self.truth = Truth()
        self.disturbed = Disturbed()
        self.marks: list[tuple[float, str]] = []
        self.drawn: dict[str, float] = {}

    @property
    def finished(self) -> bool:
        """Whether the heat came to what its row is about: a weak furnace never climbs there."""
        return len(self.shown) < _LONGEST_S and (self.row is Row.SOUND or self.truth.began_s is not None)

    def whole(self, plan: Plan) -> None:
        """Run oven and transfer, if the schedule has them, then the furnace."""
        self.schedule = plan.schedule
        self.drawn = {"pace_c_per_min": 60.0 * plan.pace_c_per_s, "target_c": plan.target_c}
        if len(plan.schedule.segments) > 3:
            self._through_oven(plan)
        self._heat(plan)

    def _show(
        self, seen_c: float, rough: float, pot_c: float, chamber_c: float, beside_c: float, valve: float = 1.0
    ) -> float:
        shown, beside, keep = self.shown, self.besides, self._keep_beside
        beside.append(keep * beside[-1] + (1.0 - keep) * beside_c if beside else beside_c)
        self.pots.append(pot_c)
        self.chambers.append(chamber_c)
        self.valve.append(valve)
        value = self._keep * shown[-1] + (1.0 - self._keep) * seen_c if shown else seen_c
        shown.append(value)
        self.rough.append(rough)
        return value

    # Oven

    def dry(self, plan: Plan, *, to_end: bool) -> None:
        """Run an oven up to its soak and, `to_end`, through what befalls it there."""
        self.schedule = plan.schedule
        cycling_c = 3.0 + 10.0 * plan.strength if self.row is Row.OVEN_CYCLING else 0.0
        make = ProportionalOven if self.simulator == "two-mass" else SwitchedOven
        oven = make(self.dice, plan.start_c, cycling_c)
        self._settle(oven, plan.start_c)
        notched = bool(self.dice.random() < 0.5)
        began_s, soak_s = len(self.shown), 0.0
        powered = True
        set_c = plan.start_c
        while len(self.shown) - began_s < (9000 if to_end else 20000):
            second = len(self.shown) - began_s
            if set_c < 180.0:
                wanted_c = plan.start_c + plan.pace_c_per_s * second
                set_c = min(180.0, math.floor(wanted_c / 12.5) * 12.5 if notched else wanted_c)
                set_c = max(set_c, plan.start_c)
            oven.set_c = set_c
            oven.step(powered)
            shown_c = self._show(oven.seen_c(), 0.0, oven.pot_c, oven.chamber_c, oven.chamber_c)
            if shown_c >= 165.0:
                soak_s += 1.0
            if self.row is Row.OVEN_OFF:
                due = shown_c >= plan.at_c if plan.in_climb else soak_s >= plan.after_s
                if powered and due:
                    powered = False
                    self.truth.began_s = float(len(self.shown))
            elif self.row is Row.OVEN_CYCLING and self.truth.began_s is None and oven.chamber_c > set_c + cycling_c:
                self.truth.began_s = float(len(self.shown))
            began = self.truth.began_s
            if to_end and began is not None and len(self.shown) > began + plan.lasts_s:
                break
            if not to_end and soak_s >= 1200.0 + 240.0:
                # Nobody takes the pot out before the watch has said that it has soaked.
                break
        self.truth.ended_s = float(len(self.shown)) if self.truth.began_s is not None else None
        self._oven_c = oven.pot_c

    def _settle(self, oven: ProportionalOven | SwitchedOven, start_c: float) -> None:
        """Let the oven stand at its first temperature, unseen."""
        oven.set_c = start_c
        for _ in range(2400 if start_c > 40.0 else 0):
            oven.step(True)

    def _through_oven(self, plan: Plan) -> None:
        first_c = plan.oven_from_c or 172.0
        pace = 25.0 / 900.0 * float(self.dice.uniform(0.6, 0.85))
        oven_plan = Plan(plan.schedule, first_c, 180.0, pace, 0.0, True, 900.0, 1e9, 0.0, 0.0, 0.0)
        row, self.row = self.row, Row.SOUND
        self.dry(oven_plan, to_end=False)
        self.row, self.truth = row, Truth()
        if plan.marked:
            self.marks.append((float(len(self.shown)), "transfer"))
        # The probe hangs in the air, or stays on the pot, or in the oven for a while.
        kind = int(self.dice.integers(0, 3))
        air_s = float(self.dice.uniform(8.0, 30.0))
        probe_c = self.shown[-1]
        carried_s = int(self.dice.uniform(60.0, 400.0))
        for second in range(carried_s):
            self._oven_c -= (self._oven_c - AMBIENT_C) / 2000.0
            if kind == 1:
                probe_c += (self._oven_c - 8.0 - probe_c) / 20.0
            elif kind == 0 or second > 0.6 * carried_s:
                probe_c += (AMBIENT_C + 10.0 - probe_c) / air_s
            self._show(probe_c, 0.0, self._oven_c, AMBIENT_C, self.besides[-1])
        self._carried_c = probe_c

    # Furnace

    def _heat(self, plan: Plan) -> None:
        after_oven = bool(self.shown)
        dice = self.dice
        start_c = self._oven_c if after_oven else plan.start_c
        if self.simulator == "two-mass":
            furnace: TwoMassFurnace | LayeredFurnace = TwoMassFurnace(dice, start_c, plan.full_c_per_s)
            operator: LookingOperator | LadderOperator = LookingOperator(dice)
        else:
            furnace, operator = LayeredFurnace(dice, start_c, plan.full_c_per_s), LadderOperator(dice)
        if self.row is Row.PLATEAU:
            furnace.load(plan.at_c, plan.lasts_s, plan.pace_c_per_s)
        if after_oven:
            self._arrive(furnace, plan)
        operator.start(float(dice.uniform(0.4, 0.8)) if start_c < 300.0 else 0.75)
        self.furnace, self.operator, self.plan = furnace, operator, plan
        Story(self).run()

    def _arrive(self, furnace: TwoMassFurnace | LayeredFurnace, plan: Plan) -> None:
        """Set the pot down, put the probe back, light the burner; one in three finds the furnace warm."""
        warm = bool(self.dice.random() < 0.35)
        if warm and isinstance(furnace, TwoMassFurnace):
            furnace.chamber_c = float(self.dice.uniform(250.0, 500.0))
        elif warm and isinstance(furnace, LayeredFurnace):
            furnace.warm_to(float(self.dice.uniform(250.0, 500.0)))
        controls = Controls(valve=0.0, lit=False)
        contact_s = float(self.dice.uniform(6.0, 40.0))
        if plan.marked:
            self.marks.append((float(len(self.shown)), "arrived"))
        self.truth.began_s = float(len(self.shown))
        probe_c = self._carried_c
        lit_after_s = int(self.dice.uniform(5.0, 120.0))
        for second in range(240):
            if second == lit_after_s:
                controls.lit, controls.valve = True, 0.5 * plan.pace_c_per_s / plan.full_c_per_s
            furnace.step(controls)
            # The contact grows as the probe is settled in its place.
            probe_c += (furnace.seen_c(controls) - probe_c) / max(1.0, contact_s * (1.0 - second / 200.0))
            beside_c = furnace.chamber_seen_c(controls, self.beside)
            self._show(probe_c, furnace.roughness(controls), furnace.pot_c, furnace.chamber_c, beside_c)
        self.truth.ended_s = float(len(self.shown))


class Story:
    """The furnace part of a heat: the person follows the schedule, and what the row says befalls it once."""

    def __init__(self, run: _Run) -> None:
        self.run_, self.row, self.plan, self.dice = run, run.row, run.plan, run.dice
        self.furnace, self.operator = run.furnace, run.operator
        self.soak = run.schedule.segments[-2]
        self.controls = Controls()
        self.phase = "climb"
        self.soaked_s = 0.0
        self.began: int | None = None
        self.over: int | None = None
        self.valve_then = 0.0
        cycle_s, duty = float(run.dice.uniform(60.0, 300.0)), float(run.dice.uniform(0.4, 0.7))
        self.cycle = (cycle_s, cycle_s * duty, bool(run.dice.random() < 0.5))

    def run(self) -> None:
        """Run to the end of what matters."""
        run, plan, controls, furnace = self.run_, self.plan, self.controls, self.furnace
        shown_c = run.shown[-1] if run.shown else plan.start_c
        cooled = 0
        cool_for = 900 if self.row is Row.SOUND else 10
        while len(run.shown) < _LONGEST_S:
            second = len(run.shown)
            self._advance_phase(shown_c)
            if self.phase == "cool":
                cooled += 1
                controls.lit = self.row is Row.LEFT_ON
                if cooled > cool_for and self.row is not Row.LEFT_ON:
                    break
            elif not self._hands_off(second):
                controls.valve = self.operator.look(
                    float(second), shown_c, plan.target_c, plan.pace_c_per_s, holds=self.phase == "soak"
                )
            offset_c = self._befall(second, shown_c)
            lit = controls.lit
            if self.row is Row.BURNER_CYCLING:
                self._cycle(second)
            furnace.step(controls)
            seen_c = furnace.seen_c(controls) + offset_c
            rough = furnace.roughness(controls) * (3.0 if self.row is Row.IN_FLAME and offset_c > 0.0 else 1.0)
            beside_c = furnace.chamber_seen_c(controls, run.beside)
            shown_c = run._show(seen_c, rough, furnace.pot_c, furnace.chamber_c, beside_c, controls.valve)
            controls.lit = lit
            if self.row is Row.ARRIVAL and second > (run.truth.ended_s or 0.0) + 900.0:
                break
            if self.over is not None and second > self.over + _AFTERMATH_S:
                break

    def _advance_phase(self, shown_c: float) -> None:
        if self.phase == "climb" and shown_c >= self.soak.lowest_c:
            self.phase = "soak"
        elif self.phase == "soak":
            if self.soak.lowest_c <= shown_c <= self.soak.highest_c:
                self.soaked_s += 1.0
            # Nobody turns the gas off before the watch has said that it has soaked; gaps do not count there.
            if self.soaked_s >= self.soak.hold_s + 150.0:
                self.phase = "cool"

    def _hands_off(self, second: int) -> bool:
        """Whether the person is away or lets things be: from the happening to a few minutes after it."""
        if self.began is None or self.row in (Row.INTERFERENCE, Row.BURNER_CYCLING, Row.PLATEAU):
            return False
        if self.row in (Row.POT_DRIFTS, Row.LONG_SOAK):
            return False
        if self.row in (Row.CHARGE, *_STAYS):
            return second < self.began + 240
        return self.over is None or second < self.over + 60

    def _befall(self, second: int, shown_c: float) -> float:
        """Let the row's happening act; gives what it adds to what the probe sees, °C."""
        if self.row in (Row.SOUND, Row.ARRIVAL):
            return 0.0
        if self.began is None:
            if not self._due(shown_c):
                return 0.0
            self.began = second
            self.valve_then = self.controls.valve
            self.run_.truth.began_s = float(second)
            self._begin(second)
        if self.over is not None and self.row not in _STAYS:
            return 0.0
        lasted_s = second - self.began
        if self.over is None and lasted_s >= self.plan.lasts_s:
            self.over = second
            # A burner that cycles does so to the end.
            self.run_.truth.ended_s = None if self.row is Row.BURNER_CYCLING else float(second)
            self._end()
            if self.row not in _STAYS:
                return 0.0
        return self._act(lasted_s, shown_c)

    def _due(self, shown_c: float) -> bool:
        match self.row:
            case Row.BURNER_CYCLING:
                return True
            case Row.LEFT_ON:
                return self.phase == "cool"
            case Row.PLATEAU:
                return shown_c >= self.plan.at_c
            case _ if self.plan.in_climb:
                return self.phase == "climb" and shown_c >= self.plan.at_c
            case _:
                return self.phase == "soak" and self.soaked_s >= self.plan.after_s

    def _begin(self, second: int) -> None:
        plan, controls = self.plan, self.controls
        match self.row:
            case Row.FLAME_OUT_CLIMB | Row.FLAME_OUT_SOAK | Row.BOTTLE_CHANGE:
                controls.lit = False
            case Row.DOWN_ONCE:
                controls.valve *= 0.35 + 0.25 * plan.strength
            case Row.CHARGE:
                self.furnace.charge(0.15 + 0.45 * plan.strength, plan.second < 0.5)
            case Row.INTERFERENCE:
                self.run_.disturbed.bursts = (float(second), second + plan.lasts_s)
            case Row.STUCK:
                self.run_.disturbed.frozen = (float(second), second + plan.lasts_s)
            case Row.LEFT_ON:
                controls.valve *= 1.0 + 0.15 * plan.strength

    def _act(self, lasted_s: int, shown_c: float) -> float:
        plan, controls = self.plan, self.controls
        above_c = shown_c - AMBIENT_C
        match self.row:
            case Row.LID_20_SOAK | Row.LID_120_SOAK | Row.LID_120_CLIMB:
                controls.lid_open = True
            case Row.CHARGE:
                controls.lid_open = lasted_s < 10.0 + 25.0 * plan.second
            case Row.GAS_SAG:
                controls.supply = self._sagging(lasted_s / plan.lasts_s, 0.15 + 0.25 * plan.strength)
            case Row.FREEZING:
                controls.supply = self._sagging(
                    min(lasted_s / (360.0 + 300.0 * plan.second), 1.0), 0.08 + 0.2 * plan.strength
                )
            case Row.DOWN_STEPS:
                steps = min(3, 1 + int(lasted_s / (60.0 + 60.0 * plan.second)))
                controls.valve = self.valve_then * (0.7 + 0.1 * plan.strength) ** steps
            case Row.MOVED_CLIMB | Row.MOVED_SOAK:
                return -(0.04 + 0.1 * plan.strength) * above_c
            case Row.POT_DRIFTS:
                return -(15.0 + 30.0 * plan.strength) * lasted_s / 3600.0
            case Row.OUT_OF_SEAT:
                return -(0.45 + 0.4 * plan.strength) * (self.furnace.pot_c - AMBIENT_C)
            case Row.IN_FLAME:
                beside_c = self.furnace.flame_c(controls) - self.furnace.pot_c
                return (0.08 + 0.17 * plan.strength) * max(beside_c, 100.0)
        return 0.0

    def _sagging(self, share: float, floor: float) -> float:
        """Give the supply: dying away in one, by the vapour's pressure over a chilling liquid in the other."""
        if self.run_.simulator == "two-mass":
            return floor + (1.0 - floor) * math.exp(-3.0 * share)
        liquid_k = 288.0 - 28.0 * share * (1.0 + 0.3 * (1.0 - floor))
        pressure = math.exp(-2200.0 * (1.0 / liquid_k - 1.0 / 288.0))
        lowest = math.exp(-2200.0 * (1.0 / (288.0 - 28.0 * (1.0 + 0.3 * (1.0 - floor))) - 1.0 / 288.0))
        return floor + (1.0 - floor) * (pressure - lowest) / (1.0 - lowest)

    def _end(self) -> None:
        controls = self.controls
        controls.lid_open = False
        controls.lit = True
        controls.supply = 1.0

    def _cycle(self, second: int) -> None:
        """Switch the burner off, or down to a low flame."""
        cycle_s, on_s, low = self.cycle
        if second % cycle_s >= on_s:
            if low and self.run_.simulator == "layered":
                self.controls.supply = 0.12
            else:
                self.controls.lit = False
        else:
            self.controls.supply = 1.0
