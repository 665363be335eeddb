"""Processor time that a command takes above bare Python, s: what is felt at a prompt on a small computer.

Median of so many runs each. `--beside DAEMON` measures another checkout's daemon folder in turn with this one.
"""

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

OURS = Path(__file__).parents[2] / "daemon"
COMMANDS = (
    "--version",
    "--help",
    "acknowledge",
    "status",
    "note one-word",
    "convert 4096",
    "crucible list",
    "plan bronze-first-heat",
    "watch --help",
)


def processor_s(daemon: Path, compiled: Path, *arguments: str) -> float:
    """Give user and system time of one run, s; modules compiled once are kept in `compiled`, as an installation has it.

    Whatever a shell says of that: compiling our modules anew at each start costs more than all else.
    """
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, *arguments],
            check=False,
            capture_output=True,
            cwd=folder,
            env={
                **{name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
                "PYTHONPYCACHEPREFIX": str(compiled),
                "PYTHONPATH": str(daemon),
                "RUNTIME_DIRECTORY": folder,
            },
        )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print one row a command."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--beside", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as compiled:
        _print_rows(options, Path(compiled))


def _print_rows(options: argparse.Namespace, compiled: Path) -> None:
    daemons = [OURS, *([options.beside.resolve()] if options.beside else [])]
    bare_s = statistics.median(processor_s(OURS, compiled, "-c", "") for _ in range(options.runs))
    print(
        f"bare Python {bare_s:.3f} s; above it:\n{'':36}"
        + "".join(f"{name:>9}" for name in ("here", "beside")[: len(daemons)])
    )
    for command in COMMANDS:
        run = ("-c", "from rampwarden.cli import run; run()", *command.split())
        runs = [[processor_s(daemon, compiled, *run) for daemon in daemons] for _ in range(options.runs + 1)]
        # The first run writes compiled modules.
        medians = [statistics.median(column) - bare_s for column in zip(*runs[1:], strict=True)]
        print(f"{command:36}" + "".join(f"{took_s:9.3f}" for took_s in medians), flush=True)


if __name__ == "__main__":
    main()
