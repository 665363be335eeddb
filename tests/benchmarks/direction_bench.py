"""What not-heating and not-cooling say of furnaces they were not made on: sound heats beside failing ones.

    python tests/benchmarks/direction_bench.py [--n 20]

Prints for each row how many heats heard them, how often, and how late after the truth; reporting seeds alone.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import Row, SimulatedHeat
from rampwarden.core.model import AlarmState, Reading
from rampwarden.core.monitor import Monitor

ALARMS = ("not-heating", "not-cooling")
ROWS = (Row.SOUND, Row.ARRIVAL, Row.LID_120_CLIMB, Row.CHARGE, Row.OVEN_CYCLING, Row.OVEN_OFF, Row.LEFT_ON)


def heard(heat: SimulatedHeat) -> list[tuple[float, str]]:
    """Run one heat through the watch; gives when which of the alarms was raised."""
    monitor = Monitor(heat.schedule)
    told = []
    for time_s, temp_c in zip(heat.time_s, heat.temp_c, strict=True):
        for event in monitor.feed(Reading(float(time_s), temp_c=float(temp_c))):
            if event.alarm in ALARMS and event.state is AlarmState.UNACKNOWLEDGED:
                told.append((event.time_s, event.alarm))
    return told


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--n", type=int, default=20, help="heats a row and simulator")
    wanted = parser.parse_args()
    for simulator in SIMULATORS:
        for row in ROWS:
            heats = [simulated_heat(simulator, row, seed, Stream.REPORTING) for seed in range(wanted.n)]
            told = [(heat, heard(heat)) for heat in heats]
            line = [f"{simulator:9} {row.value:28}"]
            for alarm in ALARMS:
                times = [[at for at, name in said if name == alarm] for _, said in told]
                line.append(f"{alarm} {sum(map(bool, times)):2} of {wanted.n}, {sum(map(len, times)):2} in all")
            late = [said[0][0] - heat.truth.began_s for heat, said in told if said and heat.truth.began_s is not None]
            if row in (Row.OVEN_OFF, Row.LEFT_ON) and late:
                line.append(f"first after {np.median(late):.0f} s, 95 % {np.percentile(late, 95):.0f}")
            print(" · ".join(line), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
