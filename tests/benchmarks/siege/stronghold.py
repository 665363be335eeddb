"""Everything of one siege: board, broker, disk, listener, the watch, its twin, and what was done to them and when.

A fault is a function that is given this and a source of chance. It says for how long the watch could not see (`blind`),
whose alarms it explains (`explaining`), and what a kill took while the disk did not take lines (`unwritten`).
"""

import contextlib
import json
import random
import signal
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from tests.benchmarks.siege.besieged import WatchProcess
from tests.benchmarks.siege.shim import Shim
from tests.benchmarks.siege.siege_course import SCHEDULE, Course
from tests.benchmarks.siege.siege_disk import SiegeDisk
from tests.benchmarks.siege.siege_line import TwoLines
from tests.faults.model_board import number_of
from tests.outputs.mqtt.broker import Broker, free_port

from rampwarden.core.model import Reading
from rampwarden.errors import RampwardenError
from rampwarden.records import RecordReader

STARTS_WITHIN_S = 20.0
"""s. So long a start may take, on a computer that does nothing else."""
SIGNAL_LOST_S = 3.0
# A reading younger than this may be lost with the process that has it; the requirement says so.
YOUNG_S = 1.0
_HEARD_WITHIN_S = 60.0
SETTINGS = """\
[watch]
schedule = "{schedule}"
records = "{records}"
crucible_register = "{register}"
status_every = "24 h"
[board]
port = "{port}"
interval = "{interval} s"
calibration = "{calibration}"
[signal]
lost_after = "{lost_after} s"
{outputs}[alarms.ramp-high]
off_delay = "10 s"
[alarms.soak-deviation]
on_delay = "5 s"
off_delay = "10 s"
# Lines on paper are no furnace: what is diagnosed from flame and flicker has tests of its own.
[alarms.flame-out]
out_of_service = true
[alarms.heat-failing]
out_of_service = true
[log]
format = "json"
"""
OUTPUTS = """\
[mqtt]
broker = ["127.0.0.1:{broker}"]
user = "watch"
password_file = "{folder}/password"
commands = ["acknowledge", "note"]
[page]
enabled = true
address = "127.0.0.1:{page}"
read_token_file = "{folder}/read-token"
act_token_file = "{folder}/act-token"
"""


@dataclass(frozen=True)
class Span:
    """From one moment to another (monotonic, s), and what for."""

    from_s: float
    to_s: float
    what: str
    alarms: frozenset[str] = frozenset()
    loses: bool = True
    """Whether what the board sends meanwhile is lost to everybody, or only comes later."""


@dataclass(frozen=True)
class HeardEvent:
    """One event as the subscriber got it."""

    at_s: float
    body: dict[str, object]


class Ear:
    """A subscriber for whom the broker keeps what was missed."""

    def __init__(self, port: int) -> None:
        self.heard: list[HeardEvent] = []
        self._port = port
        self._subscribed = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="ear", protocol=MQTTProtocolVersion.MQTTv5)
        self._client.on_message = self._take
        self._client.on_connect = lambda client, *_: client.subscribe([("homie/5/+/+/event", 1)])
        self._client.on_subscribe = lambda *_: self._subscribed.set()
        self._client.reconnect_delay_set(1, 1)
        properties = Properties(PacketTypes.CONNECT)
        properties.SessionExpiryInterval = 7200
        self._client.connect("127.0.0.1", port, keepalive=5, clean_start=False, properties=properties)
        self._client.loop_start()
        if not self._subscribed.wait(_HEARD_WITHIN_S):
            raise RuntimeError("the subscriber could not subscribe")

    def close(self) -> None:
        """Listen no more."""
        self._client.disconnect()
        self._client.loop_stop()

    def _take(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        with contextlib.suppress(ValueError):
            body = json.loads(message.payload)
            if isinstance(body, dict) and "key" in body:
                self.heard.append(HeardEvent(time.monotonic(), body))


@dataclass
class Stronghold:
    """One siege. `disk` None does without a disk of its own, and without the faults that need one."""

    folder: Path
    runtime: Path
    seed: int
    lasts_s: float
    disk: SiegeDisk | None
    starts_within_s: float = STARTS_WITHIN_S
    blind: list[Span] = field(default_factory=list)
    explained: list[Span] = field(default_factory=list)
    unwritten: list[Span] = field(default_factory=list)
    broker_troubles: list[Span] = field(default_factory=list)
    destroyed: set[int] = field(default_factory=set)
    """Readings that stood in what a fault itself destroyed while nobody watched."""
    bad_starts: list[str] = field(default_factory=list)
    doubted: list[Span] = field(default_factory=list)
    """While frames were bad: what the course does may be unknown, if that is said."""
    done: list[Span] = field(default_factory=list)

    def __post_init__(self) -> None:
        chance = random.Random(f"siege {self.seed}")
        self.interval_s = chance.choice((0.25, 0.4, 0.5, 1.0))
        self.course = Course(self.seed, self.lasts_s + 300.0)
        self.line = TwoLines(self.folder, self.interval_s, self.course.temperature_c)
        self.records = (self.folder if self.disk is None else self.disk.folder) / "heats"
        self.page_port = free_port()
        kept = f"persistence true\npersistence_location {self.folder}/\nautosave_interval 1\nmax_queued_messages 0\n"
        self.broker = Broker(self.folder, kept)
        self.schedule, self.calibration = self.folder / "schedule.toml", self.folder / "calibration.toml"
        self.settings, self.register = self.folder / "settings.toml", self.folder / "crucibles.sqlite"
        self.secrets = [self.folder / name for name in ("password", "read-token", "act-token")]
        for secret in self.secrets:
            secret.write_text(f"{secret.name}-of-this-siege\n")
            secret.chmod(0o600)
        self.schedule.write_text(SCHEDULE)
        outputs = OUTPUTS.format(broker=self.broker.port, page=self.page_port, folder=self.folder)
        self.settings.write_text(self._settings(self.records, self.line.board.line.path, outputs))
        self.shim = Shim.make(self.folder)
        self.watch = WatchProcess(self.folder, self.settings, self.runtime / "watch", self.shim.environment)
        twin = self.folder / "twin.toml"
        twin.write_text(self._settings(self.folder / "heats-of-twin", self.line.twin.path, ""))
        self.twin = WatchProcess(self.folder, twin, self.runtime / "twin", name="twin")
        for folder in (self.records, self.watch.runtime, self.twin.runtime):
            folder.mkdir(parents=True)
        self._paused = 0

    def _settings(self, records: Path, port: Path, outputs: str) -> str:
        return SETTINGS.format(
            schedule=self.schedule,
            records=records,
            register=self.register,
            port=port,
            interval=self.interval_s,
            lost_after=SIGNAL_LOST_S,
            calibration="none",
            outputs=outputs,
        )

    # The siege

    def begin(self) -> None:
        """Start everything, and light the furnace once both watches have their ports."""
        self.broker.start()
        self.ear = Ear(self.broker.port)
        self.watch.start()
        self.twin.start()
        until_s = time.monotonic() + self.starts_within_s
        while not (self.opened(self.watch) and self.opened(self.twin)):
            if time.monotonic() > until_s:
                raise RuntimeError(f"not started: {self.watch.errors()} {self.twin.errors()}")
            time.sleep(0.05)
        self.began_s = time.monotonic()
        self.line.board.start()

    def opened(self, watch: WatchProcess) -> bool:
        """Tell whether a watch said that it has its port."""
        return any(str(said.line.get("event", "")).startswith("port-opened") for said in watch.said)

    def start_again(self) -> bool:
        """Start the watch as a service manager does, and tell whether it watches; it is blind until then."""
        self.watch.start()
        watches = self.watch.comes_to_watch(self.starts_within_s)
        if not watches:
            state = "runs" if self.watch.lives_on else f"ended with status {self.watch.process.returncode}"  # type: ignore[union-attr]
            self.bad_starts.append(f"{self.now_s():.0f} s: {state}: {self.watch.errors()}")
        return watches

    def close(self) -> None:
        """Leave nothing running."""
        self.shim.hanging.unlink(missing_ok=True)
        if self.disk is not None:
            with contextlib.suppress(Exception):
                self.disk.thaw()
        for watch in (self.watch, self.twin):
            if watch.lives_on:
                watch.process.send_signal(signal.SIGCONT)  # type: ignore[union-attr]
            watch.kill()
        self.line.close()
        with contextlib.suppress(AttributeError):
            self.ear.close()
        self.broker.thaw()
        self.broker.kill()
        if self.disk is not None:
            self.disk.close()

    # What faults say of themselves

    def now_s(self) -> float:
        """Give the second of the siege."""
        return time.monotonic() - self.began_s

    @contextlib.contextmanager
    def blinding(self, what: str, *, loses: bool = True) -> Iterator[None]:
        """Let the watch see nothing meanwhile; afterwards wait until it sees again."""
        from_s = time.monotonic() - YOUNG_S
        try:
            yield
        finally:
            if self.watch.lives_on and not self.watch.comes_to_watch(self.starts_within_s):
                self.bad_starts.append(f"{self.now_s():.0f} s: after {what} it does not see again")
            self.blind.append(Span(from_s, time.monotonic(), what, loses=loses))

    @contextlib.contextmanager
    def explaining(self, what: str, *alarms: str, afterwards_s: float = 15.0) -> Iterator[None]:
        """Let these alarms be explained by the fault, from now to some seconds after it."""
        from_s = time.monotonic()
        try:
            yield
        finally:
            self.explained.append(Span(from_s, time.monotonic() + afterwards_s, what, frozenset(alarms)))

    @contextlib.contextmanager
    def troubling_broker(self, what: str) -> Iterator[None]:
        """Let the broker be away meanwhile."""
        from_s = time.monotonic() - YOUNG_S
        with self.explaining(what, "broker-unreachable", afterwards_s=60.0):
            try:
                yield
            finally:
                self.broker_troubles.append(Span(from_s, time.monotonic(), what))

    # What is on the disk

    def record_files(self) -> list[Path]:
        """Give every record there is of this siege, wherever it was put."""
        folders = {self.records, *(path.parent for path in self.folder.rglob("*.jsonl*"))}
        folders |= {path.parent for path in self.runtime.rglob("*.jsonl*") if "twin" not in path.parts}
        found = {path for folder in folders if folder.name != "heats-of-twin" for path in folder.glob("*.jsonl*")}
        return sorted(found)

    def newest_record(self) -> Path | None:
        """Give the record that was written last in its proper place."""
        found = sorted(self.records.glob("*.jsonl"), key=lambda path: path.stat().st_mtime)
        return found[-1] if found else None

    def numbers_recorded(self) -> set[int]:
        """Give the number of every reading that stands in any record."""
        return set().union(*(numbers_in(path) for path in self.record_files()))

    @contextlib.contextmanager
    def destroying(self, path: Path) -> Iterator[None]:
        """Take note of the readings that are destroyed on the disk meanwhile."""
        before = numbers_in(path)
        yield
        self.destroyed |= before - numbers_in(path)


def numbers_in(path: Path) -> set[int]:
    """Give the number of every reading that is legible in a record."""
    try:
        with RecordReader(path, may_be_damaged=True) as reader:
            return {number_of(line) for line in reader if isinstance(line, Reading)}
    except (RampwardenError, OSError):
        return set()
