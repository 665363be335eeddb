"""A copy of the checkout to break things in: its own sources, and an interpreter that finds these and no others.

A path in the environment would not do: some tests give their child processes a path of their own, and these would
import the package that is installed, which is whole. So each copy has a small virtual environment of its own, which
takes everything but rampwarden from the one we run in.
"""

import contextlib
import os
import shutil
import signal
import site
import subprocess
import sys
import tempfile
import venv
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# Runs in every interpreter of a copy that a test started: what a child process runs counts for this test.
_CHILD = """
import os


def _follow(folder, test):
    import coverage

    phase = "setup" if test.endswith("(setup)") else "call"
    watched = coverage.Coverage(
        data_file=os.path.join(folder, "coverage"),
        data_suffix=True,
        config_file=False,
        source=[{daemon!r}],
        context=test.rsplit(" ", 1)[0] + "|" + phase,
        auto_data=True,
    )
    watched.set_option("run:disable_warnings", ["no-data-collected", "module-not-imported", "module-not-measured"])
    watched.start()


if "MUTANTS_COVERAGE" in os.environ and "PYTEST_CURRENT_TEST" in os.environ:
    _follow(os.environ["MUTANTS_COVERAGE"], os.environ["PYTEST_CURRENT_TEST"])
"""


@dataclass(frozen=True)
class Ended:
    """How a run ended: the exit status, None if it took longer than it was given, and the last it printed."""

    status: int | None
    said: str


class Copy:
    """One copy; `close` removes it."""

    def __init__(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="mutants-"))
        self.root = self._folder / "checkout"
        self._copy_files()
        self.python = self._make_interpreter()
        self._writes = 0

    def close(self) -> None:
        """Remove it."""
        shutil.rmtree(self._folder, ignore_errors=True)

    def write(self, path: str, text: str) -> None:
        """Put other text into a file of the copy; Python's cached bytecode notices by the file's time."""
        file = self.root / path
        file.write_text(text, encoding="utf-8")
        # The cache compares whole seconds and sizes, and two mutants of one module may come within a second.
        self._writes += 1
        now_s = int(file.stat().st_mtime) + 10 * self._writes
        os.utime(file, (now_s, now_s))

    def pytest(self, arguments: list[str], more: dict[str, str], limit_s: float) -> Ended:
        """Run pytest in the copy, with more in its environment; whatever it started ends with it."""
        foreign = ("PYTEST_", "RAMPWARDEN_", "PYTHONPATH", "VIRTUAL_ENV", "MUTANTS_", "COVERAGE_", "MAKE")
        environment = {name: value for name, value in os.environ.items() if not name.startswith(foreign)} | more
        command = [str(self.python), "-m", "pytest", "-p", "benchmarks.mutant_plugin", "-p", "no:cacheprovider"]
        # The plugin is named before pytest reads `pythonpath` from its settings.
        environment["PYTHONPATH"] = str(self.root / "tests")
        with (self._folder / "said").open("w+", encoding="utf-8", errors="replace") as said:
            process = subprocess.Popen(
                [*command, *arguments],
                cwd=self.root,
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=said,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
            try:
                status: int | None = process.wait(limit_s)
            except subprocess.TimeoutExpired:
                status = None
            finally:
                # The group is ours alone: we made it with the process.
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(process.pid, signal.SIGKILL)
                process.wait()
            said.seek(0)
            return Ended(status, said.read()[-4000:])

    def _copy_files(self) -> None:
        listed = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for name in sorted(filter(None, listed.split("\0"))):
            here, there = ROOT / name, self.root / name
            if here.is_symlink() or here.exists():
                there.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(here, there, follow_symlinks=False)

    def _make_interpreter(self) -> Path:
        folder = self._folder / "python"
        venv.create(folder, with_pip=False, symlinks=True)
        library = folder / "lib" / f"python{sys.version_info.major}.{sys.version_info.minor}" / "site-packages"
        daemon = self.root / "daemon"
        (library / "mutant_child.py").write_text(_CHILD.format(daemon=str(daemon)), encoding="utf-8")
        paths = [str(daemon), *site.getsitepackages()]
        (library / "copy.pth").write_text("\n".join([*paths, "import mutant_child", ""]), encoding="utf-8")
        return folder / "bin" / "python"
