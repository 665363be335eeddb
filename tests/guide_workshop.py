"""A workshop in which the commands of a guide are run in their order, as if typed in it. Not a test itself.

Everything is of its own: folder, sockets, a model board on a pseudo-terminal whose thermocouple stands at 850 °C, a
broker on this computer. Where a guide names what a reader has, the workshop's own takes its place, and what is printed
is put back into the guide's words (`_in_our_words`, `_in_the_guides_words`). Rehearsals run faster than they are shown.
"""

import os
import re
import shlex
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from tests.outputs.mqtt.broker import MOSQUITTO, Broker
from tests.sources.pty_board import PtyBoard, frame_line

from guides import ROOT, Block, Shown, agrees
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.database import server_name

PATIENCE_S = 30.0
GUIDES_SERVER = "postgresql:///rampwarden"
GUIDES_PORT = "/dev/serial/by-id/usb-amplifier"
FURNACE_C, JUNCTION_C = 850.2, 25.0
# As fast as it goes: a heat of six hours takes two or three seconds.
SHOWN_SPEED, OUR_SPEED = "--speed 600", "--speed 10000"
# They go on until somebody stops them, and later commands of the same guide speak to them.
LASTING = ("rampwarden watch", "rampwarden listen")

_REHEARSAL = re.compile("rampwarden rehearse ")
_RECORD = re.compile(r" --record (\S+)")
# What was rehearsed already, by its command without the record: status, what it printed, and its record.
_REHEARSED: dict[str, tuple[int, str, bytes]] = {}


class Workshop:
    """Runs what a guide shows; `close` ends whatever still runs."""

    def __init__(self, folder: Path, server: str = "") -> None:
        """`server` is the URL of an empty database, for guides that speak to one."""
        self._server = server
        self.folder = folder
        self._runtime = folder / "run"
        self._runtime.mkdir(parents=True)
        self.files = folder / "here"
        self.files.mkdir()
        # The commands are typed in the source's own folder: config/ and replay_logs/ are there.
        for name in ("config", "replay_logs", "firmware_notes"):
            (self.files / name).symlink_to(ROOT / name)
        programs = folder / "bin"
        programs.mkdir()
        program = programs / "rampwarden"
        program.write_text(f"#!{sys.executable}\nfrom rampwarden.cli import run\nrun()\n")
        program.chmod(0o755)
        foreign = ("RAMPWARDEN_", "XDG_", "NOTIFY_SOCKET", "STATE_DIRECTORY", "COLUMNS")
        kept = {name: value for name, value in os.environ.items() if not name.startswith(foreign)}
        self._environment = kept | {
            "PATH": f"{programs}{os.pathsep}{kept['PATH']}",
            "HOME": str(folder),
            "TZ": "UTC",
            "RUNTIME_DIRECTORY": str(self._runtime),
            # What a person sees at a terminal; into a file it would be JSON.
            "RAMPWARDEN_LOG__FORMAT": "text",
            "RAMPWARDEN_BELL__ENABLED": "false",
        }
        self._board = _SteadyBoard(folder / "amplifier")
        self._broker: Broker | None = None
        self._lasting: list[subprocess.Popen[bytes]] = []

    def write(self, block: Block) -> None:
        """Write a file that a guide shows."""
        text = self._in_our_words("\n".join(block.lines))
        (self.files / block.marks["file"]).write_text(f"{text}\n", encoding="utf-8")

    def run(self, shown: Shown) -> str | None:
        """Run a command; gives what is wrong with it, or None when it prints what is shown."""
        if any(shown.command.startswith(each) for each in LASTING):
            return self._start(shown)
        status, text = self._rehearse(shown) if _REHEARSAL.match(shown.command) else self._do(shown.command)
        printed = self._in_the_guides_words(text)
        refused = status not in (0, 1)
        if shown.printed is None:
            return _what(shown, printed) if refused or "rampwarden: " in printed else None
        expects_refusal = bool(shown.printed) and shown.printed[0].startswith("rampwarden: ")
        if refused == expects_refusal and agrees(shown.printed, printed, shown.varies):
            return None
        return _what(shown, printed)

    def close(self) -> None:
        """End what still runs."""
        for process in self._lasting:
            process.send_signal(signal.SIGINT)
        for process in self._lasting:
            process.wait(PATIENCE_S)
        self._board.close()
        if self._broker is not None:
            self._broker.kill()

    def _do(self, command: str) -> tuple[int, str]:
        done = subprocess.run(
            ["sh", "-c", self._in_our_words(command)],
            cwd=self.files,
            env=self._environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            timeout=4 * PATIENCE_S,
            check=False,
        )
        return done.returncode, done.stdout.decode()

    def _rehearse(self, shown: Shown) -> tuple[int, str]:
        """Rehearse, or take the record of the same rehearsal in another guide: its seed makes it the same heat."""
        match = _RECORD.search(shown.command)
        if match is None:
            return self._do(shown.command)
        record = self.files / match[1]
        key = _RECORD.sub("", shown.command)
        if key not in _REHEARSED:
            status, text = self._do(shown.command)
            _REHEARSED[key] = (status, text.replace(match[1], "{record}"), record.read_bytes())
            return status, text
        status, text, lines = _REHEARSED[key]
        record.write_bytes(lines)
        return status, text.replace("{record}", match[1])

    def _start(self, shown: Shown) -> str | None:
        """Start what goes on, and wait until it has printed what is shown of it."""
        log = self.folder / f"lasting-{len(self._lasting)}.log"
        with log.open("wb") as output:
            process = subprocess.Popen(
                shlex.split(self._in_our_words(shown.command), comments=True),
                cwd=self.files,
                env=self._environment,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
            )
        self._lasting.append(process)
        wanted = shown.printed if shown.printed is not None else ("…", "…")

        def printed() -> str:
            return self._in_the_guides_words(log.read_text(encoding="utf-8"))

        come = _await(lambda: printed() and agrees(wanted, printed(), shown.varies), process)
        return None if come and process.poll() is None else _what(shown, printed())

    def _in_our_words(self, text: str) -> str:
        ours = text.replace(GUIDES_PORT, str(self._board.path)).replace(SHOWN_SPEED, OUR_SPEED)
        ours = ours.replace(GUIDES_SERVER, self._server or GUIDES_SERVER)
        return ours.replace("localhost", self._brokers_address()) if "localhost" in ours else ours

    def _in_the_guides_words(self, text: str) -> str:
        theirs = text.replace(str(self._board.path), GUIDES_PORT).replace(f"{self.files}/", "")
        if self._server:
            theirs = theirs.replace(server_name(self._server), GUIDES_SERVER)
        return theirs if self._broker is None else theirs.replace(str(self._broker.address), "localhost:1883")

    def _brokers_address(self) -> str:
        if self._broker is None:
            place = self.folder / "broker"
            place.mkdir()
            self._broker = Broker(place)
            self._broker.start()
        return str(self._broker.address)


class _SteadyBoard:
    """The model board: ten frames a second of a furnace that stands still but for the last digit."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._board = PtyBoard(path)
        self._ended = threading.Event()
        couple = thermocouple("K")
        self._emf_nv = round(1000 * (couple.emf_uv(FURNACE_C) - couple.emf_uv(JUNCTION_C)))
        self._sender = threading.Thread(target=self._send)
        self._sender.start()

    def close(self) -> None:
        """Send no more, and be gone."""
        self._ended.set()
        self._sender.join()
        self._board.unplug()

    def _send(self) -> None:
        began_s, seq = time.monotonic(), 0
        while not self._ended.wait(0.1):
            ms = int(1000 * (time.monotonic() - began_s))
            wobble_nv = 2000 * (seq % 3 - 1)
            line = frame_line(seq % 65_536, ms, self._emf_nv + wobble_nv, round(1000 * JUNCTION_C))
            try:
                self._board.send(line, patience_s=1.0)
            except TimeoutError:
                continue  # nobody has it open
            seq += 1


def has_broker() -> bool:
    """Tell whether guides that speak to a broker can be tried here."""
    return MOSQUITTO is not None


def _what(shown: Shown, printed: str) -> str:
    wanted = "(not shown)" if shown.printed is None else "\n".join(shown.printed)
    return f"{shown.place}: $ {shown.command}\n--- shown\n{wanted}\n--- printed\n{printed}"


def _await(condition: Callable[[], object], process: subprocess.Popen[bytes]) -> bool:
    until_s = time.monotonic() + PATIENCE_S
    while not condition():
        if process.poll() is not None or time.monotonic() > until_s:
            return bool(condition())
        time.sleep(0.02)
    return True
