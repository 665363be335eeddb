"""What the display costs: a watch at its own pace with and without it, at three sizes, as a share of one core.

A rehearsal at speed 1 stands in for the furnace; its model's own cost is in both figures, so the difference is the
display's. Also how much is sent to the terminal, which counts on a serial line.

    python tests/benchmarks/display_load.py [SECONDS]
"""

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path

PROGRAM = "import fcntl, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); from rampwarden.cli import run; run()"
SCHEDULE = """title = "To look at"
[[segment]]
name = "up"
kind = "ramp"
to = "900 C"
max_rate = "25 C / 15 min"
[[segment]]
name = "hold"
kind = "soak"
at = "900 C"
hold = "30 min"
"""
_WARM_UP_S = 5.0
_TICKS = os.sysconf("SC_CLK_TCK")


def measure(folder: Path, size: tuple[int, int], seconds: float, *options: str) -> tuple[float, float]:
    """Give the share of one core, and the bytes a second that came to the terminal."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
    record = folder / f"{time.monotonic_ns()}.jsonl"
    command = ["rehearse", str(folder / "s.toml"), "--speed", "1", "--record", str(record), *options]
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, *command],
        stdin=slave,
        stdout=slave,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "TERM": "xterm-256color", "RUNTIME_DIRECTORY": str(folder)},
        start_new_session=True,
    )
    try:
        _read(master, _WARM_UP_S)
        before_s, began_s = _processor_s(process.pid), time.monotonic()
        count = _read(master, seconds)
        gone_s = time.monotonic() - began_s
        return (_processor_s(process.pid) - before_s) / gone_s, count / gone_s
    finally:
        process.terminate()
        _read(master, 1.0)
        process.wait()
        os.close(master)
        os.close(slave)


def _read(master: int, seconds: float) -> int:
    count, until_s = 0, time.monotonic() + seconds
    while (left_s := until_s - time.monotonic()) > 0:
        if select.select([master], [], [], left_s)[0]:
            count += len(os.read(master, 65_536))
    return count


def _processor_s(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS


def main() -> None:
    """Measure and print."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 30.0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "s.toml").write_text(SCHEDULE)
        plain, _ = measure(folder, (100, 30), seconds, "--plain")
        print(f"{'plain lines':>14}  {plain:6.2%} of one core")
        for size in ((60, 20), (100, 30), (200, 60)):
            share, pace = measure(folder, size, seconds)
            print(f"{f'{size[0]} × {size[1]}':>14}  {share:6.2%}, the display {share - plain:.2%}; {pace:.0f} bytes/s")


if __name__ == "__main__":
    main()
