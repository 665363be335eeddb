"""How soon a watch that was killed watches again, with ten hours of record at four readings a second behind it.

Run by `make restart-speed`. The record is that of a real watch, killed, with its readings made ten hours longer. Prints
the seconds from the start of the process until its port is open and until the first reading is recorded.
"""

import os
import random
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.faults.fault_bench import Bench
from tests.faults.model_board import HEAT_S, temperature_c
from tests.outputs.mqtt.broker import wait_until

from rampwarden.core.model import Reading
from rampwarden.records.record_lines import encode_line

HOURS, PER_S = 10.0, 4.0


def lengthen(bench: Bench) -> int:
    """Append readings at a heat's temperatures to the killed watch's record; gives how many."""
    noise, count = random.Random(1), round(HOURS * 3600 * PER_S)
    first = sum(1 for _ in bench.record.open("rb"))
    with bench.record.open("ab") as file:
        for number in range(count):
            heat_s = number / PER_S
            temp_c = temperature_c(heat_s * HEAT_S / (HOURS * 3600), noise)
            emf_uv, junction_c = 41.0 * (temp_c - 25.0), 25.0
            file.write(encode_line(Reading(round(60.0 + heat_s, 3), round(emf_uv, 1), junction_c), first + number))
    return count


def await_taken_up(bench: Bench) -> None:
    """Wait until the record's tail says that the heat goes on."""

    def resumed() -> bool:
        with bench.record.open("rb") as file:
            file.seek(-4096, 2)
            return b'"watch-resumed"' in file.read()

    wait_until(resumed, "it is taken up", 120.0)


def used_s(bench: Bench) -> float:
    """Give the processor time of the watch so far, s: on a machine that does other things too, what counts."""
    assert bench.process is not None
    fields = Path(f"/proc/{bench.process.pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    """Measure three times."""
    for _ in range(3):
        with tempfile.TemporaryDirectory(prefix="rw") as folder:
            bench = Bench(Path(folder) / "heat", speed=1.0, interval_s=0.25)
            try:
                bench.begin()
                bench.pass_heat(2.0)
                bench.kill()
                count = lengthen(bench)
                size_mb = bench.record.stat().st_size / 1e6
                started_s = time.monotonic()
                bench.start_watch()
                await_taken_up(bench)
                resumed_s = time.monotonic() - started_s
                bench.await_reading()
                watching_s = time.monotonic() - started_s
                times = f"taken up in {resumed_s:.1f} s, watching in {watching_s:.1f} s, CPU {used_s(bench):.1f} s"
                print(f"{count} readings, {size_mb:.0f} MB: {times}", flush=True)
            finally:
                bench.close()


if __name__ == "__main__":
    main()
