"""The fault matrix: each fault in a heat of its own, into the real service. Run by `make faults`.

Prints one line a fault as it ends and the table's sum; exits 1 when anything was lost. Words given on the command line
choose the cases whose name holds one of them. Several heats are watched at once, since each mostly waits.
"""

import argparse
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.faults.cut_records import LAST_BYTES, find_fault, write_heat
from tests.faults.fault_list import Case, Verdict, everything_alone, everything_at_once, run_case

from small_disk import may_mount


def attempt(case: Case, folder: Path) -> Verdict:
    """Run one case; a fault that could not even be arranged is a finding too."""
    try:
        return run_case(case, folder)
    except Exception as error:
        return Verdict(case.name, [f"{type(error).__name__}: {error}"], 0, 0, 0, 0, 0, 0.0)


def cut_everywhere(folder: Path) -> Verdict:
    """Cut a record off at each byte of its last 4 KiB, take it up and go on, in this process."""
    began_s = time.monotonic()
    whole = write_heat(folder / "heat.jsonl")
    found = {cut: find_fault(folder / "cut.jsonl", whole, cut) for cut in range(1, LAST_BYTES + 1)}
    faults = [f"{cut} bytes cut: {fault}" for cut, fault in found.items() if fault]
    took_s = time.monotonic() - began_s
    return Verdict("record cut at each of its last 4096 bytes", faults[:3], len(found), len(found), 0, 0, 0, took_s)


def main() -> int:
    """Run the matrix and print the table."""
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("words", nargs="*")
    wanted.add_argument("--at-once", type=int, default=4, help="heats watched at the same time")
    wanted.add_argument("--short", action="store_true", help="the cases of the tests")
    options = wanted.parse_args()
    cases = [
        case
        for case in (everything_at_once() if options.short else everything_alone())
        if not options.words or any(word in case.name for word in options.words)
    ]
    skipped = [case.name for case in cases if case.needs_root and not may_mount()]
    cases = [case for case in cases if case.name not in skipped]
    verdicts: list[Verdict] = []
    print(f"{'fault':<44}{'sent':>6}{'kept':>6}{'lost':>5}{'events':>7}{'again':>6}{'s':>5}  verdict", flush=True)
    with tempfile.TemporaryDirectory(prefix="rw") as folder, ThreadPoolExecutor(options.at_once) as workers:
        running = [workers.submit(attempt, case, Path(folder) / str(n)) for n, case in enumerate(cases)]
        for done in as_completed(running):
            verdict = done.result()
            verdicts.append(verdict)
            counts = f"{verdict.sent:>6}{verdict.recorded:>6}{verdict.lost:>5}{verdict.events:>7}{verdict.repeated:>6}"
            state = "survived" if not verdict.found else "; ".join(verdict.found)
            print(f"{verdict.name:<44}{counts}{verdict.took_s:>5.0f}  {state}", flush=True)
    survived = sum(not verdict.found for verdict in verdicts)
    lost = sum(verdict.lost for verdict in verdicts)
    print(f"\nfaults tried {len(verdicts)}, survived {survived}, readings lost {lost}; not tried: {skipped or 'none'}")
    return 0 if survived == len(verdicts) else 1


if __name__ == "__main__":
    sys.exit(main())
