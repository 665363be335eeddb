"""A watch in a process of its own, every log line dated by whoever listens: the one under siege, or its twin."""

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from rampwarden.control.client import ask
from rampwarden.control.messages import FORMAT, STATUS, Request
from rampwarden.core.model import HeatStatus
from rampwarden.errors import ControlError

ROOT = Path(__file__).resolve().parents[3]
_POLL_S = 0.05


# A watch that outlived a siege would read the bytes of the next at the same name: it ends with who started it, by
# PR_SET_PDEATHSIG of prctl(2).
_WATCH = "import ctypes; ctypes.CDLL(None).prctl(1, 9); from rampwarden.cli import run; run()"


@dataclass(frozen=True)
class Said:
    """One line of the log: when it came (monotonic, s), and what it says."""

    at_s: float
    line: dict[str, object]

    @property
    def alarm(self) -> str:
        """The alarm it is about, if it is one's change of state."""
        return str(self.line.get("alarm", "")) if self.line.get("kind") == "alarm" else ""


@dataclass
class WatchProcess:
    """`rampwarden watch` as a service manager starts it, again and again in one folder."""

    folder: Path
    settings: Path
    runtime: Path
    beside: Mapping[str, str] = field(default_factory=dict)
    name: str = "furnace"
    process: "subprocess.Popen[bytes] | None" = None
    said: list[Said] = field(default_factory=list)
    lives: int = 0

    @property
    def environment(self) -> dict[str, str]:
        """What it has around it, and whoever asks it."""
        foreign = ("RAMPWARDEN_", "XDG_RUNTIME_DIR", "NOTIFY_SOCKET", "STATE_DIRECTORY")
        ours = {name: value for name, value in os.environ.items() if not name.startswith(foreign)}
        ours |= {"RUNTIME_DIRECTORY": str(self.runtime), "RAMPWARDEN_CONTROL__NAME": self.name}
        ours["RAMPWARDEN_LOG__FORMAT"] = "json"
        paths = os.pathsep.join((str(ROOT / "daemon"), os.environ.get("PYTHONPATH", "")))
        return ours | {"PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1", "OPENBLAS_NUM_THREADS": "1"}

    def start(self) -> None:
        """Start it, or start it again."""
        self.lives += 1
        command = [sys.executable, "-c", _WATCH, "watch", "--config"]
        with (self.folder / f"{self.name}-errors-{self.lives}").open("wb") as errors:
            self.process = subprocess.Popen(
                [*command, str(self.settings)],
                cwd=self.folder,
                env=self.environment | self.beside,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=errors,
            )
        threading.Thread(target=self._listen, args=(self.process,), daemon=True).start()

    def kill(self) -> None:
        """End it as nothing else does; comes back when it is gone."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()

    @property
    def lives_on(self) -> bool:
        """Whether the process is there."""
        return self.process is not None and self.process.poll() is None

    def status(self) -> HeatStatus | None:
        """Ask where the heat stands; None when it does not answer."""
        try:
            answer = ask(self.environment, self.name, Request(FORMAT, STATUS))
        except (ControlError, OSError):
            return None
        return None if answer.snapshot is None else answer.snapshot.status

    def comes_to_watch(self, within_s: float) -> bool:
        """Wait until it answers and has a reading that came since this was asked; gives whether it did in time."""
        until_s = time.monotonic() + within_s
        asked: HeatStatus | None = None
        while time.monotonic() < until_s:
            if not self.lives_on:
                return False
            status = self.status()
            asked = asked or status
            if asked is not None and status is not None and (status.read_s or 0.0) > (asked.read_s or 0.0):
                return True
            time.sleep(_POLL_S)
        return False

    def errors(self) -> str:
        """Give what it said in this life where nobody should have to look, and its last words."""
        text = (self.folder / f"{self.name}-errors-{self.lives}").read_text(errors="replace")
        return " | ".join(text.strip().splitlines()[-3:])

    def tracebacks(self) -> list[str]:
        """Give the last line of every traceback of all lives."""
        found = []
        for life in range(1, self.lives + 1):
            text = (self.folder / f"{self.name}-errors-{life}").read_text(errors="replace")
            if "Traceback" in text:
                found.append(f"life {life}: {text.strip().splitlines()[-1]}")
        return found

    def _listen(self, process: "subprocess.Popen[bytes]") -> None:
        assert process.stdout is not None
        with (self.folder / f"{self.name}.log").open("ab") as log:
            for line in process.stdout:
                at_s = time.monotonic()
                log.write(b"%.3f " % at_s + line)
                log.flush()
                try:
                    self.said.append(Said(at_s, json.loads(line)))
                except ValueError:
                    continue
