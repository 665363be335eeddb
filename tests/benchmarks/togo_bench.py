"""How well the watch guesses how long still: whole heats of two simulated furnaces, the first and from the fourth on.

    python tests/benchmarks/togo_bench.py [--n 12] [--stream reporting] [--weak 6]

Each workshop (furnace, pot, person) runs five heats through the real watch; each heat is told those before it, as the
records' folder would. Once a minute the time to the next segment and to the end is asked and set beside what came.
Printed by distance: median and 90 % of the absolute error with what resampled workshops make of them (95 %), the bias,
and how often the interval held, all in %. Beside them what the first version guessed of the same heats. Then how many
sound heats were told that they would stop short, and where weak flames were said to stop. Tuned on other seeds.
"""

import argparse
import sys
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.same_furnace import Workshop, WorkshopHeat
from benchmarks.furnaces.scenarios import SIMULATORS, Stream
from rampwarden.core.heat import HeatCourse
from rampwarden.core.model import EarlierHeat, Event, EventName, Quality, Reading
from rampwarden.core.monitor import Monitor

HEATS = 5
_ASKED_EVERY_S = 60.0
BUCKETS_MIN = ((5, 15), (15, 30), (30, 60), (60, 120), (120, 10_000))
ASKED = ("next", "end")
GROUPS = {0: "first heat", 1: "second", 2: "third", 3: "fourth and fifth", 4: "fourth and fifth"}

FIRST_VERSION: dict[tuple[str, str], dict[int, str]] = {
    ("two-mass", "next"): {5: "9/48, bias -5", 15: "14/54, bias -5", 30: "27/67, bias -23", 60: "27/66, bias -24"}
    | {120: "32/48, bias -27"},
    ("two-mass", "end"): {5: "30/74, bias -30", 15: "30/70, bias -30", 30: "36/63, bias -36", 60: "39/66, bias -39"}
    | {120: "37/52, bias -35"},
    ("layered", "next"): {5: "4/42, bias -1", 15: "7/39, bias -4", 30: "16/91, bias -12", 60: "31/90, bias -25"}
    | {120: "83/89, bias -82"},
    ("layered", "end"): {5: "6/92, bias -6", 15: "12/92, bias -12", 30: "22/92, bias -22", 60: "37/90, bias -37"}
    | {120: "67/88, bias -66"},
}
"""What the version before guessed of reporting heats, of the first four or five workshops a simulator.

It knew no earlier heats, so one row stands for all. Median and 90 %
of the absolute error and the bias, %, by the shortest distance of a row, min."""


@dataclass(frozen=True)
class Asked:
    """One question: how long it truly was and what was answered, s."""

    workshop: int
    what: str
    true_s: float
    best_s: float | None
    range_s: tuple[float, float] | None


def run(heat: WorkshopHeat, earlier: list[EarlierHeat], workshop: int) -> tuple[list[Asked], EarlierHeat | None, float]:
    """Run one heat through the watch; gives the questions, what it leaves for the next, and where it was said to stop.

    The last is 0 where nothing of that kind was said.
    """
    monitor, course = Monitor(heat.schedule), HeatCourse(heat.schedule)
    for each in earlier:
        monitor.feed(each)
    starts: list[float] = []
    answers = []
    ended_s, asked_s, stops_c = None, _ASKED_EVERY_S, 0.0
    for time_s, temp_c, junction_c in zip(
        heat.time_s.tolist(), heat.temp_c.tolist(), heat.junction_c.tolist(), strict=True
    ):
        events = monitor.feed(Reading(time_s, temp_c=temp_c, junction_c=junction_c))
        for event in events:
            _follow(event, course, starts)
            if event.event is EventName.HEAT_COMPLETE:
                ended_s = event.time_s
        measured = monitor.measurement
        if measured is not None and measured.quality is Quality.GOOD and measured.temp_c is not None:
            course.feed(time_s, measured.temp_c)
        if time_s >= asked_s:
            asked_s += _ASKED_EVERY_S
            status = monitor.status()
            answers.append((time_s, len(starts), status))
            stops_c = status.stops_near_c or stops_c
    if ended_s is None:
        return [], None, stops_c
    asked = []
    ends = [*starts, ended_s]
    for time_s, begun, status in answers:
        if time_s < ended_s:
            asked.append(Asked(workshop, "next", ends[begun] - time_s, status.to_next_s, status.to_next_range_s))
            asked.append(Asked(workshop, "end", ended_s - time_s, status.to_end_s, status.to_end_range_s))
    return asked, EarlierHeat(0.0, str(heat.number), tuple(leg for _, leg in course.ended)), stops_c


def _follow(event: Event, course: HeatCourse, starts: list[float]) -> None:
    if event.event is EventName.SEGMENT_STARTED and event.segment_number is not None:
        starts.append(event.time_s)
        course.enter(event.segment_number - 1, event.time_s)
    elif event.event in (EventName.HEAT_COMPLETE, EventName.SCHEDULE_DONE):
        course.enter(None, event.time_s)


def figures(asked: list[Asked]) -> str:
    """Put questions of one distance into figures."""
    known = [each for each in asked if each.best_s is not None and each.range_s is not None]
    if not known:
        return "–"
    errors = np.array([100.0 * ((each.best_s or 0.0) / each.true_s - 1.0) for each in known])
    held = [each.range_s[0] <= each.true_s <= each.range_s[1] for each in known if each.range_s is not None]
    shops = np.array([each.workshop for each in known])
    dice, medians, nineties = np.random.default_rng(1), [], []
    groups = {shop: np.abs(errors[shops == shop]) for shop in set(shops.tolist())}
    for _ in range(200):
        drawn = np.concatenate([groups[shop] for shop in dice.choice(list(groups), len(groups))])
        medians.append(np.median(drawn))
        nineties.append(np.percentile(drawn, 90))
    size = np.abs(errors)
    low, high = np.percentile(nineties, (2.5, 97.5))
    first, last = np.percentile(medians, (2.5, 97.5))
    silent = f", silent {100 - 100 * len(known) // len(asked)} %" if len(known) < 0.99 * len(asked) else ""
    return (
        f"{np.median(size):.0f} ({first:.0f}–{last:.0f}) / {np.percentile(size, 90):.0f} ({low:.0f}–{high:.0f}), "
        f"bias {np.median(errors):+.0f}, held {100.0 * np.mean(held):.0f}{silent}"
    )


def weak_flames(simulator: str, count: int, stream: Stream) -> None:
    """Print where heats with too little gas were said to stop, and where they did."""
    said = []
    for seed in range(count):
        heat = Workshop(simulator, seed, stream).heat(0, weak=True)
        if heat.stops_c is None:
            continue
        _, _, stops_c = run(heat, [], seed)
        said.append(f"{stops_c:.0f} ({heat.stops_c:.0f})" if stops_c else f"not said ({heat.stops_c:.0f})")
    print(f"{simulator}: weak flames, said to stop at (truly): {', '.join(said) or 'none came to a stand'}", flush=True)


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--n", type=int, default=12, help="workshops a simulator")
    parser.add_argument("--weak", type=int, default=6, help="heats with too weak a flame a simulator")
    parser.add_argument("--stream", choices=[each.name.lower() for each in Stream], default="reporting")
    wanted = parser.parse_args()
    stream = Stream[wanted.stream.upper()]
    for simulator in SIMULATORS:
        tables: dict[str, list[Asked]] = defaultdict(list)
        stopped = heats = 0
        for seed in range(wanted.n):
            workshop, earlier = Workshop(simulator, seed, stream), list[EarlierHeat]()
            for number in range(HEATS):
                asked, left, stops_c = run(workshop.heat(number), earlier, seed)
                tables[GROUPS[number]] += asked
                earlier += [] if left is None else [left]
                stopped += bool(stops_c)
                heats += 1
        for group in dict.fromkeys(GROUPS.values()):
            for what in ASKED:
                _print_rows(simulator, group, what, tables[group])
        print(f"{simulator}: of {heats} sound heats {stopped} were told that they would stop short")
        weak_flames(simulator, wanted.weak, stream)
    return 0


def _print_rows(simulator: str, group: str, what: str, asked: list[Asked]) -> None:
    beside = FIRST_VERSION.get((simulator, what), {})
    inside = [each for each in asked if each.what == what and each.true_s >= 60.0 * BUCKETS_MIN[0][0]]
    held = [each.range_s[0] <= each.true_s <= each.range_s[1] for each in inside if each.range_s is not None]
    print(
        f"{simulator} · {group} · to the {what}: {len(inside)} questions, interval held {100.0 * np.mean(held):.0f} %"
    )
    for low_min, high_min in BUCKETS_MIN:
        some = [each for each in inside if 60.0 * low_min <= each.true_s < 60.0 * high_min]
        if some:
            name = f"{low_min}–{high_min} min" if high_min < 10_000 else f"beyond {low_min} min"
            old = f" · first version {beside[low_min]}" if low_min in beside else ""
            print(f"  {name:14} n {len(some):5}: {figures(some)}{old}", flush=True)


if __name__ == "__main__":
    sys.exit(main())
