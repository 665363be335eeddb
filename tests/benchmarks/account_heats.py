"""First heats on the two simulated furnaces, with mishaps that make a pot truly miss what the reading says it had.

A person follows the watch and the board's reading, whatever the pot does: a probe that reads high has the pot heated
too little, and somebody who loses patience skips a soak that his own clock says is over. So false help is provoked, and
not only false alarms.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from benchmarks.account_judging import Truth
from benchmarks.furnaces.layered import LadderOperator, LayeredFurnace, SwitchedOven
from benchmarks.furnaces.parts import Controls
from benchmarks.furnaces.scenarios import SIMULATORS, Stream
from benchmarks.furnaces.two_mass import LookingOperator, ProportionalOven, TwoMassFurnace
from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import Command, CommandName, Event, EventName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.schedule import Schedule, SegmentKind

_STEP_C, _NOISE_C, _EVERY_S = 0.25, 0.35, 2
_LONGEST_S = 9 * 3600
_CARRIED_S = 180
_OVEN_C_PER_S = 18.0 / 900.0
_PACE_C_PER_S = 16.0 / 60.0
_PATIENCE_S = 300.0
_LASTS_S = 2400
_AIM_C = 1000.0
_TOP_C = 1300.0

_SCHEDULE = {
    "title": "A first heat on a simulated furnace",
    "heat": "first",
    "crucible_class": "clay-graphite",
    "segment": [
        {"name": "oven drying", "kind": "ramp", "to": "180 C", "max_rate": "25 C / 15 min"},
        {"name": "dry soak", "kind": "soak", "at": "180 C", "band": ["-15 C", "+15 C"], "hold": "35 min"},
        {"name": "oven to furnace", "kind": "transfer", "within": "20 min", "arrive_above": "80 C"},
        {"name": "climb", "kind": "ramp", "to": "1000 C", "max_rate": "120 C / 4 min"},
        {
            "name": "hold",
            "kind": "soak",
            "at": "1000 C",
            "band": ["-25 C", "+25 C"],
            "hold": "30 min",
            "ceiling": "1060 C",
        },
        {"name": "closed furnace", "kind": "cool", "to": "200 C", "max_rate": "400 C / 10 min"},
    ],
}


class Mishap(StrEnum):
    """What befalls a heat. Each makes a claim false that the reading alone would make."""

    NONE = "sound"
    FROZEN_DRYING = "frozen while drying, and the oven trips"
    FROZEN_SOAK = "frozen in the soak, and the flame goes out"
    FROZEN_HOT = "frozen in the soak, and the gas is turned up"
    GAP_DRYING = "oven trips while the board is unplugged"
    GAP_SOAK = "flame goes out while the board is unplugged"
    GAP_FAST = "oven at full power while the board is unplugged"
    BRICK_DRYING = "probe pulled onto the oven's wall"
    BRICK = "probe pulled onto the brick"
    INTO_FLAME = "probe slips into the flame"
    IN_FLAME = "probe in the flame from the first"
    DRIFTED = "wire reads 8 % high"
    SHORT_SOAK = "skipped after a quarter of the soak"


UNTELLABLE = (Mishap.BRICK_DRYING, Mishap.BRICK, Mishap.INTO_FLAME, Mishap.IN_FLAME, Mishap.DRIFTED)
"""What one probe cannot tell from a colder or hotter pot: printed with its truth, and counted apart."""


@dataclass(frozen=True)
class FurnaceCase:
    """One heat on one simulated furnace."""

    simulator: str
    seed: int
    mishap: Mishap

    def __str__(self) -> str:
        return f"{self.simulator:<9} {self.seed} {self.mishap.value}"

    @property
    def is_sound(self) -> bool:
        """Whether nothing befalls it."""
        return self.mishap is Mishap.NONE

    def run(self) -> tuple[Truth, Monitor]:
        """Watch the heat to its end and close its record."""
        return _Heat(self).run()


def furnace_cases(seeds: int) -> Iterator[FurnaceCase]:
    """Lay out every mishap on both furnaces."""
    for simulator in SIMULATORS:
        for mishap in Mishap:
            for seed in range(1, seeds + 1):
                yield FurnaceCase(simulator, seed, mishap)


class _Heat:
    """One heat under way, second by second."""

    def __init__(self, case: FurnaceCase) -> None:
        self._mishap = case.mishap
        place = (Stream.REPORTING.value, 77, SIMULATORS.index(case.simulator), case.seed)
        dice = np.random.default_rng(place)
        self._noise = random.Random(str(place))
        self._layered = case.simulator == "layered"
        make_oven = SwitchedOven if self._layered else ProportionalOven
        self._oven: ProportionalOven | SwitchedOven = make_oven(dice, 20.0, 0.0)
        full = _PACE_C_PER_S * float(dice.uniform(1.3, 1.8))
        if self._layered:
            self._furnace: TwoMassFurnace | LayeredFurnace = LayeredFurnace(dice, 20.0, full)
            self._operator: LookingOperator | LadderOperator = LadderOperator(dice)
        else:
            self._furnace, self._operator = TwoMassFurnace(dice, 20.0, full), LookingOperator(dice)
        self._controls = Controls(valve=0.5)
        self._schedule: Schedule = parse_schedule(_SCHEDULE, "benchmark")
        self._monitor = Monitor(self._schedule, MonitorParameters(place="pot"))
        self._truth = Truth(self._schedule)
        self._index: int | None = 0
        self._entered_s = 0
        self._began_s: int | None = None
        self._held_c: float | None = None
        self._read_c = self._shown_c = 20.0
        self._in_furnace = False
        self._trim_c = 0.0

    def run(self) -> tuple[Truth, Monitor]:
        """Run to the end."""
        monitor, expanded_c = self._monitor, 0.0
        for second in range(_LONGEST_S):
            self._befall(second)
            self._heat(second)
            if second % 60 == 0:
                expanded_c = monitor.expanded_uncertainty_c(min(self._pot_c, _TOP_C))
            self._truth.follow(float(second), self._pot_c, self._index, 1.0, expanded_c)
            if second % _EVERY_S == 0 and not self._unplugged(second):
                self._hear(second, monitor.feed(Reading(float(second), temp_c=self._sampled(second))))
            elif second % 10 == 0:
                self._hear(second, monitor.advance(float(second)))
            self._steer(second)
            if monitor.complete:
                break
        monitor.close()
        return self._truth, monitor

    @property
    def _pot_c(self) -> float:
        return self._furnace.pot_c if self._in_furnace else self._oven.pot_c

    def _heat(self, second: int) -> None:
        """Let a second pass in oven or furnace; the other stands cold."""
        if self._in_furnace:
            self._furnace.step(self._controls)
            seen_c = self._furnace.seen_c(self._controls)
        else:
            powered = not (self._struck(second) and self._mishap in (Mishap.FROZEN_DRYING, Mishap.GAP_DRYING))
            self._oven.step(powered)
            seen_c = self._oven.seen_c()
        self._shown_c += (self._misread(second, seen_c) - self._shown_c) / 6.0

    def _struck(self, second: int) -> bool:
        return self._began_s is not None and second < self._began_s + _LASTS_S

    def _befall(self, second: int) -> None:
        """Let the mishap begin where it is due."""
        if self._began_s is not None or self._index is None:
            return
        since_s = second - self._entered_s
        match self._mishap:
            case Mishap.FROZEN_DRYING | Mishap.GAP_DRYING | Mishap.BRICK_DRYING:
                due = self._index == 1 and since_s >= 120
            case Mishap.FROZEN_SOAK | Mishap.FROZEN_HOT | Mishap.GAP_SOAK:
                due = self._index == 4 and since_s >= 120
            case Mishap.GAP_FAST:
                due = self._index == 0 and self._oven.pot_c >= 90.0
            case Mishap.BRICK | Mishap.INTO_FLAME:
                due = self._index == 3 and self._furnace.pot_c >= 500.0
            case Mishap.IN_FLAME:
                due = self._in_furnace
            case Mishap.DRIFTED:
                due = True
            case _:
                due = False
        if due:
            self._began_s = second
            self._held_c = self._read_c

    def _misread(self, second: int, seen_c: float) -> float:
        """Give what the probe sees, °C, wherever it is by now."""
        if self._began_s is None:
            return seen_c
        match self._mishap:
            case Mishap.BRICK_DRYING if not self._in_furnace:
                return self._oven.chamber_c
            case Mishap.BRICK:
                furnace = self._furnace
                return furnace.chamber_c if isinstance(furnace, TwoMassFurnace) else furnace._wall_c[0]
            case Mishap.INTO_FLAME | Mishap.IN_FLAME if self._in_furnace and self._controls.lit:
                return seen_c + 0.2 * max(self._furnace.flame_c(self._controls) - seen_c, 0.0)
            case Mishap.DRIFTED:
                return seen_c + 0.08 * (seen_c - 20.0)
            case _:
                return seen_c

    def _sampled(self, second: int) -> float:
        frozen = self._mishap in (Mishap.FROZEN_DRYING, Mishap.FROZEN_SOAK, Mishap.FROZEN_HOT)
        if frozen and self._struck(second) and self._held_c is not None:
            return self._held_c
        self._read_c = round((self._shown_c + self._noise.gauss(0.0, _NOISE_C)) / _STEP_C) * _STEP_C
        return self._read_c

    def _unplugged(self, second: int) -> bool:
        gaps = (Mishap.GAP_DRYING, Mishap.GAP_SOAK, Mishap.GAP_FAST)
        return self._mishap in gaps and self._struck(second)

    # The person

    def _hear(self, second: int, events: list[Event]) -> None:
        for event in events:
            if event.event is EventName.SEGMENT_STARTED and event.segment_number is not None:
                self._index, self._entered_s = event.segment_number - 1, second
            elif event.event in (EventName.SCHEDULE_DONE, EventName.HEAT_COMPLETE):
                self._index = None

    def _steer(self, second: int) -> None:
        """Do what a person does who believes the watch, the reading, and in the end his own clock."""
        segment = None if self._index is None else self._schedule.segments[self._index]
        since_s = second - self._entered_s
        if segment is not None and segment.kind is SegmentKind.SOAK:
            patience_s = 0.25 * segment.hold_s if self._mishap is Mishap.SHORT_SOAK else segment.hold_s + _PATIENCE_S
            if self._mishap is not Mishap.NONE and since_s >= patience_s:
                self._order(second, Command(float(second), CommandName.SKIP_SEGMENT, text="my clock says so"))
        if self._index == 2 and since_s >= _CARRIED_S and not self._in_furnace:
            self._arrive(second)
        if self._in_furnace:
            self._at_the_valve(second)
        else:
            self._at_the_dial(second)

    def _order(self, second: int, command: Command) -> None:
        self._hear(second, self._monitor.feed(command))

    def _arrive(self, second: int) -> None:
        self._in_furnace = True
        self._furnace.pot_c = self._oven.pot_c
        self._operator.start(0.35)
        self._order(second, Command(float(second), CommandName.MARK, text="arrived"))

    def _at_the_dial(self, second: int) -> None:
        oven = self._oven
        if self._mishap is Mishap.GAP_FAST and self._struck(second):
            oven.set_c = 190.0
        elif self._index == 0:
            oven.set_c = min(182.0, 20.0 + _OVEN_C_PER_S * second)
        elif second % 120 == 0 and not self._struck(second):
            self._trim_c += 0.04 * (180.0 - self._read_c)
            oven.set_c = 180.0 + self._trim_c

    def _at_the_valve(self, second: int) -> None:
        controls = self._controls
        controls.lit = self._index in (3, 4)
        if not controls.lit:
            return
        if self._struck(second) and self._mishap in (Mishap.FROZEN_SOAK, Mishap.GAP_SOAK):
            controls.lit = False
            return
        if self._struck(second) and self._mishap is Mishap.FROZEN_HOT:
            controls.valve = 1.0
            return
        holds = self._index == 4
        controls.valve = self._operator.look(float(second), self._read_c, _AIM_C, _PACE_C_PER_S, holds=holds)
