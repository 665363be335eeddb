"""Seventy-two hours of a heat at an accelerated clock: memory, files and threads of the watch. Run by `make long-heat`.

Takes about four minutes; prints a sample every four hours and the slope of memory after the first twelve.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.faults.long_heat import growth_kb_per_h, watch_for


def main() -> None:
    """Watch and print."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 72.0
    samples = []
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        for sample in watch_for(hours, 1.0, Path(folder) / "heat"):
            samples.append(sample)
            if sample.hour % 4 == 0:
                memory = f"{sample.resident_kb / 1024:6.1f} MB"
                print(f"{sample.hour:5.0f} h  {memory}  {sample.files} files  {sample.threads} threads", flush=True)
    slope, error = growth_kb_per_h([sample for sample in samples if sample.hour > hours / 6])
    most_mb = max(sample.resident_kb for sample in samples) / 1024
    print(f"memory grows {slope:.1f} ± {error:.1f} kB an hour; at most {most_mb:.1f} MB")


if __name__ == "__main__":
    main()
