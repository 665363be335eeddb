"""What a live watch costs a small computer: processor time of its start, memory, and what an hour writes to its card.

A real watch on a pseudo-terminal at one reading a second, without broker and page. `--beside DAEMON` measures another
checkout's daemon folder in turn with this one.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path

HERE = Path(__file__).parents[2]
_TICKS = os.sysconf("SC_CLK_TCK")


def measured(seconds: float) -> dict[str, float]:
    """Run one watch and give its figures: s, MB, and bytes an hour."""
    # Only the child imports it, with the daemon folder it is to measure.
    from tests.sources.pty_board import frame_line

    from running_watch import running_watch

    with running_watch(plugged_in=False) as watch:
        watch.board.plug_in()
        process = Path("/proc") / str(watch.process.pid)
        seqs = _a_second_each()
        for seq in seqs:
            watch.board.send(frame_line(seq, 1000 * seq))
            # The first may come before the port is open.
            if watch.recorded("reading"):
                break
        start_s, written, began_s = _processor_s(process), _written(process), time.monotonic()
        for seq in seqs:
            watch.board.send(frame_line(seq, 1000 * seq))
            if time.monotonic() - began_s > seconds:
                break
        hours = (time.monotonic() - began_s) / 3600.0
        return {
            "start_s": start_s,
            "core": (_processor_s(process) - start_s) / (3600.0 * hours),
            "resident_mb": _field(process / "status", "VmRSS:") / 1024.0,
            "own_mb": _field(process / "smaps_rollup", "Private_Dirty:") / 1024.0,
            "written": (_written(process) - written) / hours,
            "record": watch.record.stat().st_size / hours,
        }


def _a_second_each() -> Iterator[int]:
    began_s = time.monotonic()
    for seq in count():
        time.sleep(max(0.0, began_s + seq - time.monotonic()))
        yield seq


def _processor_s(process: Path) -> float:
    fields = (process / "stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS


def _written(process: Path) -> int:
    """Give what has gone to the disk, as the kernel counts it by pages; a memory file system counts nothing."""
    return int(_field(process / "io", "write_bytes:"))


def _field(file: Path, name: str) -> float:
    line = next(line for line in file.read_text().splitlines() if line.startswith(name))
    return float(line.split()[1])


def _of_child(daemon: Path, seconds: float, compiled: str) -> dict[str, float]:
    """Measure one watch in a process of its own, which imports that daemon folder."""
    inherited = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(
        [sys.executable, __file__, "--child", "--seconds", str(seconds)],
        check=True,
        capture_output=True,
        text=True,
        env={
            **inherited,
            "PYTHONPATH": os.pathsep.join(map(str, (daemon, HERE / "tests", HERE))),
            "PYTHONPYCACHEPREFIX": compiled,
        },
    )
    figures: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return figures


def main() -> None:
    """Print one row a figure."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--beside", type=Path)
    parser.add_argument("--child", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        print(json.dumps(measured(options.seconds)))
        return
    daemons = [HERE / "daemon", *([options.beside.resolve()] if options.beside else [])]
    with tempfile.TemporaryDirectory() as compiled:
        # The first run of each writes compiled modules, as an installation has them whatever the shell says.
        runs = [
            [_of_child(daemon, 1.0 if number == 0 else options.seconds, compiled) for daemon in daemons]
            for number in range(options.runs + 1)
        ][1:]
    print(f"{'':52}" + "".join(f"{name:>9}" for name in ("here", "beside")[: len(daemons)]))
    for key, words, factor in (
        ("start_s", "processor time until the first reading, s", 1.0),
        ("core", "of a core afterwards, %", 100.0),
        ("resident_mb", "memory, resident, MB", 1.0),
        ("own_mb", "of it written by the watch itself, MB", 1.0),
        ("record", "record, MB an hour", 1e-6),
        ("written", "written to the disk by pages, MB an hour", 1e-6),
    ):
        medians = [statistics.median(run[key] for run in found) * factor for found in zip(*runs, strict=True)]
        print(f"{words:52}" + "".join(f"{value:9.2f}" for value in medians))


if __name__ == "__main__":
    main()
