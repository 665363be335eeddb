"""What not-heating and not-cooling say of furnaces they were not made on: sound heats beside failing ones.

    python tests/benchmarks/direction_bench.py [--n 20]

Prints for each row how many heats heard them and how often; of an oven that goes off and of heat left on, how late
after the truth anything told it. Exits 1 if a sound row heard one. Reporting seeds alone.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import Row, SimulatedHeat
from rampwarden.core.model import AlarmState, Reading
from rampwarden.core.monitor import Monitor

ALARMS = ("not-heating", "not-cooling")
ROWS = (Row.SOUND, Row.ARRIVAL, Row.LID_120_CLIMB, Row.CHARGE, Row.OVEN_CYCLING, Row.OVEN_OFF, Row.LEFT_ON)
TELLS: dict[Row, tuple[str, ...]] = {
    Row.OVEN_OFF: ("not-heating", "heat-failing", "soak-deviation"),
    Row.LEFT_ON: ("not-cooling", "temperature-high"),
}
"""What tells of a failing heat. In its band a soak may fall, so a fall there is told when the band is left, or as
failing heat; and not-heating is silent where heat-failing stands already."""
WANTED_S = {Row.OVEN_OFF: 480.0, Row.LEFT_ON: 1200.0}


@dataclass(frozen=True)
class Told:
    """One heat and the alarms it raised: when (s since the heat began) and which."""

    heat: SimulatedHeat
    raised: tuple[tuple[float, str], ...]

    def after_s(self, row: Row) -> float | None:
        """How long after the truth it was told, s; None if it never was."""
        began_s = self.heat.truth.began_s or 0.0
        times = [at_s - began_s for at_s, name in self.raised if name in TELLS[row] and at_s >= began_s]
        return min(times, default=None)

    def turned_after_s(self) -> float:
        """How long the probe's own course went on rising after the heat failed, s: nobody can know before."""
        began_s = self.heat.truth.began_s or 0.0
        later = self.heat.time_s >= began_s
        return float(self.heat.time_s[later][self.heat.true_c[later].argmax()] - began_s)

    def fallen_c(self) -> float:
        """How far it fell all the same from the truth to the end, °C."""
        course = self.heat.true_c[self.heat.time_s >= (self.heat.truth.began_s or 0.0)]
        return float(course[0] - course[-1])


def told(heat: SimulatedHeat) -> Told:
    """Run one heat through the watch."""
    monitor = Monitor(heat.schedule)
    raised = []
    wanted = {*ALARMS, *TELLS.get(heat.row, ())}
    for time_s, temp_c in zip(heat.time_s, heat.temp_c, strict=True):
        for event in monitor.feed(Reading(float(time_s), temp_c=float(temp_c))):
            if event.alarm in wanted and event.state is AlarmState.UNACKNOWLEDGED:
                raised.append((event.time_s, event.alarm))
    return Told(heat, tuple(raised))


def main() -> int:
    """Print the table; fails where a heat that fails in no way hears that it does."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--n", type=int, default=20, help="heats a row and simulator")
    wanted = parser.parse_args()
    false = 0
    for simulator in SIMULATORS:
        for row in ROWS:
            heats = [told(simulated_heat(simulator, row, seed, Stream.REPORTING)) for seed in range(wanted.n)]
            line = [f"{simulator:9} {row.value:28}"]
            for alarm in ALARMS:
                counts = [sum(name == alarm for _, name in heat.raised) for heat in heats]
                line.append(f"{alarm} {sum(map(bool, counts)):2} of {wanted.n}, {sum(counts):2} in all")
                false += 0 if row in TELLS else sum(counts)
            print(" · ".join(line))
            if row in TELLS:
                print(f"{'':9} {'':28}   {_delays(row, heats)}", flush=True)
    return 1 if false else 0


def _delays(row: Row, heats: Sequence[Told]) -> str:
    late = [after_s for heat in heats if (after_s := heat.after_s(row)) is not None]
    silent = [heat for heat in heats if heat.after_s(row) is None]
    words = f"told {len(late)} of {len(heats)} by {', '.join(TELLS[row])}"
    if late:
        soon = sum(after_s <= WANTED_S[row] for after_s in late)
        words += (
            f"; after {np.median(late):.0f} s, 95 % {np.percentile(late, 95):.0f}, "
            f"{soon} within {WANTED_S[row] / 60.0:.0f} min"
        )
    if row is Row.OVEN_OFF:
        seen = [after_s - heat.turned_after_s() for heat in heats if (after_s := heat.after_s(row)) is not None]
        within = sum(each <= WANTED_S[row] for each in seen)
        words += f"; {within} within that of the moment the probe itself began to fall (median {np.median(seen):.0f} s)"
    if silent:
        fallen = ", ".join(f"{heat.fallen_c():.0f} °C" for heat in silent)
        words += f"; {len(silent)} not told, which fell by {fallen} all the same"
    return words


if __name__ == "__main__":
    sys.exit(main())
