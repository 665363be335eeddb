"""Millions of hostile bytes through framing, records and commands. Run by `make fuzz`; prints tallies and memory.

Ends with an exception where something broke that must not.
"""

import resource
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.board.building import compiler, fuzzed
from tests.faults.fuzzing import fuzz_commands, fuzz_framing, fuzz_records

BYTES = 10_000_000
LINES = 1_000_000


def show(name: str, work: Callable[[], Counter[str]]) -> None:
    """Do the work and print what came of it."""
    started_s = time.monotonic()
    tally = work()
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    counts = ", ".join(f"{count} {what}" for what, count in tally.items())
    print(f"{name}: {counts}; {time.monotonic() - started_s:.0f} s, at most {memory_mb:.0f} MB", flush=True)


def main() -> None:
    """Run everything."""
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    with tempfile.TemporaryDirectory() as folder:
        show("framing", lambda: fuzz_framing(BYTES, seed))
        if compiler() is not None:
            show("C reference", lambda: Counter({f"bytes ({fuzzed(Path(folder), BYTES, seed)})": BYTES}))
        show("commands", lambda: fuzz_commands(LINES, seed))
        show("records", lambda: fuzz_records(LINES, seed, Path(folder)))


if __name__ == "__main__":
    main()
