"""What two probes settle, on furnaces of two makes: right, silent, and what is said that is not so.

    python tests/benchmarks/two_probes_bench.py [--n 10] [--tuning] [--rows sound charge …] [--each]

Sound heats and heats in which something befalls furnace, pot or one of the probes. Reporting seeds unless `--tuning`.
"""

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.explain_score import mean_interval, share_interval
from benchmarks.furnaces.beside import Befalls, HeatOfTwo, heat_of_two
from benchmarks.furnaces.scenarios import SIMULATORS, Stream
from benchmarks.furnaces.story import Row
from rampwarden.core.heat import HeatTracker, Milestone
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.model import Quality
from rampwarden.core.pot_keeper import SoakClocks
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.core.two_probes import Between, Settled, TwoProbes


@dataclass(frozen=True)
class Case:
    """What befalls, and which findings name it; `fine` are true beside."""

    row: Row
    befalls: Befalls = Befalls.NOTHING
    right: frozenset[Between] = frozenset()
    fine: frozenset[Between] = frozenset()

    @property
    def name(self) -> str:
        return self.row.value if self.befalls is Befalls.NOTHING else self.befalls.value


_STEPPED = Between.POT_PROBE_STEPPED
CASES = (
    Case(Row.SOUND),
    Case(Row.ARRIVAL),
    Case(Row.LONG_SOAK),
    Case(Row.DOWN_ONCE),
    Case(Row.BURNER_CYCLING),
    Case(Row.OVEN_CYCLING),
    Case(Row.FLAME_OUT_CLIMB),
    Case(Row.FLAME_OUT_SOAK),
    Case(Row.BOTTLE_CHANGE),
    Case(Row.LID_20_SOAK),
    Case(Row.LID_120_SOAK),
    Case(Row.LID_120_CLIMB),
    Case(Row.LEFT_ON),
    Case(Row.GAS_SAG),
    Case(Row.CHARGE, right=frozenset((Between.POT_LAGS,))),
    Case(Row.PLATEAU, right=frozenset((Between.POT_LAGS,))),
    Case(Row.MOVED_SOAK, right=frozenset((_STEPPED,)), fine=frozenset((Between.POT_PROBE_DRIFTS,))),
    Case(Row.MOVED_CLIMB, right=frozenset((_STEPPED,))),
    Case(Row.IN_FLAME, right=frozenset((_STEPPED,))),
    Case(Row.OUT_OF_SEAT, right=frozenset((Between.OUT_OF_SEAT, _STEPPED))),
    Case(Row.POT_DRIFTS, right=frozenset((Between.POT_PROBE_DRIFTS,))),
    Case(Row.SOUND, Befalls.MOVES, frozenset((Between.CHAMBER_PROBE_STEPPED,))),
    Case(Row.LONG_SOAK, Befalls.DRIFTS, frozenset((Between.CHAMBER_PROBE_DRIFTS,))),
)


def settle(heat: HeatOfTwo) -> list[Settled]:
    """Give what both probes settle of a heat, each behind its own gate, with the schedule's segments."""
    single = heat.heat
    readings = sorted(
        [(time_s, temp_c, True) for time_s, temp_c in zip(single.time_s.tolist(), single.temp_c.tolist(), strict=True)]
        + [(time_s, temp_c, False) for time_s, temp_c in zip(heat.time_s.tolist(), heat.temp_c.tolist(), strict=True)]
    )
    gates = {True: OutlierGate(), False: OutlierGate()}
    tracker, both = HeatTracker(single.schedule, SoakClocks(15.0)), TwoProbes()
    marks = list(single.marks)
    found = []

    def reach(steps: list, time_s: float) -> None:  # type: ignore[type-arg]
        for step in steps:
            if step.milestone is Milestone.SEGMENT_STARTED:
                enter(both, single.schedule, step.index, time_s)

    for time_s, temp_c, on_pot in readings:
        while marks and marks[0][0] <= time_s:
            mark_s, name = marks.pop(0)
            index = tracker.index + {"transfer": 1, "arrived": 0}.get(name, 99)
            segments = single.schedule.segments
            if tracker.segment is not None and index < len(segments) and segments[index].kind is SegmentKind.TRANSFER:
                reach(tracker.skip(mark_s), mark_s)
        if gates[on_pot].feed(time_s, temp_c) is not Quality.GOOD:
            continue
        if on_pot:
            reach(tracker.feed(time_s, temp_c), time_s)
        settled = both.feed(time_s, temp_c, on_pot=on_pot)
        if settled is not None:
            found.append(settled)
    return found


def enter(both: TwoProbes, schedule: Schedule, index: int, time_s: float) -> None:
    """Let segment `index` begin."""
    kind = schedule.segments[index].kind
    both.enter(time_s, heats=kind.heats, soaks=kind is SegmentKind.SOAK, carries=kind is SegmentKind.TRANSFER)


@dataclass(frozen=True)
class Outcome:
    """Of one heat: the delay of what was right (s, None for silent), and how many findings were not so."""

    delay_s: float | None
    wrong: tuple[Settled, ...]


def judge(case: Case, heat: HeatOfTwo, found: list[Settled]) -> Outcome:
    """Judge what was found: right from the happening on, wrong otherwise."""
    began_s = heat.began_s if heat.befalls is not Befalls.NOTHING else heat.heat.truth.began_s
    if case.row in (Row.PLATEAU, Row.ARRIVAL) and began_s is not None:
        began_s -= 900.0 if case.row is Row.PLATEAU else 0.0
    delay_s, wrong = None, []
    for each in found:
        after = began_s is not None and each.found_s >= began_s - 5.0
        if each.between in case.right and after and began_s is not None:
            delay_s = each.found_s - began_s if delay_s is None else delay_s
        elif not (each.between in case.fine and after):
            wrong.append(each)
    return Outcome(delay_s, tuple(wrong))


def run(case: Case, simulator: str, seed: int, stream: Stream) -> Outcome:
    """Simulate a heat of a case and judge what was found."""
    heat = heat_of_two(simulator, case.row, seed, stream, case.befalls)
    return judge(case, heat, settle(heat))


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--n", type=int, default=10)
    parser.add_argument("--tuning", action="store_true")
    parser.add_argument("--rows", nargs="*", default=())
    parser.add_argument("--each", action="store_true")
    wanted = parser.parse_args()
    stream = Stream.TUNING if wanted.tuning else Stream.REPORTING
    for case in CASES:
        if wanted.rows and case.name not in wanted.rows:
            continue
        for simulator in SIMULATORS:
            outcomes = [run(case, simulator, seed, stream) for seed in range(wanted.n)]
            wrong = [len(one.wrong) for one in outcomes]
            low, high = mean_interval(wrong)
            line = f"{case.name:22} {simulator:9} wrong a heat {np.mean(wrong):.2f} ({low:.2f}–{high:.2f})"
            if case.right:
                delays = [one.delay_s for one in outcomes if one.delay_s is not None]
                least, most = share_interval(len(delays), wanted.n)
                line += f"  right {len(delays)} of {wanted.n} ({least:.0f}–{most:.0f} %)"
                if delays:
                    line += f", after {np.median(delays):.0f} s (95 %: {np.percentile(delays, 95):.0f})"
            print(line, flush=True)
            if wanted.each:
                for seed, one in enumerate(outcomes):
                    for each in one.wrong:
                        print(f"    seed {seed}: {each}")
                    if case.right and one.delay_s is None:
                        print(f"    seed {seed}: silent")
    return 0


if __name__ == "__main__":
    sys.exit(main())
