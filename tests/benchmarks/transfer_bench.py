"""Whole heats with a transfer through the whole watch: what rings falsely, and what is held back though it is true.

    python tests/benchmarks/transfer_bench.py [--n 50] [--fast 20] [--each] [--tune]

First, heats in which the probe hangs in the air while the pot is carried, stays on it, is left in the oven for a while,
or is put back late: how often any HIGH alarm rang, and ramp-high where the pot itself kept its limit. Then pots that
truly climb too fast from their arrival on, by 1.5 to 3 times and by 1.2 times: how often their alarm was held back when
it was true already, and for how long; and of the slight breaks that were never told, how long the longest stood. The
pot's own course is the simulators'. Whoever mends the watch by what rings here tunes on `--tune` seeds.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import Row, SimulatedHeat
from rampwarden.core.model import AlarmState, Command, CommandName, Event, Input, Priority, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, SegmentKind

_NEAR = 0.97
"""Share of a limit at which a break is a matter of the probe's place and lag."""
_BRISK_S = 600.0
"""s after an arrival in which it is looked for how fast the pot climbs."""

_FAST = (1.5, 3.0)
"""By how much a pot climbs truly too fast ..."""
_SLIGHT = (1.2, 1.2)
"""... and slightly so: beside a wall that is hotter, a probe alone shows as much."""


@dataclass(frozen=True)
class Heard:
    """What one heat's watch said, and from when until when a ramp alarm was held back (s)."""

    events: list[Event]
    withheld: list[tuple[float, float]]

    def raised(self) -> Iterator[Event]:
        """Give every alarm that rang."""
        return (event for event in self.events if event.state is AlarmState.UNACKNOWLEDGED)


def inputs(heat: SimulatedHeat) -> Iterator[Input]:
    """Give what a watch is told of a heat, in order of time."""
    marks = list(heat.marks)
    for time_s, temp_c in zip(heat.time_s.tolist(), heat.temp_c.tolist(), strict=True):
        while marks and marks[0][0] <= time_s:
            mark_s, name = marks.pop(0)
            yield Command(mark_s, CommandName.MARK, text=name)
        yield Reading(time_s, temp_c=temp_c)


def watched(heat: SimulatedHeat) -> Heard:
    """Run a heat through the whole watch."""
    monitor, events = Monitor(heat.schedule), list[Event]()
    withheld: list[tuple[float, float]] = []
    began_s: float | None = None
    for item in inputs(heat):
        events += monitor.feed(item)
        now = monitor.status().withheld
        if now is not None and began_s is None:
            began_s = now.since_s
        elif now is None and began_s is not None:
            withheld.append((began_s, item.time_s))
            began_s = None
    return Heard(events, withheld)


def climbed_c(heat: SimulatedHeat, window_s: float) -> NDArray[np.float64]:
    """Give how far the pot itself stands above the lowest of the last `window_s`, since its arrival, °C each second."""
    from_s = int(heat.truth.began_s or 0.0)
    pot_c, window = heat.pot_c, int(window_s)
    climbed = np.zeros(len(pot_c))
    for second in range(from_s, len(pot_c)):
        climbed[second] = pot_c[second] - pot_c[max(from_s, second - window) : second + 1].min()
    return climbed


def limit_of(schedule: Schedule) -> Rate:
    """Give the limit after the transfer."""
    kinds = [segment.kind for segment in schedule.segments]
    return schedule.segments[kinds.index(SegmentKind.TRANSFER) + 1].max_rates[0]


def is_true(heat: SimulatedHeat, time_s: float) -> bool:
    """Whether the pot itself climbed beyond its limit, or to it, within a minute before `time_s` (s)."""
    if time_s < (heat.truth.began_s or 0.0):
        return False
    rate = limit_of(heat.schedule)
    climbed = climbed_c(heat, rate.window_s)
    return bool(climbed[int(time_s) - 60 : int(time_s) + 1].max() >= _NEAR * rate.climb_c)


def breaks_soon_s(heat: SimulatedHeat, time_s: float) -> float | None:
    """Give after how long the pot itself climbs to its limit, s, where that is less than its window; else None."""
    rate = limit_of(heat.schedule)
    ahead_c = climbed_c(heat, rate.window_s)[int(time_s) : int(time_s + rate.window_s)]
    over = np.flatnonzero(ahead_c >= _NEAR * rate.climb_c)
    return float(over[0]) if len(over) else None


def _rings_rightly(heat: SimulatedHeat, event: Event) -> bool:
    """A board that was silent was silent; a ramp is as true as the pot's own climb."""
    return event.alarm == "signal-lost" or (event.alarm == "ramp-high" and is_true(heat, event.time_s))


def too_fast(heat: SimulatedHeat, factor: float) -> SimulatedHeat | None:
    """Give the heat under a limit that its pot breaks by `factor` times from its arrival on; None if it is slow."""
    rate = limit_of(heat.schedule)
    from_s = int(heat.truth.began_s or 0.0)
    most_c = float(climbed_c(heat, rate.window_s)[from_s : from_s + int(_BRISK_S)].max())
    limit_c = most_c / factor
    if limit_c < 3.0:
        return None
    tight = Rate(round(limit_c, 1), rate.window_s)
    segments = tuple(
        replace(each, max_rates=(tight,)) if each.max_rates == (rate,) else each for each in heat.schedule.segments
    )
    return replace(heat, schedule=replace(heat.schedule, segments=segments))


def broken_s(heat: SimulatedHeat) -> float | None:
    """Give when the pot itself breaks its limit first, s; None if it never does."""
    rate = limit_of(heat.schedule)
    over = np.flatnonzero(climbed_c(heat, rate.window_s) > rate.climb_c)
    return float(over[0]) if len(over) else None


def sound_arrivals(simulator: str, count: int, stream: Stream, *, each: bool) -> None:
    """Print what rings in heats whose pot arrives as it should."""
    false_high, high, held_back = Counter[str](), Counter[str](), 0
    heats_false = 0
    early_s: list[float] = []
    for seed in range(count):
        heat = simulated_heat(simulator, Row.ARRIVAL, seed, stream)
        heard = watched(heat)
        held_back += bool(heard.withheld)
        wrong = [
            event for event in heard.raised() if event.priority is Priority.HIGH and not _rings_rightly(heat, event)
        ]
        # A probe beside a wall that is hotter than the pot runs ahead of it: the pot's own break follows.
        ahead_s = {event.time_s: breaks_soon_s(heat, event.time_s) for event in wrong if event.alarm == "ramp-high"}
        high.update(str(event.alarm) for event in heard.raised() if event.priority is Priority.HIGH)
        early_s += [each_s for each_s in ahead_s.values() if each_s is not None]
        false = [event for event in wrong if ahead_s.get(event.time_s) is None]
        false_high.update(str(event.alarm) for event in false)
        heats_false += bool(false)
        if each and wrong:
            arrived_s = heat.truth.began_s or 0.0
            for event in wrong:
                soon_s = ahead_s.get(event.time_s)
                how = "" if soon_s is None else f" ({soon_s:.0f} s before the pot's own break)"
                print(f"    {simulator} {seed}: {event.time_s - arrived_s:+.0f} s after arrival: {event.text}{how}")
    print(
        f"{simulator:9} {count} arrivals: false HIGH in {heats_false} ({dict(false_high) or 'none'}), "
        f"HIGH in all {dict(high) or 'none'}, ramp alarm held back in {held_back}; "
        f"ramp-high ahead of the pot's own break in {len(early_s)}"
        + (f" (by {min(early_s):.0f} to {max(early_s):.0f} s)" if early_s else ""),
        flush=True,
    )


def broken_for_s(heat: SimulatedHeat) -> float:
    """Give for how long the pot itself stands beyond its limit, s in all."""
    rate = limit_of(heat.schedule)
    return float(np.count_nonzero(climbed_c(heat, rate.window_s) > rate.climb_c))


def fast_arrivals(simulator: str, count: int, stream: Stream, factors: tuple[float, float], *, each: bool) -> None:
    """Print how long true alarms of pots that climb too fast from their arrival on were held back."""
    dice = np.random.default_rng((stream.value, len(simulator)))
    told = silent = seed = 0
    late: list[float] = []
    after_s: list[float] = []
    never_s: list[float] = []
    while told + silent < count and seed < 10 * count:
        heat = too_fast(simulated_heat(simulator, Row.ARRIVAL, seed, stream), float(dice.uniform(*factors)))
        seed += 1
        breaks_s = None if heat is None else broken_s(heat)
        if heat is None or breaks_s is None:
            continue
        heard = watched(heat)
        arrived_s = heat.truth.began_s or 0.0
        rings = (event.time_s for event in heard.raised() if event.alarm == "ramp-high" and event.time_s > arrived_s)
        rang_s = next(rings, None)
        told += rang_s is not None
        silent += rang_s is None
        if rang_s is not None:
            after_s.append(rang_s - breaks_s)
        else:
            never_s.append(broken_for_s(heat))
        held_s = sum(max(0.0, to_s - max(from_s, breaks_s)) for from_s, to_s in heard.withheld)
        if held_s > 0.0:
            late.append(held_s)
        if each:
            print(f"    {simulator} {seed - 1}: broken {breaks_s:.0f}, rang {rang_s}, held back {heard.withheld}")
    by = f"{factors[0]:g} times" if factors[0] == factors[1] else f"{factors[0]:g} to {factors[1]:g} times"
    never = f" (broken for {max(never_s):.0f} s at most)" if never_s else ""
    longest = f" (longest {max(late):.0f} s)" if late else ""
    print(
        f"{simulator:9} {told + silent} arrivals too fast by {by}: told {told}, silent {silent}{never}, held back "
        f"while true in {len(late)}{longest}"
        + (
            f"; rang {np.median(after_s):+.0f} s after the pot's own break (median), latest {max(after_s):+.0f} s"
            if told
            else ""
        ),
        flush=True,
    )


def main() -> int:
    """Print both."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--n", type=int, default=50, help="sound arrivals a simulator")
    parser.add_argument("--fast", type=int, default=20, help="arrivals a simulator that are truly too fast")
    parser.add_argument("--each", action="store_true", help="every heat that went wrong")
    parser.add_argument("--tune", action="store_true", help="tuning seeds, not the reporting ones")
    wanted = parser.parse_args()
    stream = Stream.TUNING if wanted.tune else Stream.REPORTING
    for simulator in SIMULATORS:
        sound_arrivals(simulator, wanted.n, stream, each=wanted.each)
    for factors in (_FAST, _SLIGHT):
        for simulator in SIMULATORS:
            fast_arrivals(simulator, wanted.fast, stream, factors, each=wanted.each)
    return 0


if __name__ == "__main__":
    sys.exit(main())
