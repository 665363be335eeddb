"""The demo: a sculpture school's bronze workshop takes a new clay-graphite pot through its first heat.

The same service as in the workshop, against a model furnace behind a real pseudo-terminal, 600 times as fast. During
the drying somebody opens the gas too far; the watch says so.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

BIN = Path(sys.executable).parent
SCHEDULE = "config/schedules/bronze-first-heat.toml"


def main() -> int:
    """Rehearse one heat, then replay its record; both must tell the same."""
    # Kept until the system clears its temporary files: the rehearsal ends by saying how to look at its record again.
    record = str(Path(tempfile.mkdtemp(prefix="rampwarden-")) / "first-heat.jsonl")
    print("A first heat in the bronze workshop (a model furnace; 10 minutes pass in a second)\n", flush=True)
    rampwarden = str(BIN / "rampwarden")
    options = ["--speed", "600", "--fault", "fast-ramp", "--record", record]
    # Whoever pipes a demonstration into a file wants to read it.
    plain = [] if sys.stdout.isatty() else ["--plain"]
    rehearsed = subprocess.run([rampwarden, "rehearse", SCHEDULE, *options, *plain], check=False)
    print("\nThe same heat from its record, as fast as it can be read:\n", flush=True)
    replayed = subprocess.run([rampwarden, "replay", record], check=False)
    # Both end with 1: alarms were raised, as they should have been.
    return 0 if rehearsed.returncode == replayed.returncode == 1 else 1


if __name__ == "__main__":
    sys.exit(main())
