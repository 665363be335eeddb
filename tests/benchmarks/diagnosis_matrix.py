"""How well a failing sensor, a failing heat and what merely happens are told apart: confusion tables over seeded heats.

For each diagnosis 20 heats with its fault and 20 without are watched, over all noise classes, several schedules, places
of the fault and reading intervals. Frames of the model heat go straight into decoder and monitor. Whatever any heat
says beside its own fault is counted too: a diagnosis is only worth what it does not say elsewhere.

    python tests/benchmarks/diagnosis_matrix.py [--heats 20] [--seed 1] [DIAGNOSIS …]

The heats without a fault are the same for every diagnosis, but where a harmless twin of the fault is the harder test:
a lid lifted over a quick probe, metal that melts at its own point under the right type.
"""

import argparse
import random
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from rampwarden.core.alarm_entry import names
from rampwarden.core.diagnosis.diagnosis import DIAGNOSES
from rampwarden.core.explanation import TOLD_ALARMS
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.framing import FrameDecoder
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import AlarmState, Event, EventName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.sources.board_model import NOISE, BoardModel, NoiseClass
from rampwarden.sources.furnace_faults import FaultName, FaultPlace
from rampwarden.sources.furnace_model import FurnaceModel, PotPlace
from rampwarden.sources.rehearsal_board import ModelHeat

SCHEDULES = Path(__file__).resolve().parents[2] / "config" / "schedules"
GAS = ("bronze-first-heat", "later-heat-after-damp-storage", "clay-graphite-first-heat", "later-heat-daily-use")
ROUGHNESS = tuple(NoiseClass)

MESSAGES = {
    "lid": ("lid was lifted", "lid is shut"),
    "charge": ("cold metal was added, since",),
    "melting": (" melts, ",),
    "moved": ("probe was moved",),
    "in-flame": ("flame touches the probe",),
    "cycling": ("switches on and off (",),
    "heat-off": ("heat is off",),
    "left-on": ("heat was left on",),
}


@dataclass
class Watched:
    """What the watch said of one heat, and when its fault began."""

    began_s: float | None = None
    alarms: list[tuple[float, str]] = field(default_factory=list)
    observed: list[tuple[float, str]] = field(default_factory=list)

    def note(self, event: Event) -> None:
        """Keep what matters of an event."""
        if event.event is EventName.ALARM and event.state is AlarmState.UNACKNOWLEDGED and event.alarm is not None:
            self.alarms.append((event.time_s, event.alarm))
        elif event.event is EventName.OBSERVED:
            self.observed.append((event.time_s, event.text))

    def first_s(self, said: str) -> float | None:
        """Give when an alarm or message was first spoken."""
        if said in MESSAGES:
            times = [at for at, text in self.observed if any(words in text for words in MESSAGES[said])]
        else:
            times = [at for at, name in self.alarms if name == said]
        return times[0] if times else None

    def said(self) -> set[str]:
        """Give everything that was said, by name."""
        return {name for _, name in self.alarms} | {name for name in MESSAGES if self.first_s(name) is not None}


@cache
def load(name: str) -> Schedule:
    """Read a schedule of config/schedules."""
    return parse_schedule(tomllib.loads((SCHEDULES / f"{name}.toml").read_text(encoding="utf-8")), name)


@dataclass(frozen=True)
class Case:
    """One heat of the model furnace."""

    schedule: str
    noise: NoiseClass
    seed: int
    interval_s: float = 1.0
    fault: FaultName | None = None
    place: FaultPlace | None = None
    probe_tau_s: float = 8.0

    def watch(self) -> Watched:
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
        heat.furnace.probe_tau_s = self.probe_tau_s
        monitor, watched = Monitor(schedule), Watched()
        for reading in readings(heat):
            for event in monitor.feed(reading):
                watched.note(event)
        watched.began_s = heat.operator.fault_since_s
        return watched


def readings(heat: ModelHeat) -> Iterator[Reading]:
    """Give a model heat's frames as readings, dated by the heat."""
    decoder = FrameDecoder()
    while not heat.over:
        data = heat.next_frame()
        if data is not None:
            for frame in decoder.feed(data):
                yield Reading(heat.time_s, frame.emf_uv, frame.junction_c, None, frame.faults)


@dataclass(frozen=True)
class Melt:
    """Metal that melts on the way to 1000 °C, under a probe of type `letter` on a board set for type K."""

    letter: str
    point_c: float
    c_per_min: float
    stands_s: float
    noise: NoiseClass
    seed: int

    def watch(self) -> Watched:
        """Climb, stand still while the metal melts, climb on."""
        segment = {"name": "up", "kind": "ramp", "to": "1000 C", "max_rate": "30 C / min"}
        monitor = Monitor(parse_schedule({"title": "melt", "segment": [segment]}, "melt"))
        furnace = FurnaceModel(PotPlace.FURNACE_LID_SHUT, 300.0)
        furnace.heat_w = 4000.0
        board = BoardModel(random.Random(f"melt {self.seed}"), NOISE[self.noise])
        probe, type_k = thermocouple(self.letter), thermocouple("K")
        slope = self.c_per_min / 60.0
        melts_s = (self.point_c - 300.0) / slope
        watched = Watched(began_s=melts_s)
        for second in range(round(melts_s + self.stands_s + 300.0)):
            still_s = min(max(second - melts_s, 0.0), self.stands_s)
            true_c = 300.0 + slope * (second - still_s)
            furnace.probe_c = type_k.temp_c(probe.emf_uv(true_c))
            sample = board.measure(furnace, float(second))
            for event in monitor.feed(Reading(float(second), sample.emf_uv, sample.junction_c)):
                watched.note(event)
        return watched


Heat = Case | Melt


def with_fault(fault: FaultName | None, count: int, seed: int) -> list[Heat]:
    """Lay out heats: noise classes and schedules in turn, the fault's place at random."""
    dice = random.Random(f"{fault} {seed}")
    chosen: list[Heat] = []
    for number in range(count):
        name = GAS[number % len(GAS)]
        place = None if fault is None else place_at_random(fault, load(name), dice)
        noise = ROUGHNESS[(number // len(GAS) + number) % len(ROUGHNESS)]
        chosen.append(Case(name, noise, seed * 1000 + number, dice.choice((0.5, 1.0, 1.0, 2.0)), fault, place))
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
            return FaultPlace(index, somewhere_c, lasting_s=40.0)
        case FaultName.LID_OPEN | FaultName.CHARGE:
            return FaultPlace(index, max(somewhere_c, 350.0), lasting_s=dice.uniform(30.0, 90.0))
        case FaultName.FLAME_OUT if dice.random() < 0.3:
            return FaultPlace(dice.choice(soaks), after_s=240.0, lasting_s=dice.uniform(300.0, 900.0))
        case FaultName.FLAME_OUT:
            return FaultPlace(index, somewhere_c, lasting_s=dice.uniform(300.0, 900.0))
        case FaultName.STUCK_SENSOR:
            return FaultPlace(dice.choice(ramps + soaks), after_s=300.0, lasting_s=dice.uniform(300.0, 1200.0))
        case FaultName.NOISY_SENSOR | FaultName.HOT_BOARD:
            return FaultPlace(index, somewhere_c, lasting_s=dice.uniform(600.0, 1200.0))
        case _:
            # Failing gas needs time to be seen before the target is.
            return FaultPlace(index, from_c + dice.uniform(0.15, 0.4) * (to_c - from_c))


def lids(count: int, seed: int, tau_s: tuple[float, float]) -> list[Heat]:
    """Lay out heats with a lid lifted over a probe of such a time constant, where the fastest windows are."""
    dice = random.Random(f"lids {seed} {tau_s}")
    chosen: list[Heat] = []
    for number in range(count):
        name = ("bronze-first-heat", "later-heat-daily-use")[number % 2]
        place = FaultPlace(4 if number % 2 == 0 else 1, dice.uniform(750.0, 950.0), lasting_s=dice.uniform(45.0, 90.0))
        noise = ROUGHNESS[number // 2 % len(ROUGHNESS)]
        tau = dice.uniform(*tau_s)
        chosen.append(Case(name, noise, seed * 1000 + number, 1.0, FaultName.LID_OPEN, place, tau))
    return chosen


def melts(count: int, seed: int, letters: str) -> list[Heat]:
    """Lay out melting metal under such types of probe."""
    dice = random.Random(f"melts {seed} {letters}")
    return [
        Melt(
            letters[number % len(letters)],
            dice.choice((419.527, 660.323)),
            dice.uniform(5.0, 15.0),
            dice.uniform(400.0, 900.0),
            ROUGHNESS[number % len(ROUGHNESS)],
            seed * 1000 + number,
        )
        for number in range(count)
    ]


@dataclass(frozen=True)
class Row:
    """A line of the matrix: heats with a fault, the diagnosis they want, and healthy ones of its own, if any."""

    fault: str
    diagnosis: str
    faulty: Callable[[int, int], list[Heat]]
    healthy: Callable[[int, int], list[Heat]] | None = None


def _row(fault: FaultName, diagnosis: str) -> Row:
    return Row(fault, diagnosis, lambda count, seed: with_fault(fault, count, seed))


ROWS = (
    _row(FaultName.OPEN_SENSOR, "sensor-open"),
    _row(FaultName.SHORTED_SENSOR, "sensor-short"),
    _row(FaultName.STUCK_SENSOR, "sensor-stuck"),
    _row(FaultName.REVERSED_SENSOR, "sensor-reversed"),
    _row(FaultName.NOISY_SENSOR, "sensor-noisy"),
    Row(
        "slow probe",
        "sensor-lagging",
        lambda count, seed: lids(count, seed, (45.0, 90.0)),
        lambda count, seed: lids(count, seed, (3.0, 12.0)),
    ),
    Row(
        "type N, J",
        "sensor-type-suspect",
        lambda count, seed: melts(count, seed, "NJ"),
        lambda count, seed: melts(count, seed, "K"),
    ),
    _row(FaultName.HOT_BOARD, "junction-racing"),
    _row(FaultName.GAS_FAILING, "heat-failing"),
    _row(FaultName.FLAME_OUT, "flame-out"),
    _row(FaultName.LID_OPEN, "lid"),
    _row(FaultName.CHARGE, "charge"),
    Row("melting metal", "melting", lambda count, seed: melts(count, seed, "K")),
)


@dataclass
class Outcome:
    """How one row went: heats told, healthy heats told all the same, delays, and what else was said."""

    told: int
    false: int
    delays_s: list[float]
    missed: list[Heat]
    also: Counter[str]


def outcome(row: Row, count: int, seed: int, healthy: list[Watched]) -> Outcome:
    """Watch the heats of a row; `healthy` are those without a fault, unless the row has its own."""
    if row.healthy is not None:
        healthy = [heat.watch() for heat in row.healthy(count, seed)]
    false = sum(watched.first_s(row.diagnosis) is not None for watched in healthy)
    result = Outcome(0, false, [], [], Counter())
    for heat in row.faulty(count, seed):
        watched = heat.watch()
        first_s, began_s = watched.first_s(row.diagnosis), watched.began_s
        if first_s is not None and began_s is not None and first_s >= began_s:
            result.told += 1
            result.delays_s.append(first_s - began_s)
        else:
            result.missed.append(heat)
        result.also.update(watched.said() - {row.diagnosis})
    result.delays_s.sort()
    return result


def healthy_heats(count: int, seed: int) -> list[Watched]:
    """Watch the heats without a fault."""
    return [heat.watch() for heat in with_fault(None, count, seed)]


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="Confusion tables of the diagnoses.")
    parser.add_argument("--heats", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("diagnosis", nargs="*")
    asked = parser.parse_args()
    started_s = time.perf_counter()
    healthy = healthy_heats(asked.heats, asked.seed)
    print(f"{'fault':<16}{'diagnosis':<20}{'told':>7}{'false':>7}  {'median s (worst)':<18}also said with the fault")
    for row in ROWS:
        if asked.diagnosis and row.diagnosis not in asked.diagnosis:
            continue
        result = outcome(row, asked.heats, asked.seed, healthy)
        delays = result.delays_s
        after = f"{delays[len(delays) // 2]:.0f} ({delays[-1]:.0f})" if delays else "-"
        also = ", ".join(f"{name} {times}" for name, times in sorted(result.also.items()))
        told, false = f"{result.told}/{asked.heats}", f"{result.false}/{asked.heats}"
        print(f"{row.fault:<16}{row.diagnosis:<20}{told:>7}{false:>7}  {after:<18}{also}", flush=True)
        for heat in result.missed:
            print(f"    missed: {heat}")
    said = Counter(name for watched in healthy for name in watched.said())
    spoken = ", ".join(f"{name} {times}" for name, times in sorted(said.items())) or "nothing"
    wrong = sum(times for name, times in said.items() if name in (*names((*DIAGNOSES, *TOLD_ALARMS)), *MESSAGES))
    print(f"{'none':<61}  {spoken} ({wrong} of them diagnoses)")
    for path in sorted(SCHEDULES.glob("*.toml")):
        heard = sorted(Case(path.stem, NoiseClass.MODERATE, asked.seed, 5.0).watch().said())
        print(f"{'none':<16}{path.stem:<45}  {', '.join(heard) or 'nothing'}", flush=True)
    print(f"{time.perf_counter() - started_s:.0f} s")


if __name__ == "__main__":
    main()
