"""Heats with a chamber's probe beside the pot's, in which the pot's fails at some moment and perhaps comes back.

The heats are those of `furnaces`, on both simulators; tuning and reporting draw from streams that never meet. Each is
run through the watch twice, with the failure and without it, so that what only the failure brings about is told apart
from what the heat deserves.

    python tests/benchmarks/failing_over.py [tuning] [FIRST SEED] [SEEDS]
"""

import math
import sys
from dataclasses import dataclass, field
from enum import Enum
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import Row, SimulatedHeat
from rampwarden.core.limits import COOLING_FAST, RAMP_FORECAST, RAMP_HIGH
from rampwarden.core.model import Command, CommandName, Event, Fault, Input, ProbeReading, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters, OtherProbe
from rampwarden.core.quantities import Rate
from rampwarden.core.standing_in import STANDING_IN

CHAMBER = OtherProbe("chamber", place="chamber")
RAMP_ALARMS = (RAMP_HIGH.name, COOLING_FAST.name, RAMP_FORECAST.name)
_LOOKS_EVERY_S = 5.0
_AFTERMATH_S = 2400.0
_BAND_C = 1.0
"""°C by which the true temperature may lie beside the band where a reading of it still earns."""


class Failing(Enum):
    """How the followed probe fails."""

    OPEN = "open"
    SILENT = "silent"
    STUCK = "stuck"
    FALLEN = "fallen out of its place"


class Moment(Enum):
    """In which part of a heat."""

    RAMP = "ramp"
    SOAK = "soak"
    COOL = "cooling"
    TRANSFER = "transfer"


@dataclass
class FailedHeat:
    """One such heat, and what the watch made of it. Times are s since the heat began."""

    simulator: str
    seed: int
    failing: Failing
    moment: Moment
    from_s: float
    to_s: float
    told_s: float | None = None
    back_s: float | None = None
    false_ramps: list[tuple[float, str]] = field(default_factory=list)
    false_ramps_without: int = 0
    unearned_s: float = 0.0
    earned_s: float = 0.0
    guesses: list[tuple[float, float, float, float]] = field(default_factory=list)
    """(age s, guess °C, truth °C, ± °C)."""
    events: list[Event] = field(default_factory=list)


@lru_cache(maxsize=6)
def _sound_heat(simulator: str, seed: int, stream: Stream) -> "tuple[SimulatedHeat, NDArray[np.float64], _Watched]":
    """Give a heat, what the chamber's probe reads, and the watch over both without any failure."""
    heat = simulated_heat(simulator, Row.SOUND, seed, stream)
    dice = np.random.default_rng((stream.value, 76, seed, SIMULATORS.index(simulator)))
    chamber = _chamber_readings(dice, heat)
    return heat, chamber, _Watched(heat, chamber)


def failed_heat(simulator: str, seed: int, failing: Failing, moment: Moment, stream: Stream) -> FailedHeat | None:
    """Run one heat; None where it has no such moment."""
    heat, chamber, sound = _sound_heat(simulator, seed, stream)
    place = (SIMULATORS.index(simulator), list(Failing).index(failing), list(Moment).index(moment))
    dice = np.random.default_rng((stream.value, 77, seed, *place))
    from_s = _begins(dice, sound, moment)
    if from_s is None:
        return None
    to_s = from_s + float(dice.choice((dice.uniform(60.0, 300.0), dice.uniform(300.0, 1800.0), 1e6)))
    result = FailedHeat(simulator, seed, failing, moment, from_s, to_s)
    failed = _Watched(heat, chamber, result)
    result.events = failed.events
    expected = _rung(sound.events)
    windows_s = max((rate.window_s for rate in _limits(heat)), default=0.0)
    for time_s, name in _rung(failed.events):
        if not any(each == name and abs(at_s - time_s) <= windows_s for at_s, each in expected):
            if result.guesses and result.told_s is not None and time_s >= result.told_s:
                result.false_ramps.append((time_s, name))
            elif time_s >= from_s:
                result.false_ramps_without += 1
    return result


class _Watched:
    """One run of the watch over a heat, with `failed` or without."""

    def __init__(self, heat: SimulatedHeat, chamber: NDArray[np.float64], failed: FailedHeat | None = None) -> None:
        self.monitor = Monitor(heat.schedule, MonitorParameters(place="pot", probes=(CHAMBER,)))
        self.events: list[Event] = []
        self.phases: list[tuple[float, str]] = []
        self._heat, self._failed = heat, failed
        self._frozen_c: float | None = None
        self._soaked_s = 0.0
        self._told = 0
        marks = list(heat.marks)
        next_s, chamber_s = 0.0, 1
        for time_s, own_c, true_c in zip(heat.time_s.tolist(), heat.temp_c.tolist(), heat.true_c.tolist(), strict=True):
            # The chamber's board speaks once a second.
            while chamber_s <= time_s and chamber_s < len(chamber):
                self._feed(ProbeReading(chamber_s - 0.5, "chamber", temp_c=float(chamber[chamber_s])))
                chamber_s += 1
            while marks and marks[0][0] <= time_s:
                mark_s, name = marks.pop(0)
                self._feed(Command(mark_s, CommandName.MARK, text=name))
            self._read(time_s, own_c)
            if failed is not None and time_s < failed.from_s:
                self._soaked_s, self._told = self.monitor.soaked_s, len(self.events)
            elif time_s >= next_s:
                next_s = time_s + _LOOKS_EVERY_S
                self._look(time_s, true_c)
                if failed is not None and time_s > failed.to_s + _AFTERMATH_S:
                    break

    def _read(self, time_s: float, own_c: float) -> None:
        failed = self._failed
        reading: Reading | None = Reading(time_s, temp_c=own_c)
        if failed is not None and failed.from_s <= time_s < failed.to_s:
            self._frozen_c = own_c if self._frozen_c is None else self._frozen_c
            reading = _failed_reading(failed.failing, time_s, own_c, self._frozen_c, time_s - failed.from_s)
        if reading is not None:
            self._feed(reading)

    def _look(self, time_s: float, true_c: float) -> None:
        status, failed = self.monitor.status(), self._failed
        self.phases.append((time_s, status.phase))
        if failed is None:
            return
        gained_s, self._soaked_s = self.monitor.soaked_s - self._soaked_s, self.monitor.soaked_s
        segment = self._heat.schedule.segments[status.segment_number - 1]
        if status.standing_in is not None and status.temp_c is not None:
            failed.guesses.append((time_s - failed.from_s, status.temp_c, true_c, status.standing_in.off_c))
            if gained_s > 0.0:
                failed.earned_s += gained_s
                if not segment.lowest_c - _BAND_C <= true_c <= segment.highest_c + _BAND_C:
                    failed.unearned_s += gained_s
        if failed.told_s is None:
            failed.told_s = next((each.time_s for each in self.events[self._told :] if _tells(each)), None)
            self._told = len(self.events)
        elif failed.back_s is None and status.standing_in is None and time_s > failed.to_s:
            failed.back_s = time_s

    def _feed(self, item: Input) -> None:
        self.events += self.monitor.feed(item)


def _failed_reading(failing: Failing, time_s: float, own_c: float, frozen_c: float, for_s: float) -> Reading | None:
    """Give what the board sends of a probe that has failed for so long."""
    match failing:
        case Failing.SILENT:
            return None
        case Failing.OPEN:
            return Reading(time_s, faults=(Fault.OPEN,))
        case Failing.STUCK:
            return Reading(time_s, temp_c=frozen_c)
        case Failing.FALLEN:
            gone = 1.0 - math.exp(-for_s / 8.0)
            return Reading(time_s, temp_c=own_c - 0.12 * gone * (own_c - 20.0))


def _tells(event: Event) -> bool:
    return event.alarm == STANDING_IN.name or "nothing stands in" in event.text


def _chamber_readings(dice: np.random.Generator, heat: SimulatedHeat) -> NDArray[np.float64]:
    """Give what a probe in the chamber reads, once a second."""
    shown = heat.chamber_c  # as its probe shows it, with its lag already
    return np.round((shown + dice.normal(0.0, 0.4, len(shown))) / 0.25) * 0.25


def _begins(dice: np.random.Generator, sound: _Watched, moment: Moment) -> float | None:
    """Draw when it fails, somewhere in that part of the heat."""
    phases = {
        Moment.RAMP: ("ramping", "approaching the soak"),
        Moment.SOAK: ("soaking",),
        Moment.COOL: ("cooling",),
        Moment.TRANSFER: ("transferring",),
    }[moment]
    times = [time_s for time_s, phase in sound.phases if phase in phases]
    if len(times) < 10:
        return None
    return float(times[int(dice.uniform(0.02, 0.9) * len(times))])


def _rung(events: list[Event]) -> list[tuple[float, str]]:
    return [(each.time_s, each.alarm) for each in events if each.raises_alarm and each.alarm in RAMP_ALARMS]


def _limits(heat: SimulatedHeat) -> list[Rate]:
    return [rate for index in range(len(heat.schedule.segments)) for rate in heat.schedule.limits_in_force(index)]


def summary(heats: list[FailedHeat]) -> str:
    """Say in lines what came of them."""
    lines = []
    for failing in Failing:
        for moment in Moment:
            of = [each for each in heats if each.failing is failing and each.moment is moment]
            if not of:
                continue
            told = [each.told_s - each.from_s for each in of if each.told_s is not None]
            stood = sum(bool(each.guesses) for each in of)
            inside = [abs(guess_c - true_c) <= off_c for each in of for _, guess_c, true_c, off_c in each.guesses]
            widths = [off_c for each in of for *_, off_c in each.guesses]
            back = [each.back_s - each.to_s for each in of if each.back_s is not None]
            lines.append(
                f"{failing.value:24} {moment.value:9} n {len(of):3}  stood in {stood:3}  "
                f"told in {max(told, default=0.0):5.0f} s at most ({len(of) - len(told)} never)  "
                f"false ramps {sum(len(each.false_ramps) for each in of)} "
                f"(without anything to stand in {sum(each.false_ramps_without for each in of)})  "
                f"unearned {sum(each.unearned_s for each in of):.0f} of {sum(each.earned_s for each in of):.0f} s  "
                f"truth within {100.0 * float(np.mean(inside)) if inside else 0.0:.1f} % "
                f"of ± {float(np.median(widths)) if widths else 0.0:.1f} °C in the middle  "
                f"back in {max(back, default=0.0):.0f} s"
            )
    return "\n".join(lines)


def every_heat(stream: Stream, seeds: range) -> list[FailedHeat]:
    """Run every way of failing, in every part of a heat, on both simulators."""
    heats = [
        failed_heat(simulator, seed, failing, moment, stream)
        for simulator in SIMULATORS
        for seed in seeds
        for failing in Failing
        for moment in Moment
    ]
    return [each for each in heats if each is not None]


def main() -> None:
    """Print the table, and each heat with a false ramp or credit not earned."""
    stream = Stream.TUNING if "tuning" in sys.argv else Stream.REPORTING
    numbers = [int(each) for each in sys.argv[1:] if each.isdigit()]
    first, count = (*numbers, 0, 5)[:2] if len(numbers) > 1 else (0, numbers[0] if numbers else 5)
    heats = every_heat(stream, range(first, first + count))
    print(summary(heats))
    for each in heats:
        if each.false_ramps or each.unearned_s > 0.0:
            print(each.simulator, each.seed, each.failing, each.moment, each.false_ramps, f"{each.unearned_s:.0f} s")


if __name__ == "__main__":
    main()
