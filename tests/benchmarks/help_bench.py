"""Does it help the pot? First heats of both simulators, by hand and with rampwarden, the same person and the same day.

    python tests/benchmarks/help_bench.py [--n 100] [--jobs 2] [--tune] [--orders] [--only two-mass]

By hand somebody looks in once a minute with a spot thermometer and goes by the clock. With the watch the same person,
with the same slips of the hand, calls and gas, reads its display and does what its first order says, 10 to 60 s after
hearing it; a voice that was wrong twice is listened to no more. All figures are the simulators' own, none is what the
watch believes. Each is worse the larger it is. Prints means, their difference over the same heats with its 95 %
interval, and which errands were for nothing. Whoever mends the watch by this table tunes on `--tune` seeds. Exits 1 if
a row is worse with the watch; errands for nothing are counted, and not compared: by hand nobody is sent.
"""

import argparse
import multiprocessing
import sys
from collections import Counter
from collections.abc import Iterable
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.scenarios import SIMULATORS, Stream
from benchmarks.help.drawn import draw
from benchmarks.help.heat import Run, by_hand, watched
from benchmarks.help.outcome import LABELS, Compared, compare

Pair = tuple[Run, Run]


def pair_of(seed: int, simulator: str, stream: Stream) -> Pair:
    """Run one heat both ways."""
    return by_hand(draw(simulator, seed, stream)), watched(draw(simulator, seed, stream))


def table(simulator: str, pairs: list[Pair]) -> list[Compared]:
    """Print one simulator's table."""
    rows = compare([(one.outcome, other.outcome) for one, other in pairs])
    print(f"\n{simulator}, {len(pairs)} first heats")
    print(f"{'':<38} {'by hand':>9} {'rampwarden':>10} {'difference':>11} {'± (95 %)':>9}")
    for row in rows:
        verdict = "" if row.name == "false_errands" else row.verdict
        figures = f"{row.by_hand:9.2f} {row.watched:10.2f} {row.difference:+11.2f} {row.half:9.2f}"
        print(f"{LABELS[row.name]:<38} {figures}  {verdict}")
    return rows


def errands(pairs: Iterable[Pair]) -> None:
    """Print what was carried out, and how much of it for nothing."""
    done: Counter[tuple[str, str]] = Counter()
    vain: Counter[tuple[str, str]] = Counter()
    for _, other in pairs:
        for _, alarm, order, was_so in other.heard:
            done[alarm, order] += 1
            vain[alarm, order] += not was_so
    print(f"{'carried out':<48} {'times':>6} {'for nothing':>12}")
    for (alarm, order), times in done.most_common():
        print(f"  {alarm:<24} {order:<21} {times:>6} {vain[alarm, order]:>12}")


def main() -> int:
    """Run as the module's docstring says."""
    parser = argparse.ArgumentParser(description="First heats by hand and with rampwarden, beside each other.")
    parser.add_argument("--n", type=int, default=100, help="heats of each simulator")
    parser.add_argument("--jobs", type=int, default=2, help="processes")
    parser.add_argument("--tune", action="store_true", help="other heats, to mend the watch by")
    parser.add_argument("--orders", action="store_true", help="also what was carried out, by alarm")
    parser.add_argument("--only", default="", choices=("", *SIMULATORS), help="one simulator")
    asked = parser.parse_args()
    stream = Stream.TUNING if asked.tune else Stream.REPORTING
    worse = False
    for simulator in (each for each in SIMULATORS if asked.only in ("", each)):
        one = partial(pair_of, simulator=simulator, stream=stream)
        if asked.jobs > 1:
            with multiprocessing.Pool(asked.jobs) as pool:
                pairs = pool.map(one, range(asked.n), chunksize=2)
        else:
            pairs = [one(seed) for seed in range(asked.n)]
        rows = table(simulator, pairs)
        worse |= any(row.verdict == "WORSE" for row in rows if row.name != "false_errands")
        if asked.orders:
            errands(pairs)
    return 1 if worse else 0


if __name__ == "__main__":
    sys.exit(main())
