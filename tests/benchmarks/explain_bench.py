"""What the explanation says of furnaces it was not made on, beside what is so and what the first watchers said.

    python tests/benchmarks/explain_bench.py [--n 12] [--rows sound charge …] [--each]

For each row and simulator: right / told as something else / silent in % (95 % interval of right), delay of the right
statement (median / 95 %, s), wrong statements a heat (95 % interval), and "gas, or turned down" said after a hand had
turned the flame down. Reporting seeds alone. `--each` prints every heat that went wrong. Lines that begin with "before"
are the recorded first version's, of the first twenty of the same heats.
"""

import argparse
import json
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.explain_heats import ENTER, MARK, READING, Step, prepared
from benchmarks.explain_score import RowFigures, Score, Told, mean_interval, score, share_interval
from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import FOR_TWO_PROBES, Row, Said, SimulatedHeat
from rampwarden.core.explanation import Cause, Explanation

_SAYS = {
    Cause.FLAME_OUT: Said.FLAME_OUT,
    Cause.FADING: Said.FADING,
    Cause.SAG: Said.SAG,
    Cause.LID_OR_PROBE: Said.LID,
    Cause.CHARGE: Said.CHARGE,
    Cause.PROBE_MOVED: Said.MOVED,
    Cause.IN_FLAME: Said.IN_FLAME,
    Cause.INTERFERENCE: Said.INTERFERENCE,
    Cause.STUCK: Said.STUCK,
    Cause.CYCLING: Said.CYCLING,
    Cause.HEAT_OFF: Said.HEAT_OFF,
    Cause.LEFT_ON: Said.LEFT_ON,
    Cause.PLATEAU: Said.PLATEAU,
}
_RECORDED = Path(__file__).with_name("watchers_said.json")


def heard(steps: list[Step]) -> tuple[list[Told], list[str]]:
    """Give what is told of a heat, and every change in words."""
    explanation = Explanation()
    told, log = [], []
    for kind, time_s, *rest in steps:
        if kind == ENTER:
            explanation.enter(rest[0], time_s)  # type: ignore[arg-type]
        elif kind == MARK:
            explanation.mark(time_s, str(rest[0]))
        elif kind == READING:
            saying = explanation.feed(time_s, float(rest[0]), held=bool(rest[1]))  # type: ignore[arg-type]
            if saying is None:
                continue
            if saying.withdrawn is not None:
                log.append(f"{time_s:.0f} {saying.withdrawn.cause.value} {saying.why}")
            if saying.told is not None:
                told.append((time_s, _SAYS[saying.told.cause]))
                log.append(f"{time_s:.0f} {saying.told.cause.value}!")
    return told, log


def _each(heat: SimulatedHeat, one: Score, log: list[str]) -> None:
    if one.wrong or one.outcome == "else":
        about = f"{heat.simulator} {heat.seed} {heat.noise} lag {heat.drawn['lag_s']:.0f} s"
        print(f"    {about}: truth {heat.truth.began_s} to {heat.truth.ended_s}: {one.outcome}: {', '.join(log)}")


def _beside(row: Row, pairs: list[tuple[SimulatedHeat, Score]]) -> str:
    """Give what a goal asks of a row besides: quiet noise classes apart, or what came before the band was left."""
    if row is Row.BOTTLE_CHANGE:
        quiet = [one for heat, one in pairs if heat.noise in ("low", "mid")]
        right = sum(one.outcome == "right" for one in quiet)
        least, most = share_interval(right, len(quiet))
        return f"in low and mid noise {right} of {len(quiet)} ({least:.0f}–{most:.0f} %)"
    if row is Row.GAS_SAG:
        early = sum(one.delay_s is not None and one.delay_s <= _left_band_s(heat) for heat, one in pairs)
        least, most = share_interval(early, len(pairs))
        return f"told before the band was left: {early} of {len(pairs)} ({least:.0f}–{most:.0f} %)"
    return ""


def _left_band_s(heat: SimulatedHeat) -> float:
    """Give how long after the happening's beginning the soak's band is left, s."""
    began_s = heat.truth.began_s or 0.0
    out = np.flatnonzero((heat.time_s > began_s) & (heat.true_c < heat.schedule.segments[-2].lowest_c))
    return float(heat.time_s[out[0]]) - began_s if len(out) else np.inf


def _before(simulator: str, row: Row, count: int) -> RowFigures | None:
    if not _RECORDED.exists():
        return None
    said = json.loads(_RECORDED.read_text(encoding="utf-8"))[simulator][row.value][:count]
    heats = (simulated_heat(simulator, row, seed, Stream.REPORTING) for seed in range(len(said)))
    scores = [
        score(heat, [(float(at_s), Said(what)) for at_s, what in told]) for heat, told in zip(heats, said, strict=True)
    ]
    return RowFigures(row, tuple(scores))


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--n", type=int, default=12, help="heats a row and simulator; the goals want 60")
    parser.add_argument("--rows", nargs="*", choices=[row.value for row in Row], help="only these")
    parser.add_argument("--each", action="store_true", help="every heat that went wrong, with what was said")
    wanted = parser.parse_args()
    rows = [Row(name) for name in wanted.rows] if wanted.rows else [row for row in Row if row not in FOR_TWO_PROBES]
    print(f"{'':37} right/else/silent %      delay s   wrong a heat      turned")
    all_wrong: dict[str, list[int]] = {simulator: [] for simulator in SIMULATORS}
    all_before: dict[str, list[int]] = {simulator: [] for simulator in SIMULATORS}
    spent_s, readings = 0.0, 0
    for row in rows:
        for simulator in SIMULATORS:
            scores = []
            beside = []
            for seed in range(wanted.n):
                heat = simulated_heat(simulator, row, seed, Stream.REPORTING)
                steps = prepared(heat)
                began_s = time.process_time()
                told, log = heard(steps)
                spent_s += time.process_time() - began_s
                readings += len(heat.time_s)
                scores.append(score(heat, told))
                beside.append((heat, scores[-1]))
                if wanted.each:
                    _each(heat, scores[-1], log)
            all_wrong[simulator] += [len(one.wrong) for one in scores]
            print(f"{row.value:18} {simulator:9}         {RowFigures(row, tuple(scores)).line()}", flush=True)
            if said := _beside(row, beside):
                print(f"{'':37} {said}", flush=True)
            before = _before(simulator, row, wanted.n)
            if before is not None:
                all_before[simulator] += [len(one.wrong) for one in before.scores]
                print(f"{'':18} {'':9} before  {before.line()}", flush=True)
    for simulator in SIMULATORS:
        low, high = mean_interval(all_wrong[simulator])
        mean = sum(all_wrong[simulator]) / len(all_wrong[simulator])
        line = f"wrong a heat, all rows, {simulator}: {mean:.2f} ({low:.2f}–{high:.2f})"
        if all_before[simulator]:
            line += f"; before {sum(all_before[simulator]) / len(all_before[simulator]):.2f}"
        print(line)
    print(f"cost of the explanation: {1e6 * spent_s / readings:.1f} µs a reading (boards of 0.5 to 10 Hz)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
