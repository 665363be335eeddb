"""Do the tests notice when a guard is broken? Guards drawn by seed, broken one at a time in a copy of the checkout.

All comparisons, bounds, raises and syncs of the package are in the draw (`mutant_guards.py`). For each one drawn, the
tests that mirror its module run first, then those that were seen to run its line, fastest first, until one fails
(`mutant_tests.py`). A failure counts only if the same test fails again, so that a test upset by a busy machine does
not speak for a guard; a test that hangs counts. What is never noticed is either no guard, and somebody can say why, or
wants a test.

    python tests/benchmarks/mutants.py [--seed 1] [--count 60] [--jobs 1] [--only core/alarms] [--list]
    python tests/benchmarks/mutants.py --collect        once, and again after the package has changed much: ten minutes

Without what `--collect` finds out, and for modules it has not seen, only tests that mirror or import a module run. The
exit status is 0 if at least eleven in twelve were noticed.
"""

import argparse
import json
import queue
import random
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.mutant_copy import ROOT, Copy
from benchmarks.mutant_guards import Guard, guards_of
from benchmarks.mutant_tests import KEPT, SOURCES, UNKNOWN_S, Selection, collect

# Of sixty, five may be no guards at all.
ENOUGH = 55 / 60
# What a run may take beyond what its tests took before, for starting and for a busy machine.
SLACK_S = 60.0
SLOWER = 5.0


@dataclass(frozen=True)
class Outcome:
    """What became of a broken guard; `test` is who noticed."""

    guard: Guard
    noticed: bool
    test: str
    seconds: float
    left_out: int

    def told(self) -> str:
        """Say it in two lines."""
        guard, how = self.guard, f"by {self.test}" if self.noticed else _left_out(self.left_out)
        before, after = _one_line(guard.text), _one_line(guard.broken)
        verdict = "noticed " if self.noticed else "SURVIVED"
        return f"{verdict} {guard.path}:{guard.line}  {before}  →  {after}\n         {how} ({self.seconds:.0f} s)"


def _left_out(count: int) -> str:
    return f"by no test; {count} slower ones were left out" if count else "by no test"


def _one_line(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= 90 else f"{flat[:89]}…"


def all_guards(only: str) -> list[Guard]:
    """Give the guards of every module whose path contains `only`."""
    found: list[Guard] = []
    for path in sorted(SOURCES.rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        if only in name:
            found += guards_of(name, path.read_text(encoding="utf-8"))
    return found


class Bench:
    """Breaks guards in copies and runs tests on them."""

    def __init__(self, selection: Selection, jobs: int, limit_s: float) -> None:
        self._selection = selection
        self._limit_s = limit_s
        self._copies: queue.SimpleQueue[Copy] = queue.SimpleQueue()
        self._all = [Copy() for _ in range(jobs)]
        for copy in self._all:
            self._copies.put(copy)

    def close(self) -> None:
        """Remove the copies."""
        for copy in self._all:
            copy.close()

    def judge(self, guard: Guard) -> Outcome:
        """Break one guard and see who notices."""
        began_s = time.monotonic()
        chosen = self._selection.choose(guard.path, range(guard.line, guard.end_line + 1), self._limit_s)
        copy = self._copies.get()
        try:
            with _broken(copy, guard):
                test = self._first_to_notice(copy, chosen.closest) or self._first_to_notice(copy, chosen.others)
        finally:
            self._copies.put(copy)
        return Outcome(guard, bool(test), test, time.monotonic() - began_s, chosen.left_out)

    def _first_to_notice(self, copy: Copy, tests: Sequence[str]) -> str:
        """Run tests until one fails for sure; gives its name, or nothing."""
        excused: set[str] = set(self._selection.unsound)
        while tests:
            failed = self._run(copy, tests, excused, "-x")
            if not failed:
                return ""
            is_test = failed.startswith(("tests/", "daemon/")) and "::" in failed
            if not is_test or self._run(copy, [failed], set(), "-x"):
                return failed
            excused.add(failed)
        return ""

    def _run(self, copy: Copy, tests: Sequence[str], excused: set[str], *options: str) -> str:
        """Run tests in order; gives the first that failed, or that hung, or nothing."""
        with tempfile.TemporaryDirectory(prefix="mutants-run-") as name:
            folder = Path(name)
            (folder / "order").write_text("\n".join(tests) + "\n", encoding="utf-8")
            skipped = [option for each in sorted(excused) for option in ("--deselect", each)]
            expected_s = sum(self._expected_s(test) for test in tests)
            report = folder / "report.jsonl"
            ended = copy.pytest(
                [*options, "-p", "no:randomly", *skipped, f"@{folder / 'order'}"],
                {"MUTANTS_ORDER": str(folder / "order"), "MUTANTS_REPORT": str(report)},
                SLACK_S + SLOWER * expected_s,
            )
            lines = report.read_text(encoding="utf-8").splitlines() if report.exists() else []
            reports = [json.loads(line) for line in lines]
        failed = [each["test"] for each in reports if not each["passed"]]
        if failed:
            return str(failed[0])
        if ended.status is None:
            return f"a run that hung after {reports[-1]['test'] if reports else 'its start'}"
        if ended.status in (0, 5):
            return ""
        if "not found: " in ended.said and any("::" in test for test in tests):
            # A test was renamed since it was seen to run; its file is still there.
            return self._run(copy, list(dict.fromkeys(test.split("::")[0] for test in tests)), excused, *options)
        last = next((line for line in reversed(ended.said.splitlines()) if line.strip()), "")
        return f"pytest could not even run: {last}"

    def _expected_s(self, test: str) -> float:
        seconds = self._selection.seconds
        if "::" in test:
            return seconds.get(test, UNKNOWN_S)
        known = [each for name, each in seconds.items() if name.startswith(f"{test}::")]
        return sum(known) if known else 4 * UNKNOWN_S


@contextmanager
def _broken(copy: Copy, guard: Guard) -> Iterator[None]:
    source = (copy.root / guard.path).read_text(encoding="utf-8")
    copy.write(guard.path, guard.break_in(source))
    try:
        yield
    finally:
        copy.write(guard.path, source)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=60, help="how many guards to draw")
    parser.add_argument("--jobs", type=int, default=1, help="how many to break side by side")
    parser.add_argument("--only", default="", metavar="MODULE", help="draw from modules whose path contains this")
    parser.add_argument("--list", action="store_true", help="show what would be broken, and run nothing")
    parser.add_argument("--collect", action="store_true", help="find out which tests run which line")
    parser.add_argument("--limit", type=float, default=120.0, metavar="S", help="tests beyond the closest, s a guard")
    return parser.parse_args()


def main() -> int:
    """Draw, break, run, print."""
    asked = _arguments()
    if asked.collect:
        print("finding out which tests run which line: ten minutes", flush=True)
        print(f"{collect(2)} tests", flush=True)
        return 0
    guards = all_guards(asked.only)
    drawn = random.Random(asked.seed).sample(guards, min(asked.count, len(guards)))
    if asked.list:
        for guard in drawn:
            print(f"{guard.path}:{guard.line}  {_one_line(guard.text)}  →  {_one_line(guard.broken)}")
        return 0
    if not (KEPT / "lines.json").exists():
        print("which tests run which line is not known yet (--collect): only what mirrors or imports a module runs")
    began_s = time.monotonic()
    outcomes = _judge_all(drawn, asked.jobs, asked.limit)
    minutes = (time.monotonic() - began_s) / 60.0
    noticed = sum(outcome.noticed for outcome in outcomes)
    of = f"{len(drawn)} guards drawn from {len(guards)}"
    print(f"\nseed {asked.seed}: {noticed} noticed of {of}, in {minutes:.0f} min")
    for kind, count in sorted(Counter(guard.kind for guard in drawn).items()):
        seen = sum(outcome.noticed for outcome in outcomes if outcome.guard.kind == kind)
        print(f"  {kind.value:<11} {seen} of {count}")
    return 0 if noticed >= ENOUGH * len(drawn) else 1


def _judge_all(drawn: Sequence[Guard], jobs: int, limit_s: float) -> list[Outcome]:
    bench, saying = Bench(Selection(), jobs, limit_s), threading.Lock()

    def judge(guard: Guard) -> Outcome:
        outcome = bench.judge(guard)
        with saying:
            print(outcome.told(), flush=True)
        return outcome

    try:
        with ThreadPoolExecutor(jobs) as pool:
            return list(pool.map(judge, drawn))
    finally:
        bench.close()


if __name__ == "__main__":
    sys.exit(main())
