"""Which tests matter to a line: those that mirror its module, and those that were seen to run it.

`collect` runs every test once with coverage and keeps in `.mutants/` which test ran which line (child processes too),
how long each takes, and the sources as they were; it takes ten minutes. Lines that have moved since are found again by
comparing the texts. A module that has no counterpart there, since it was renamed, is left to the tests that mirror it
or import it.
"""

import ast
import difflib
import json
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import coverage
from coverage.exceptions import NoDataError

from benchmarks.mutant_copy import ROOT, Copy

KEPT = ROOT / ".mutants"
PACKAGE = "rampwarden"
SOURCES = ROOT / "daemon" / PACKAGE
# What a test takes that was never seen to end.
UNKNOWN_S = 5.0
# Under coverage on a busy machine; a third of that otherwise.
TOO_SLOW_S = 25.0
# The share of a module's lines that a former module must have to be the same in another place.
ALIKE = 0.4


@dataclass(frozen=True)
class Chosen:
    """What to run for a mutant: test files and tests, closest first, and how long they are expected to take."""

    closest: tuple[str, ...]
    others: tuple[str, ...]
    left_out: int


@dataclass
class Ran:
    """Which tests ran each line of one module, as it was when they were collected."""

    text: str
    tests: dict[int, set[str]] = field(default_factory=dict)


def collect(workers: int, only: Sequence[str] = ()) -> int:
    """Run every test under coverage, or `only` some, and return how many there were.

    Raises `coverage.exceptions.NoDataError` when nothing was found out; what was known before stays.
    """
    new = KEPT / "new"
    shutil.rmtree(new, ignore_errors=True)
    new.mkdir(parents=True)
    copy = Copy()
    try:
        environment = {"MUTANTS_COVERAGE": str(new), "MUTANTS_REPORT": str(new / "report.jsonl")}
        # Under coverage a test takes three times as long.
        slowly = ["-n", str(workers), "--dist", "worksteal", "--timeout", "600"]
        ended = copy.pytest([*slowly, *_too_slow(), *only], environment, limit_s=7200.0)
        print(ended.said[-1500:])
        # All parts are named after the whole.
        together = coverage.Coverage(data_file=str(new / "coverage"), config_file=False)
        together.combine([str(new)], keep=True, strict=True)
        together.save()
        _write_lines(new, copy.root)
    finally:
        copy.close()
    tests = len((new / "report.jsonl").read_text(encoding="utf-8").splitlines())
    for name in ("lines.json", "report.jsonl"):
        (new / name).replace(KEPT / name)
    shutil.rmtree(new)
    return tests


def _too_slow() -> list[str]:
    """Leave out what took very long the last time: it would be the last to be run for a mutant, if at all."""
    report = KEPT / "report.jsonl"
    lines = report.read_text(encoding="utf-8").splitlines() if report.exists() else []
    tests = [ran["test"] for ran in map(json.loads, lines) if ran["seconds"] > TOO_SLOW_S]
    return [option for test in tests for option in ("--deselect", test)]


def _write_lines(folder: Path, root: Path) -> None:
    data = coverage.CoverageData(basename=str(folder / "coverage"))
    data.read()
    modules = {}
    for file in sorted(data.measured_files()):
        path = Path(file)
        if not path.is_relative_to(root) or not path.exists():
            continue
        tests: dict[str, int] = {}
        lines = {
            line: sorted(tests.setdefault(test, len(tests)) for test in contexts if test)
            for line, contexts in data.contexts_by_lineno(file).items()
        }
        modules[path.relative_to(root).as_posix()] = {
            "text": path.read_text(encoding="utf-8"),
            "tests": list(tests),
            "lines": {str(line): ran for line, ran in lines.items() if ran},
        }
    if not modules:
        raise NoDataError(f"no module below {root} was run")
    (folder / "lines.json").write_text(json.dumps(modules), encoding="utf-8")


class Selection:
    """Chooses tests by what was collected; reads the checkout's tests once."""

    def __init__(self) -> None:
        self._ran: dict[str, Ran] = {}
        self.seconds: dict[str, float] = {}
        self._unsound: set[str] = set()
        if (KEPT / "lines.json").exists():
            self._read()
        tests = ROOT / "tests"
        self._texts = {
            path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8")
            for path in sorted(tests.rglob("test_*.py"))
            if "benchmarks" not in path.parts
        }

    @property
    def unsound(self) -> frozenset[str]:
        """Tests that failed while the package was whole: their failing says nothing."""
        return frozenset(self._unsound)

    def _read(self) -> None:
        modules = json.loads((KEPT / "lines.json").read_text(encoding="utf-8"))
        for path, module in modules.items():
            ran = Ran(module["text"])
            for line, indexes in module["lines"].items():
                ran.tests[int(line)] = {module["tests"][index] for index in indexes}
            self._ran[path] = ran
        for text in (KEPT / "report.jsonl").read_text(encoding="utf-8").splitlines():
            report = json.loads(text)
            self.seconds[report["test"]] = report["seconds"]
            if not report["passed"]:
                self._unsound.add(report["test"])

    def choose(self, path: str, lines: range, limit_s: float) -> Chosen:
        """Choose tests for lines of a module: the closest, then others, the fastest first, for about `limit_s` s.

        The closest are the whole files that mirror the module, new tests included. A test that ran the line while it
        was being set up shares what it set up with the other tests of its file, so these matter too.
        """
        mirrors = self.mirrors(path)
        ran = {self._now(test) for test in self._tests_of(path, lines)}
        files = set(mirrors)
        others: set[str] = set()
        for test in ran:
            name, phase = test.rsplit("|", 1)
            file = name.split("::")[0]
            if file in files:
                continue
            if phase == "call":
                others.add(name)
            else:
                others |= {each for each in map(self._now, self.seconds) if each.startswith(f"{file}::")}
        if not ran:
            # A package is imported by its face, which hides whose test it is: its whole folder may know the module.
            known = [file for file in (*self.importers(path), *self.neighbours(path)) if file not in files]
            return Chosen(tuple(mirrors), tuple(dict.fromkeys(known)), 0)
        others = {each for each in others if each not in self._unsound and self._is_there(each)}
        chosen: list[str] = []
        spent_s = 0.0
        for test in sorted(others, key=lambda each: (self.seconds.get(each, UNKNOWN_S), each)):
            spent_s += self.seconds.get(test, UNKNOWN_S)
            if spent_s > limit_s:
                break
            chosen.append(test)
        return Chosen(tuple(mirrors), tuple(chosen), len(others) - len(chosen))

    def mirrors(self, path: str) -> list[str]:
        """Give the test files named after a module, best match of folders first, its own doctests last."""
        parts = Path(path).with_suffix("").parts[2:]
        # A package's face is mirrored by the tests of its folder's name.
        name = parts[-1] if parts[-1] != "__init__" else parts[-2] if len(parts) > 1 else PACKAGE
        found: list[tuple[int, bool, int, str]] = []
        for file in self._texts:
            stem = Path(file).stem.removeprefix("test_")
            folders = Path(file).parts[1:-1]
            if not _is_named_after(stem, name):
                continue
            shared = sum(1 for one, other in zip(folders, parts[:-1], strict=False) if one == other)
            if shared == 0 and folders and stem != name:
                continue
            found.append((-shared, stem != name, len(stem), file))
        own = [path] if ">>> " in (ROOT / path).read_text(encoding="utf-8") else []
        return [*(file for *_, file in sorted(found)[:4]), *own]

    def neighbours(self, path: str) -> list[str]:
        """Give the test files of the folder that mirrors a module's, for one that nothing is named after."""
        folder = ("tests", *Path(path).parts[2:-1])
        return [file for file in self._texts if Path(file).parts[:-1] == folder]

    def importers(self, path: str) -> list[str]:
        """Give the test files that import a module, or one of its public names from a package above it."""
        dotted = ".".join(Path(path).with_suffix("").parts[1:])
        source = ast.parse((ROOT / path).read_text(encoding="utf-8"))
        public = {each.name for each in source.body if isinstance(each, ast.ClassDef | ast.FunctionDef)}
        return [
            file
            for file, text in self._texts.items()
            if any(
                dotted in {module, f"{module}.{name}"} or (dotted.startswith(f"{module}.") and name in public)
                for module, name in _imports(text)
            )
        ]

    def _is_there(self, test: str) -> bool:
        """Whether a test is still in its file: one that was renamed since would end the run."""
        file, *names = test.split("::")
        if not file.startswith("tests/"):
            return (ROOT / file).exists()
        text = self._texts.get(file)
        return text is not None and all(f" {name.split('[')[0]}" in text for name in names)

    def _now(self, test: str) -> str:
        """Give a test's name now: its file may have moved since, and is known by its own name if no other has it."""
        file, colons, name = test.partition("::")
        if file in self._texts or not file.startswith("tests/"):
            return test
        moved = [each for each in self._texts if Path(each).name == Path(file).name]
        return f"{moved[0]}{colons}{name}" if len(moved) == 1 else test

    def _ran_as(self, path: str) -> Ran | None:
        """Give what was collected of a module, or of the one it was before it moved: the most alike of those gone."""
        if path in self._ran:
            return self._ran[path]
        lines = _telling_lines((ROOT / path).read_text(encoding="utf-8"))
        gone = [ran for old, ran in self._ran.items() if not (ROOT / old).exists()]
        alike = [(len(lines & _telling_lines(ran.text)) / max(1, len(lines)), ran) for ran in gone]
        share, ran = max(alike, key=lambda each: each[0], default=(0.0, None))
        return ran if share > ALIKE else None

    def _tests_of(self, path: str, lines: range) -> set[str]:
        ran = self._ran_as(path)
        if ran is None:
            return set()
        before = _places_before(ran.text, (ROOT / path).read_text(encoding="utf-8"))
        tests: set[str] = set()
        for line in lines:
            tests |= ran.tests.get(before.get(line, -1), set())
        return tests


def _telling_lines(text: str) -> set[str]:
    """Give the lines that another module would hardly have."""
    return {line.strip() for line in text.splitlines() if len(line.strip()) > 24 and "import" not in line}


def _is_named_after(stem: str, name: str) -> bool:
    return stem == name or stem.startswith(f"{name}_") or (name.startswith(f"{stem}_") and len(stem) > 3)


@cache
def _imports(text: str) -> tuple[tuple[str, str], ...]:
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith(PACKAGE):
            found += [(node.module, alias.name) for alias in node.names]
        elif isinstance(node, ast.Import):
            found += [(alias.name, "") for alias in node.names if alias.name.startswith(PACKAGE)]
    return tuple(found)


@cache
def _places_before(before: str, now: str) -> dict[int, int]:
    """For each line of a text now, from 1, the line it was before."""
    if before == now:
        return {line: line for line in range(1, len(now.splitlines()) + 1)}
    matcher = difflib.SequenceMatcher(None, before.splitlines(), now.splitlines(), autojunk=False)
    return {
        block.b + offset + 1: block.a + offset + 1
        for block in matcher.get_matching_blocks()
        for offset in range(block.size)
    }
