"""How well a failing sensor, a failing heat and what merely happens are told apart: confusion tables over seeded heats.

For each diagnosis 20 heats with its fault and 20 without are watched, over all noise classes, several schedules, places
of the fault and reading intervals. Frames of the model heat go straight into decoder and monitor. Whatever any heat
says beside its own fault is counted too: a diagnosis is only worth what it does not say elsewhere.

    python tests/benchmarks/diagnosis_matrix.py [HEATS] [FAULT …]
"""

import random
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from rampwarden.core.framing import FrameDecoder
from rampwarden.core.model import AlarmState, Event, EventName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.core.schedule_parsing import parse_schedule
from rampwarden.core.thermocouple import thermocouple
from rampwarden.sources.board_model import NoiseClass
from rampwarden.sources.furnace_faults import FaultName, FaultPlace
from rampwarden.sources.rehearsal_board import ModelHeat

SCHEDULES = Path(__file__).resolve().parents[2] / "config" / "schedules"
GAS = ("bronze-first-heat", "later-heat-after-damp-storage", "clay-graphite-first-heat", "later-heat-daily-use")
ROUGHNESS = tuple(NoiseClass)

LID_WORDS = ("lid was lifted", "lid is shut")
CHARGE_WORDS = ("cold metal was added",)


@dataclass
class Watched:
    """What the watch said of one heat."""

    began_s: float | None
    alarms: list[tuple[float, str]] = field(default_factory=list)
    observed: list[tuple[float, str]] = field(default_factory=list)

    def first_s(self, diagnosis: str) -> float | None:
        """Give when a diagnosis was first spoken."""
        said = [at for at, name in self.alarms if name == diagnosis]
        if diagnosis == "lid":
            said = [at for at, text in self.observed if any(words in text for words in LID_WORDS)]
        elif diagnosis == "charge":
            said = [at for at, text in self.observed if any(words in text for words in CHARGE_WORDS)]
        return said[0] if said else None


@cache
def load(name: str) -> Schedule:
    """Read a schedule of config/schedules."""
    return parse_schedule(tomllib.loads((SCHEDULES / f"{name}.toml").read_text(encoding="utf-8")), name)


@dataclass(frozen=True)
class Case:
    """One heat of the matrix."""

    schedule: str
    noise: NoiseClass
    seed: int
    interval_s: float
    fault: FaultName | None = None
    place: FaultPlace | None = None

    def watch(self, change: Callable[[Reading], Reading] | None = None) -> Watched:
        """Let the heat run and watch it."""
        schedule = load(self.schedule)
        heat = ModelHeat(
            schedule,
            seed=self.seed,
            fault=self.fault,
            noise=self.noise,
            interval_s=self.interval_s,
            fault_place=self.place,
        )
        monitor, watched = Monitor(schedule), Watched(None)
        for reading in readings(heat):
            for event in monitor.feed(change(reading) if change else reading):
                note(watched, event)
        watched.began_s = heat.operator.fault_since_s
        return watched


def readings(heat: ModelHeat) -> Iterator[Reading]:
    """Give a model heat's frames as readings, dated by the board."""
    decoder = FrameDecoder()
    while not heat.over:
        data = heat.next_frame()
        if data is not None:
            for frame in decoder.feed(data):
                yield Reading(heat.time_s, frame.emf_uv, frame.junction_c, None, frame.faults)


def note(watched: Watched, event: Event) -> None:
    """Keep what matters of an event."""
    if event.event is EventName.ALARM and event.state is AlarmState.UNACKNOWLEDGED and event.alarm is not None:
        watched.alarms.append((event.time_s, event.alarm))
    elif event.event is EventName.OBSERVED:
        watched.observed.append((event.time_s, event.text))


def cases(fault: FaultName | None, count: int, seed: int) -> list[Case]:
    """Lay out heats: noise classes and schedules in turn, the fault's place at random."""
    dice = random.Random(f"{fault} {seed}")
    chosen = []
    for number in range(count):
        name = GAS[number % len(GAS)]
        place = None if fault is None else place_at_random(fault, load(name), dice)
        interval_s = dice.choice((0.5, 1.0, 1.0, 2.0))
        noise = ROUGHNESS[(number // len(GAS) + number) % len(ROUGHNESS)]
        chosen.append(Case(name, noise, seed * 1000 + number, interval_s, fault, place))
    return chosen


def place_at_random(fault: FaultName, schedule: Schedule, dice: random.Random) -> FaultPlace:
    """Choose where in the furnace a fault falls: somewhere in a ramp that leads above 500 °C, or in a hot soak."""
    ramps = [n for n, s in enumerate(schedule.segments) if s.kind is SegmentKind.RAMP and (s.to_c or 0.0) > 500.0]
    soaks = [n for n, s in enumerate(schedule.segments) if s.kind is SegmentKind.SOAK and (s.at_c or 0.0) > 500.0]
    index = dice.choice(ramps)
    before = [s.target_c for s in schedule.segments[:index] if s.target_c is not None]
    from_c, to_c = before[-1] if before else 20.0, schedule.segments[index].to_c or 0.0
    somewhere_c = from_c + dice.uniform(0.25, 0.7) * (to_c - from_c)
    match fault:
        case FaultName.REVERSED_SENSOR:
            return FaultPlace(0)
        case FaultName.OPEN_SENSOR | FaultName.SHORTED_SENSOR:
            return FaultPlace(index, somewhere_c, lasting_s=dice.uniform(10.0, 60.0))
        case FaultName.LID_OPEN | FaultName.CHARGE:
            return FaultPlace(index, max(somewhere_c, 350.0), lasting_s=dice.uniform(30.0, 90.0))
        case FaultName.FLAME_OUT if dice.random() < 0.3:
            return FaultPlace(dice.choice(soaks), after_s=240.0, lasting_s=dice.uniform(300.0, 900.0))
        case FaultName.FLAME_OUT:
            return FaultPlace(index, somewhere_c, lasting_s=dice.uniform(300.0, 900.0))
        case FaultName.STUCK_SENSOR:
            return FaultPlace(dice.choice(ramps + soaks), lasting_s=dice.uniform(300.0, 1200.0), after_s=300.0)
        case FaultName.NOISY_SENSOR:
            return FaultPlace(index, somewhere_c, lasting_s=dice.uniform(600.0, 1200.0))
        case FaultName.HOT_BOARD:
            return FaultPlace(index, somewhere_c, lasting_s=600.0)
        case _:
            # Failing gas needs time to be seen before the target is.
            return FaultPlace(index, from_c + dice.uniform(0.15, 0.4) * (to_c - from_c))


DIAGNOSES = {
    FaultName.OPEN_SENSOR: "sensor-open",
    FaultName.SHORTED_SENSOR: "sensor-short",
    FaultName.STUCK_SENSOR: "sensor-stuck",
    FaultName.REVERSED_SENSOR: "sensor-reversed",
    FaultName.NOISY_SENSOR: "sensor-noisy",
    FaultName.HOT_BOARD: "junction-racing",
    FaultName.FLAME_OUT: "flame-out",
    FaultName.GAS_FAILING: "heat-failing",
    FaultName.LID_OPEN: "lid",
    FaultName.CHARGE: "charge",
}
SAID = (*DIAGNOSES.values(), "sensor-type-suspect", "sensor-lagging")


def main() -> None:
    """Print the tables."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    wanted = [FaultName(name) for name in sys.argv[2:]] or list(DIAGNOSES)
    started_s = time.perf_counter()
    without = [(case, case.watch()) for case in cases(None, count, seed=7)]
    print(f"{'fault':<16}{'diagnosis':<18}{'said with it':>14}{'said without':>14}  {'median s (worst)':<18}also said with it")
    for fault in wanted:
        diagnosis = DIAGNOSES[fault]
        runs = [(case, case.watch()) for case in cases(fault, count, seed=3)]
        hits, delays, missed = 0, [], []
        also: Counter[str] = Counter()
        for case, watched in runs:
            first_s = watched.first_s(diagnosis)
            if first_s is not None and watched.began_s is not None and first_s >= watched.began_s:
                hits += 1
                delays.append(first_s - watched.began_s)
            else:
                missed.append(case)
            also.update(name for name in SAID if name != diagnosis and watched.first_s(name) is not None)
            also.update({name for _, name in watched.alarms if name not in SAID})
        false = sum(watched.first_s(diagnosis) is not None for _, watched in without)
        delays.sort()
        told = f"{delays[len(delays) // 2]:.0f} ({delays[-1]:.0f})" if delays else "-"
        others = ", ".join(f"{name} {times}" for name, times in also.most_common())
        print(f"{fault:<16}{diagnosis:<18}{hits:>11}/{count}{false:>11}/{count}  {told:<18}{others}")
        for case in missed:
            print(f"    missed: {case}")
    said = Counter(name for _, watched in without for name in SAID if watched.first_s(name) is not None)
    rest = Counter(name for _, watched in without for name in {name for _, name in watched.alarms if name not in SAID})
    print(f"{'none':<16}{'':<60}{', '.join(f'{name} {times}' for name, times in (said + rest).most_common())}")
    print(f"{time.perf_counter() - started_s:.0f} s")


if __name__ == "__main__":
    main()
