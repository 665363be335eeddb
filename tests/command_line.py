"""The command line for tests: in this process where that is enough, else as a process of its own. Not a test itself."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from rampwarden import cli

PROGRAM = [sys.executable, "-c", "from rampwarden.cli import run; run()"]

SCHEDULE = """\
title = "A short heat with everything in it"
basis = "for tests"

[[segment]]
name = "drying"
kind = "ramp"
to = "220 C"
max_rate = "25 C / 5 min"

[[segment]]
name = "evening out"
kind = "soak"
at = "220 C"
hold = "10 min"

[[segment]]
name = "oven to furnace"
kind = "transfer"
within = "20 min"
arrive_above = "100 C"

[[segment]]
name = "to red heat"
kind = "ramp"
to = "650 C"
max_rate = "100 C / 5 min"
min_rate = "10 C / 5 min"

[[segment]]
name = "to working temperature"
kind = "ramp"
to = "800 C"
max_rate = "100 C / 5 min"

[[segment]]
name = "working temperature"
kind = "soak"
at = "800 C"
band = ["-20 C", "+20 C"]
hold = "12 min"
ceiling = "840 C"

[[segment]]
name = "closed furnace"
kind = "cool"
to = "500 C"
max_rate = "20 C / min"
"""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command left behind."""

    status: int
    output: str
    errors: str


class CommandLine:
    """Runs commands in this process, in a folder of their own and with no settings from around."""

    def __init__(self, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
        self._capfd = capfd
        self._monkeypatch = monkeypatch
        monkeypatch.chdir(folder)
        for name in [name for name in os.environ if name.startswith("RAMPWARDEN_")]:
            monkeypatch.delenv(name)
        monkeypatch.setenv("RUNTIME_DIRECTORY", str(folder))

    def __call__(self, *arguments: str | Path) -> Outcome:
        self._monkeypatch.setattr(sys, "argv", ["rampwarden", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            cli.run()
        output, errors = self._capfd.readouterr()
        return Outcome(ended.value.code if isinstance(ended.value.code, int) else -1, output, errors)

    def refusal(self, *arguments: str | Path) -> str:
        """Give the one line that refuses a command, without the program's name; anything else fails."""
        outcome = self(*arguments)
        assert outcome.status == 2, outcome
        assert outcome.output == ""
        assert outcome.errors.startswith("rampwarden: ")
        assert outcome.errors.endswith("\n")
        assert outcome.errors.count("\n") == 1, outcome.errors
        return outcome.errors.removeprefix("rampwarden: ").removesuffix("\n")


def environment(folder: Path) -> dict[str, str]:
    """Give the environment for a process of its own that leaves nothing outside `folder`."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("RAMPWARDEN_")}
    return {**clean, "RUNTIME_DIRECTORY": str(folder)}


def run_process(folder: Path, *arguments: str | Path, stdin: bytes = b"") -> Outcome:
    """Run a command as a process of its own."""
    done = subprocess.run(
        [*PROGRAM, *map(str, arguments)],
        check=False,
        capture_output=True,
        cwd=folder,
        env=environment(folder),
        input=stdin,
        timeout=60,
    )
    return Outcome(done.returncode, done.stdout.decode(), done.stderr.decode())
