"""What a person hears about minute 200 of ten sound heats: every word of it, and where the heat stands meanwhile.

    python tests/benchmarks/minute_200.py [--minute 200] [--around 20] [--heats 10]

The heats are simulated ones of both furnaces that last so long and in which nothing happens; reporting seeds alone.
"""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import Row, SimulatedHeat
from benchmarks.transfer_bench import inputs
from rampwarden.core.monitor import Monitor
from rampwarden.outputs.status_line import event_sentence, status_sentence


def sound_heats(minute: float, count: int) -> Iterator[SimulatedHeat]:
    """Give sound heats that go on beyond this minute, of both simulators in turn."""
    given = seed = 0
    while given < count and seed < 40 * count:
        heat = simulated_heat(SIMULATORS[seed % 2], Row.SOUND, seed // 2, Stream.REPORTING)
        seed += 1
        if heat.time_s[-1] > 60.0 * (minute + 5.0):
            given += 1
            yield heat


def heard_around(heat: SimulatedHeat, minute: float, around: float) -> list[str]:
    """Give what is said from `around` minutes before to as long after, each line with its time."""
    monitor, lines = Monitor(heat.schedule), []
    from_s, to_s = 60.0 * (minute - around), 60.0 * (minute + around)
    shown_s = [60.0 * (minute + offset) for offset in (-around / 2.0, 0.0, around / 2.0)]
    for item in inputs(heat):
        if item.time_s > to_s:
            break
        lines += [
            f"{_clock(event.time_s)}  {event_sentence(event)}" for event in monitor.feed(item) if event.time_s >= from_s
        ]
        while shown_s and item.time_s >= shown_s[0]:
            lines.append(f"{_clock(shown_s.pop(0))}  ({status_sentence(monitor.status())})")
    return lines


def _clock(time_s: float) -> str:
    return f"{int(time_s // 3600)}:{int(time_s % 3600 // 60):02d}:{int(time_s % 60):02d}"


def main() -> int:
    """Print what is heard."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minute", type=float, default=200.0)
    parser.add_argument("--around", type=float, default=20.0, help="minutes before and after")
    parser.add_argument("--heats", type=int, default=10)
    wanted = parser.parse_args()
    for number, heat in enumerate(sound_heats(wanted.minute, wanted.heats), 1):
        pace = heat.drawn["pace_c_per_min"]
        about = f"noise {heat.noise}, {pace:.0f} °C/min, a reading each {heat.drawn['interval_s']:g} s"
        print(f"\n{number}. {heat.simulator}, seed {heat.seed}: {about}")
        for line in heard_around(heat, wanted.minute, wanted.around) or ["(nothing)"]:
            print(f"   {line}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
