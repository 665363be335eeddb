"""Intermittent sensors: is a watch ever both silent and blind, and what do single bad frames cost it?

    python tests/benchmarks/intermittent_bench.py [--mixes 2000] [--hours 100] [--delays 400] [--stream reporting]

Draws mixes of good, flagged, out-of-range and spiking frames at 0.2 to 10 Hz over a course that breaks its limit, and
prints for how long each was blind without anything standing, and how long after a twin without bad frames something
told of the climb. Fifteen seconds are allowed; of a board below 0.27 Hz four readings, since three must agree and one
may be bad. Then single bad frames over courses that break nothing, and how much they delay ramp-high. Exit status 1
where a goal is missed.
"""

import argparse
import random
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from intermittent_mixes import (
    TOLD_WITHIN_S,
    Judged,
    Lonely,
    Mix,
    drawn_lonely,
    drawn_mix,
    judge_mix,
    lonely_delay_s,
    told_within_s,
    watch,
)

_EXACT_S = 1e-3
_ROUNDED_S = 0.01
"""s. Readings are dated to the millisecond."""
KNOWN_AFTER_S = 1500.0
"""s. By then it is known what a fire's readings scatter by."""
_PACES = ((0.0, 0.5), (0.5, 2.0), (2.0, 11.0))


def silent_and_blind(stream: str, count: int, worst: int) -> bool:
    """Draw the mixes and print how long each was blind without a word."""
    judged = [(mix, judge_mix(mix)) for mix in (drawn_mix(stream, seed) for seed in range(count))]
    print(f"{count} mixes                     blind and silent, s        longer   untold {TOLD_WITHIN_S:.0f} s")
    print("pace                       median     95 %    worst   allowed     after its twin")
    for low, high in _PACES:
        _print_row(f"{low:g} to {min(high, 10.0):g} Hz", [x for x in judged if low <= 1.0 / x[0].interval_s < high])
    _print_row("all", judged)
    rang = Counter(name for _, each in judged for name in each.rang)
    print("rang:", ", ".join(f"{name} {times}" for name, times in rang.most_common()))
    bad = [(mix, each) for mix, each in judged if _is_missed(mix, each)]
    for mix, each in sorted(bad, key=lambda pair: -pair[1].blind_s)[:worst]:
        drawn = (
            f"{1 / mix.interval_s:.2f} Hz, {mix.share:.2f} {mix.order} {'+'.join(mix.wrong)}, level {mix.level_c:.0f}"
        )
        broken = f"{mix.course.hard_c_per_s:.2f} °C/s from {mix.course.breaks_s:.0f}"
        print(
            f"  seed {mix.seed}: {drawn}, stretch {mix.stretch_s:.1f} from {mix.begins_s:.0f}, {broken}: blind "
            f"{each.blind_s:.1f} until {each.at_s:.0f}, told {each.told_late_s} after its twin"
        )
    return not bad


def _is_missed(mix: Mix, each: Judged) -> bool:
    """Whether it was silent and blind for longer, or told of the climb later than its twin by more than that."""
    return each.blind_s > told_within_s(mix.interval_s) + _EXACT_S or _is_late(mix, each)


def _is_late(mix: Mix, each: Judged) -> bool:
    return each.told_late_s is None or each.told_late_s > told_within_s(mix.interval_s)


def _print_row(name: str, judged: list[tuple[Mix, Judged]]) -> None:
    blind = sorted(each.blind_s for _, each in judged)
    if not blind:
        return
    longer = sum(each.blind_s > told_within_s(mix.interval_s) + _EXACT_S for mix, each in judged)
    untold = sum(_is_late(mix, each) for mix, each in judged)
    p50, p95 = blind[len(blind) // 2], blind[int(0.95 * len(blind))]
    print(f"{name:<14} {len(judged):5d} {p50:12.1f} {p95:8.1f} {blind[-1]:8.1f} {longer:8d} {untold:12d}")


def false_alarms(stream: str, hours: float) -> bool:
    """Let single bad frames come over courses that break nothing, and print what rang."""
    rang: Counter[str] = Counter()
    watched_s, seed, bad = 0.0, 0, 0
    while watched_s < 3600.0 * hours:
        lonely = drawn_lonely(stream, seed)
        lasts_s = random.Random(f"lasts {seed}").uniform(900.0, 2700.0)
        for name in watch(lonely.course, lonely.interval_s, lonely.readings(lasts_s)).first_s:
            rang[name] += 1
            if name != "ramp-forecast":
                print(f"  seed {seed}: {name}, {1 / lonely.interval_s:.2f} Hz, {lonely.apart} {'+'.join(lonely.wrong)}")
        watched_s += lasts_s
        seed += 1
        bad += 1
    said = ", ".join(f"{name} {times}" for name, times in rang.most_common()) or "nothing"
    print(f"single bad frames, {watched_s / 3600.0:.0f} h in {seed} heats that break nothing: {said}")
    return not rang


def delays(stream: str, count: int) -> bool:
    """Let single bad frames come while a limit is broken, and print how much later ramp-high comes.

    In a young fire nobody knows yet what is noise, and a few readings more or less move the margin either way; so that
    row is no goal.
    """
    _delays("young fire", stream, count // 2, 0.0)
    return _delays("known fire", stream, count, KNOWN_AFTER_S) == 0


def _delays(name: str, stream: str, count: int, breaks_after_s: float) -> int:
    late: list[tuple[float, float, Lonely]] = []
    for seed in range(count):
        lonely = drawn_lonely(stream, seed, breaks_after_s)
        delay_s = lonely_delay_s(lonely)
        allowed_s = max(2.0, 2.0 * lonely.interval_s)
        late.append((delay_s - allowed_s, delay_s, lonely))
    times = sorted(delay_s for _, delay_s, _ in late)
    missed = [(delay_s, lonely) for over_s, delay_s, lonely in late if over_s > _ROUNDED_S]
    p5, p50, p95 = (times[int(share * len(times))] for share in (0.05, 0.5, 0.95))
    print(
        f"ramp-high behind single bad frames, {name}, {count} climbs: median {p50:.1f} s later (5 %: {p5:.1f}, "
        f"95 %: {p95:.1f}, worst {times[-1]:.1f}), {len(missed)} by more than two readings and two seconds"
    )
    for delay_s, lonely in missed[:10] if breaks_after_s else ():
        print(f"  seed {lonely.seed}: {delay_s:.1f} s, {1 / lonely.interval_s:.2f} Hz, {lonely.apart} {lonely.wrong}")
    return len(missed)


def main() -> int:
    """Run every part; 1 where a goal is missed."""
    parser = argparse.ArgumentParser(description="Intermittent sensors.")
    parser.add_argument("--mixes", type=int, default=2000)
    parser.add_argument("--hours", type=float, default=100.0)
    parser.add_argument("--delays", type=int, default=400)
    parser.add_argument("--stream", choices=("tuning", "reporting"), default="reporting")
    parser.add_argument("--worst", type=int, default=10, help="how many of the missed to list")
    wanted = parser.parse_args()
    parts = [silent_and_blind(wanted.stream, wanted.mixes, wanted.worst)] if wanted.mixes else []
    parts += [false_alarms(wanted.stream, wanted.hours)] if wanted.hours else []
    parts += [delays(wanted.stream, wanted.delays)] if wanted.delays else []
    return 0 if all(parts) else 1


if __name__ == "__main__":
    sys.exit(main())
