"""A watch in a process of its own: its board on a pseudo-terminal, its service manager listening. No test itself."""

import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from tests.sources.pty_board import PtyBoard, frame_line

PATIENCE_S = 20.0
SCHEDULE = """
title = "A short heat"
basis = "invented for a test"

[[segment]]
name = "warming"
kind = "ramp"
to = "200 C"

[[segment]]
name = "holding"
kind = "soak"
at = "200 C"
hold = "10 min"
"""


def wait_for(condition: Callable[[], object], what: str) -> None:
    """Wait until the condition holds; fails with `what` when it does not in time."""
    until_s = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < until_s, what
        time.sleep(0.01)


class Manager:
    """Hears what a service tells its manager."""

    def __init__(self, path: Path, abstract: bool = False) -> None:
        self.address = f"@{path}" if abstract else str(path)
        self.heard: list[dict[str, str]] = []
        self._line = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._line.bind(f"\0{path}" if abstract else str(path))
        self._line.settimeout(PATIENCE_S)

    def hear(self) -> dict[str, str]:
        """Give the next message, by its variables."""
        text = self._line.recv(65_536).decode()
        message = dict(line.split("=", 1) for line in text.splitlines())
        self.heard.append(message)
        return message

    def hear_until(self, **wanted: str) -> dict[str, str]:
        """Give the first message from now on that has these variables."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            message = self.hear()
            if wanted.items() <= message.items():
                return message
        raise AssertionError(f"not told {wanted} in time")

    def is_quiet(self) -> bool:
        """Tell whether nothing is left to hear."""
        self._line.setblocking(False)
        try:
            self.hear()
        except BlockingIOError:
            return True
        finally:
            self._line.settimeout(PATIENCE_S)
        return False

    def close(self) -> None:
        """Listen no more."""
        self._line.close()


class RunningWatch:
    """`rampwarden watch` as somebody starts it; what it needs lies in `folder`, which has a short name."""

    def __init__(self, folder: Path, name: str, plugged_in: bool, options: Sequence[str]) -> None:
        self.folder = folder
        self.runtime = folder / "run"
        self.record = folder / f"{name}.jsonl"
        self.settings = folder / f"{name}.toml"
        self.board = PtyBoard(folder / f"board-{name}")
        if not plugged_in:
            self.board.unplug()
        if not self.settings.exists():
            self.settings.write_text(f'[control]\nname = "{name}"\n', encoding="utf-8")
        self.manager = Manager(folder / f"manager-{name}")
        schedule = folder / "schedule.toml"
        schedule.write_text(SCHEDULE, encoding="utf-8")
        self._sending = threading.Event()
        self._seq = 0
        self._sender = threading.Thread(target=self._send, daemon=True)
        self._output = (folder / f"{name}.log").open("wb")
        watch = ["watch", str(schedule), "--port", str(self.board.path), "--record", str(self.record)]
        self.process = subprocess.Popen(
            [*RAMPWARDEN, *watch, "--config", str(self.settings), *options],
            stdin=subprocess.DEVNULL,
            stdout=self._output,
            stderr=subprocess.STDOUT,
            env=environment(self.runtime) | {"NOTIFY_SOCKET": self.manager.address},
        )
        if plugged_in:
            self._sender.start()

    def plug_in(self) -> None:
        """Let the board appear and send ten readings a second."""
        self.board.plug_in()
        self._sender.start()

    def log(self) -> list[dict[str, object]]:
        """Give the log so far."""
        lines = (self.folder / Path(self._output.name).name).read_text(encoding="utf-8").splitlines()
        return [json.loads(line) for line in lines if line.startswith("{")]

    def says(self, text: str) -> bool:
        """Tell whether the log has it."""
        return any(text in str(line.get("event")) for line in self.log())

    def recorded(self, kind: str) -> list[dict[str, object]]:
        """Give the record's whole lines of one kind."""
        text = self.record.read_text(encoding="utf-8") if self.record.exists() else ""
        lines = [json.loads(line) for line in text.splitlines(keepends=True) if line.endswith("\n")]
        return [line for line in lines if line["kind"] == kind]

    def send_signal(self, number: signal.Signals) -> None:
        """Send the process a signal."""
        self.process.send_signal(number)

    def end(self) -> None:
        """End it, kindly first."""
        if self.process.poll() is None:
            self.process.terminate()
        try:
            self.process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self._sending.set()
        if self._sender.is_alive():
            self._sender.join()
        self.board.unplug()
        self.manager.close()
        self._output.close()

    def _send(self) -> None:
        began_s = time.monotonic()
        while not self._sending.wait(0.1):
            ms = int(1000 * (time.monotonic() - began_s))
            try:
                self.board.send(frame_line(self._seq, ms, emf_nv=0), patience_s=1.0)
            except TimeoutError:
                continue  # the watch has it closed at the moment
            self._seq += 1


RAMPWARDEN = (sys.executable, "-c", "from rampwarden.cli import run; run()")


def environment(runtime: Path) -> dict[str, str]:
    """Give the environment of a process whose control sockets are in `runtime`, and whose log can be read by us."""
    foreign = ("RAMPWARDEN_", "XDG_RUNTIME_DIR", "NOTIFY_SOCKET", "STATE_DIRECTORY")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(foreign)}
    return kept | {"RUNTIME_DIRECTORY": str(runtime), "RAMPWARDEN_LOG__FORMAT": "json"}


def told(runtime: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run one command of ours from another terminal."""
    return subprocess.run(
        [*RAMPWARDEN, *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
        env=environment(runtime),
    )


@contextmanager
def running_watch(
    name: str = "furnace-1", plugged_in: bool = True, options: Sequence[str] = (), folder: Path | None = None
) -> Iterator[RunningWatch]:
    """Start a watch and end it afterwards; several may share a `folder`."""
    with tempfile.TemporaryDirectory(prefix="rw") as own:
        watch = RunningWatch(folder or Path(own), name, plugged_in, options)
        try:
            yield watch
        finally:
            watch.end()
