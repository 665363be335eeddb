"""Replays by the thousand: 500 invented heats by another schedule on 1, 2, … processes, and what each adds.

Efficiency is the time of one process over that of n, divided by n. Only on an idle machine does it say anything.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.mass_replay.short_heats import LAXER, short_heat

from rampwarden.mass_replay import Otherwise, Task, run_in_processes


def main() -> None:
    """Print one row a number of processes."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--heats", type=int, default=500)
    parser.add_argument("--seconds", type=int, default=1800)
    options = parser.parse_args()
    cores = os.cpu_count() or 1
    with tempfile.TemporaryDirectory() as folder:
        paths = [short_heat(Path(folder), number, options.seconds) for number in range(options.heats)]
        tasks = [Task(path.name, path=str(path)) for path in paths]
        print(f"{options.heats} heats of {options.seconds} readings, {cores} cores, load {os.getloadavg()[0]:.1f}")
        print("processes    s   heats/s  efficiency", flush=True)
        tables, alone_s = [], 0.0
        for jobs in range(1, cores + 1):
            began_s = time.perf_counter()
            tables.append(run_in_processes(tasks, Otherwise(LAXER), jobs, lambda: None))
            took_s = time.perf_counter() - began_s
            alone_s = alone_s or took_s
            efficiency = alone_s / took_s / jobs
            print(f"{jobs:9} {took_s:6.1f} {len(tasks) / took_s:8.1f} {efficiency:10.0%}", flush=True)
        print("the same table each time" if all(table == tables[0] for table in tables) else "the tables differ")


if __name__ == "__main__":
    main()
