"""How late ramp-high tells a broken budget and how often one that holds, beside the first version on the same seeds.

    python tests/benchmarks/ramp_breaks.py               reporting seeds, some minutes on one core
    python tests/benchmarks/ramp_breaks.py --stream tuning
    python tests/benchmarks/ramp_breaks.py --record FILE keep the figures: so were the first version's recorded

Two sources of noise, of different make: `noise_model` lays flicker behind the probe's lag, the board of
`furnaces/sampling.py` draws how much of it arises before, how the mains beat and what lag the probe has. A heat holds
0.8 times its limit for forty minutes, then k times until its budget has been broken for a drawn time, then half of it.
The bound is what a detector needs, median, that knows the noise and compares with the nearest programme that keeps 0.95
of the budget, 1 false in 100 days: own measurement, on another simulator. Exit status 1 where a goal is missed.
"""

import argparse
import copy
import json
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.sampling import Board, Disturbed, lagged, sample
from benchmarks.furnaces.scenarios import Stream
from benchmarks.noise_model import CLASSES, Array, Pace, Programme, simulate
from benchmarks.ramp_heats import LIMITS, NOMINAL, Limit, Watch, legs

FIRST_VERSION = Path(__file__).with_name("ramp_first_version.json")
FACTORS = (1.2, 1.5, 4.0)
SOURCES = ("plain", "board")
LEARNING_S = 2400
BOUNDS_S = {
    ("10 °C/min", "mid", 1.5): 37.0,
    ("10 °C/min", "high", 1.5): 83.0,
    ("10 °C/min", "high", 1.2): 168.0,
    ("100 °C/h", "mid", 1.5): 79.0,
    ("100 °C/h", "high", 1.5): 254.0,
    ("100 °C/h", "high", 1.2): 356.0,
}
RECKONED_S = {("10 °C/min", "mid", 1.2): 68.0, ("10 °C/min", "pink", 1.2): 64.0}
"""Bounds reckoned since by `ramp_bound.py`, which gives 172 s where 168 were measured: told must be what stands twice
as long. Breaks are drawn as they were, or the first version's figures would be of others."""
OTHERWISE_S = {"100 °C/h": 120.0, "10 °C/min": 40.0, "100 °C/min": 15.0}
"""How long a break stands at least where no bound was measured."""
GROWN = 3.0
CYCLE_S = 150.0
CYCLE_C_PER_S = 16.0 / 60.0

Heat = tuple[list[float], list[float]]
Figures = dict[str, list[float]]


def readings(source: str, noise: str, programme: Programme, seconds: int, seed: int) -> Heat:
    """Give times and temperatures of one heat, one reading a second."""
    if source == "plain":
        heats = simulate(
            programme, CLASSES[noise], seconds, 1, seed, Pace(lag_s=5.0, gaps_per_h=0.5, longest_gap_s=10.0)
        )
        return heats.time_s[:, 0].tolist(), heats.temp_c[:, 0].tolist()
    dice = np.random.default_rng(seed)
    board = Board(noise, 1.0, 0.03, float(dice.choice((0.0, 1.0, 0.5))), float(dice.uniform(3.0, 20.0)), 0.5)
    shown_c = lagged(programme(np.arange(float(seconds))), board.lag_s)
    time_s, temp_c, _ = sample(dice, board, shown_c, np.ones(seconds), pink=noise == "pink", disturbed=Disturbed())
    return time_s.tolist(), temp_c.tolist()


def told(watch: Watch, heat: Heat, from_s: float = 0.0, until_s: float = np.inf) -> Iterator[float]:
    """Give when ramp-high begins to be found in a heat, within these seconds."""
    was = False
    for time_s, temp_c in zip(*heat, strict=True):
        if not from_s <= time_s < until_s:
            continue
        stated = watch.feed(time_s, temp_c)
        if stated is not None:
            now = stated[0].broken
            if now and not was:
                yield time_s
            was = now


def breaking(limit: Limit, factor: float, stands_s: float) -> Programme:
    """0.8 times the limit, `factor` times until the budget has been broken for so long, then half the limit."""
    over_s = limit.break_after_s(factor) + stands_s
    return legs(
        [NOMINAL * limit.c_per_s, factor * limit.c_per_s, 0.5 * limit.c_per_s], [float(LEARNING_S), over_s, 1e6]
    )


def drawn_by_s(limit: Limit, noise: str, factor: float) -> float:
    """Give what a break stands at least, s."""
    return BOUNDS_S.get((limit.name, noise, factor), OTHERWISE_S[limit.name])


def delays(limit: Limit, noise: str, source: str, heats: int, seed: int) -> Iterator[tuple[float, float, float]]:
    """Give (factor, how long the break stands, delay of ramp-high after it) of each heat, s; inf where never told."""
    least = {factor: drawn_by_s(limit, noise, factor) for factor in FACTORS}
    # One length for all factors: the dice then fall alike, and a plain heat's readings are the same until the step.
    seconds = LEARNING_S + int(max(limit.break_after_s(factor) + 5.0 * least[factor] for factor in FACTORS)) + 90
    for heat in range(heats):
        own = seed + heat
        dice = np.random.default_rng(own)
        learnt: Watch | None = None
        for factor in FACTORS:
            stands_s = least[factor] * float(dice.uniform(1.0, 5.0))
            true_s = LEARNING_S + limit.break_after_s(factor)
            course = readings(source, noise, breaking(limit, factor, stands_s), seconds, own)
            if learnt is None or source != "plain":
                learnt = Watch(limit)
                for _ in told(learnt, course, until_s=LEARNING_S):
                    pass
            until_s = true_s + stands_s + 90.0
            at_s = next(told(copy.deepcopy(learnt), course, LEARNING_S, until_s), np.inf)
            yield factor, stands_s, at_s - true_s


def false_ones(limit: Limit, noise: str, share: float, hours: int, seed: int) -> int:
    """Count ramp-high in one heat at a steady share of the limit."""
    course = readings("plain", noise, legs([share * limit.c_per_s], [1e9]), hours * 3600, seed)
    return sum(1 for _ in told(Watch(limit), course))


def cycling(time_s: Array) -> Array:
    """A burner on for 150 s at 16 °C/min, and off for as long, standing still."""
    turns = np.floor(time_s / (2.0 * CYCLE_S))
    return CYCLE_C_PER_S * (turns * CYCLE_S + np.minimum(time_s - 2.0 * CYCLE_S * turns, CYCLE_S))


def cycles_told(noise: str, seed: int) -> tuple[int, int]:
    """Give how many of a cycling burner's breaks of 10 °C/min are told, and of how many, after half an hour."""
    limit = LIMITS[1]
    heat = readings("plain", noise, cycling, 1800 + int(32 * CYCLE_S), seed)
    turns = {int(at_s // (2.0 * CYCLE_S)) for at_s in told(Watch(limit), heat) if at_s >= 1800.0}
    return len(turns & set(range(6, 22))), 16


def grown_ones(limit: Limit, noise: str, heats: int, seed: int) -> int:
    """Count ramp-high at 0.8 times the limit in heats whose flame grows three times as rough after an hour."""
    programme = legs([NOMINAL * limit.c_per_s], [1e9])
    made = simulate(programme, CLASSES[noise], 7200, heats, seed, louder_from=(3600, GROWN))
    each = ((made.time_s[:, heat].tolist(), made.temp_c[:, heat].tolist()) for heat in range(heats))
    return sum(sum(1 for _ in told(Watch(limit), heat)) for heat in each)


def measure(stream: Stream, heats: int, days: int) -> Figures:
    """Run everything; gives the figures by name."""
    figures: Figures = {}
    for limit in LIMITS:
        for noise in CLASSES:
            for source in SOURCES:
                found = list(delays(limit, noise, source, heats, stream.value))
                for factor in FACTORS:
                    own = [(stands_s, late_s) for each, stands_s, late_s in found if each == factor]
                    late_s = [late for _, late in own]
                    bound_s = max(drawn_by_s(limit, noise, factor), RECKONED_S.get((limit.name, noise, factor), 0.0))
                    median_s = float(np.percentile(late_s, 50, method="nearest"))
                    long = [late for stands_s, late in own if stands_s >= 2.0 * bound_s]
                    missed = sum(np.isinf(long))
                    name = f"{limit.name}, {noise}, {source}, {factor:g}"
                    figures[name] = [median_s if np.isfinite(median_s) else -1.0, float(missed), float(len(long))]
                    print(f"{name}: {figures[name]}", file=sys.stderr, flush=True)
    for share in (0.8, 0.9, 0.95):
        for noise in CLASSES:
            count = sum(false_ones(limit, noise, share, 24 * days, stream.value + 50) for limit in LIMITS)
            figures[f"false at {share:g}, {noise}"] = [float(count), float(3 * days)]
    for noise in CLASSES:
        count = sum(false_ones(limit, noise, 0.95, 2, stream.value + n) for limit in LIMITS for n in range(12 * days))
        figures[f"false at 0.95 in heats of two hours, {noise}"] = [float(count), float(3 * days)]
        figures[f"cycling burner, {noise}"] = [float(each) for each in cycles_told(noise, stream.value)]
    for noise in ("low", "mid"):
        count = sum(grown_ones(limit, noise, 10, stream.value) for limit in LIMITS)
        figures[f"flame three times as rough, {noise}"] = [float(count), 30.0]
    return figures


def shortfalls(name: str, now: list[float], first: list[float] | None) -> Iterator[str]:
    """Give where a figure misses its goal."""
    if name.startswith("false"):
        most = now[1] / 14.0 if "0.95" in name else 0.0
        if now[0] > max(most, 1.0 if "0.95" in name else 0.0):
            yield f"{name}: {now[0]:g} in {now[1]:g} days"
    elif name.startswith("cycling"):
        if now[0] < now[1]:
            yield f"{name}: {now[0]:g} of {now[1]:g} told"
    elif name.startswith("flame"):
        if first is not None and now[0] > first[0]:
            yield f"{name}: {now[0]:g}, first version {first[0]:g}"
    else:
        limit, noise, _, factor = name.split(", ")
        cell = (limit, noise, float(factor))
        bound_s = BOUNDS_S.get(cell, RECKONED_S.get(cell, 0.0))
        first_s = np.inf if first is None or first[0] < 0.0 else first[0]
        goal_s = 1.3 * bound_s if bound_s and first_s > bound_s else 1.1 * first_s
        if now[0] < 0.0 or now[0] > goal_s:
            yield f"{name}: after {now[0]:.0f} s, goal {goal_s:.0f}"
        if now[1] > 0.03 * now[2]:
            yield f"{name}: {now[1]:g} of {now[2]:g} breaks that stand twice the bound never told"


def main() -> int:
    """Measure, print beside the first version, and say what misses its goal."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--stream", choices=[each.name.lower() for each in Stream], default="reporting")
    parser.add_argument("--heats", type=int, default=12, help="heats a cell and source of noise")
    parser.add_argument("--days", type=int, default=2, help="days a limit, class and share, for false ones")
    parser.add_argument("--record", type=Path, help="keep the figures in this file")
    wanted = parser.parse_args()
    figures = measure(Stream[wanted.stream.upper()], wanted.heats, wanted.days)
    if wanted.record is not None:
        kept = {"heats": wanted.heats, "days": wanted.days, "stream": wanted.stream, "figures": figures}
        wanted.record.write_text(json.dumps(kept, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        return 0
    first = json.loads(FIRST_VERSION.read_text(encoding="utf-8"))
    same = (first["heats"], first["days"], first["stream"]) == (wanted.heats, wanted.days, wanted.stream)
    before: Figures = first["figures"] if same else {}
    print("limit, noise, source, k: median s after the break (-1: most never told), missed, of so many that stand")
    print(f"{'':44}{'now':>22}{'first version':>22}{'bound':>8}")
    missed: list[str] = []
    for name, now in figures.items():
        parts = name.split(", ")
        cell = (parts[0], parts[1], float(parts[3])) if len(parts) == 4 else ("", "", 0.0)
        bound_s = BOUNDS_S.get(cell, RECKONED_S.get(cell, ""))
        old = before.get(name)
        shown = [" ".join(f"{each:.0f}" for each in row) if row else "" for row in (now, old)]
        print(f"{name:44}{shown[0]:>22}{shown[1]:>22}{bound_s!s:>8}")
        missed += shortfalls(name, now, old)
    for line in missed:
        print("MISSED", line)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
