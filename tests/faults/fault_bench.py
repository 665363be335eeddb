"""One heat watched by the real service while something goes wrong, and the judgement on what is left of it.

The watch is a process of its own on a pseudo-terminal, the broker a mosquitto, the record a file. Not a test itself.

Scaled: the clock of the heat runs `speed` times as fast as the real one (`fast_watch` says how), and the time after
which a signal is lost with it. A fault of two minutes of the heat lasts 120 / speed real seconds.

What may be missing from a record is only what was sent in a *window*: from one real second before a fault until the
first reading was recorded after it. A fault that should cost nothing opens no window.
"""

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from tests.faults.model_board import SCHEDULE, ModelBoard, number_of, temperature_c
from tests.outputs.mqtt.broker import Broker, wait_until

from rampwarden.control.client import ask
from rampwarden.control.messages import FORMAT, STATUS, Request
from rampwarden.core.model import AlarmState, Event, HeatStatus, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.errors import ControlError
from rampwarden.filed import event_key
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import Line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, schedule_of

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60.0
UNRECORDED_AT_MOST_S = 1.0

# The faults' own alarms; all others come from the heat and must be those of the undisturbed twin.
OF_FAULTS = frozenset({"signal-lost", "board-restarted", "record-failing", "broker-unreachable"})
# Root opens whatever it likes; without these it is denied like anybody else.
WITHOUT_OVERRIDE = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]

SETTINGS = """\
[watch]
records = "{records}"
resume_within = "12 h"
status_every = "24 h"
[board]
interval = "0.1 s"
[signal]
lost_after = {lost_after_s}
[mqtt]
broker = ["127.0.0.1:{broker_port}"]
[control]
name = "furnace"
# The model heat is lines on paper, no furnace: what is diagnosed from flame and flicker has tests of its own.
[alarms.flame-out]
out_of_service = true
[alarms.heat-failing]
out_of_service = true
"""


class Listener:
    """Somebody at the broker for whom it keeps what was missed; gives every event, repetitions included."""

    def __init__(self, port: int) -> None:
        self.heard: list[tuple[str, bool, str]] = []
        """Key, whether it was marked late, and the text, in the order they came."""
        self._port = port
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="listener", protocol=MQTTProtocolVersion.MQTTv5)
        self._client.on_message = self._take
        self._client.on_connect = lambda client, *_: client.subscribe([("homie/5/+/+/event", 1)])
        self._subscribed = threading.Event()
        self._client.on_subscribe = lambda *_: self._subscribed.set()
        self._client.reconnect_delay_set(1, 1)

    def begin(self) -> None:
        """Subscribe; from now on the broker keeps what comes while it or we are away."""
        properties = Properties(PacketTypes.CONNECT)
        properties.SessionExpiryInterval = 3600
        self._client.connect("127.0.0.1", self._port, clean_start=False, properties=properties)
        self._client.loop_start()
        assert self._subscribed.wait(PATIENCE_S), "the listener could not subscribe"

    def end(self) -> None:
        """Listen no more."""
        self._client.disconnect()
        self._client.loop_stop()

    def _take(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        body = json.loads(message.payload)
        self.heard.append((body["key"], body["late"], f"{body['elapsed_s']} {body['text']} {body.get('state')}"))


class KeptBroker:
    """A mosquitto that keeps its sessions over a restart, so that the listener misses nothing for reasons of ours."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        kept = f"persistence true\npersistence_location {folder}/\nautosave_interval 1\nmax_queued_messages 0\n"
        self.broker = Broker(folder, kept)

    def start(self) -> None:
        """Start it on the same port as ever."""
        self.broker.start()

    def stop(self) -> None:
        """End it as a reboot does."""
        process = self.broker._process
        if process is not None:
            process.send_signal(signal.SIGTERM)
            process.wait(PATIENCE_S)
            self.broker.kill()


@dataclass
class Bench:
    """One heat. A fault is a function that is given the bench."""

    folder: Path
    speed: float = 30.0
    interval_s: float = 1.0
    no_override: bool = False
    stdout: int = subprocess.DEVNULL
    records: Path | None = None
    course: Callable[[float, random.Random], float] = temperature_c
    windows: list[tuple[float, float]] = field(default_factory=list)
    process: subprocess.Popen[bytes] | None = None
    lives: int = 0

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        self.board = ModelBoard(self.folder / "by-id-board", self.speed, self.interval_s, course=self.course)
        self.kept = KeptBroker(self.folder / "broker")
        self.listener = Listener(self.kept.broker.port)
        self.records = self.records or self.folder / "heats"
        self.runtime = self.folder / "run"
        self.wall = self.folder / "wall"
        self.wall.write_text("0")
        (self.folder / "schedule.toml").write_text(SCHEDULE, encoding="utf-8")
        settings = SETTINGS.format(
            records=self.records, lost_after_s=2.0 * self.speed, broker_port=self.kept.broker.port
        )
        (self.folder / "settings.toml").write_text(settings, encoding="utf-8")
        for folder in (self.records, self.runtime):
            folder.mkdir(exist_ok=True)

    # The heat

    def begin(self, *, broker: bool = True) -> None:
        """Start broker, listener and watch, and light the furnace once the watch has its port."""
        if broker:
            self.kept.start()
            self.listener.begin()
        self.start_watch()
        wait_until(lambda: any('"port-opened"' in line for line in self.lines()), "the watch has its port", PATIENCE_S)
        self.board.start()
        self.await_reading()

    def start_watch(self) -> None:
        """Start the watch, or start it again."""
        self.lives += 1
        ours = {name: value for name, value in os.environ.items() if not name.startswith("RAMPWARDEN_")}
        paths = os.pathsep.join((str(ROOT), str(ROOT / "tests"), str(ROOT / "daemon")))
        command = [sys.executable, "-m", "tests.faults.fast_watch", "watch", str(self.folder / "schedule.toml")]
        options = ["--port", str(self.board.line.path), "--config", str(self.folder / "settings.toml")]
        with (self.folder / f"errors-{self.lives}").open("wb") as errors:
            self.process = subprocess.Popen(
                [*(WITHOUT_OVERRIDE if self.no_override else []), *command, *options],
                cwd=ROOT,
                env=ours | self.environment | {"PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"},
                stdin=subprocess.DEVNULL,
                stdout=self.stdout,
                stderr=errors,
            )

    @property
    def environment(self) -> dict[str, str]:
        """What the watch and whoever asks it have around them."""
        return {
            "RUNTIME_DIRECTORY": str(self.runtime),
            "RAMPWARDEN_LOG__FORMAT": "json",
            "FAULTS_SPEED": str(self.speed),
            "FAULTS_WALL": str(self.wall),
        }

    def signal(self, number: signal.Signals) -> None:
        """Send the watch a signal."""
        assert self.process is not None
        self.process.send_signal(number)

    def kill(self) -> None:
        """End the watch as nothing else does."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def reach(self, heat_s: float) -> None:
        """Wait until the board is at this second of the heat."""
        wait_until(lambda: self.board.heat_s >= heat_s, f"second {heat_s} of the heat", PATIENCE_S)

    def pass_heat(self, seconds: float) -> None:
        """Let so many seconds of the heat go by."""
        self.reach(self.board.heat_s + seconds)

    @contextlib.contextmanager
    def window(self) -> Iterator[None]:
        """Let what is sent until the first reading recorded afterwards be lost."""
        from_s = time.monotonic() - UNRECORDED_AT_MOST_S
        yield
        self.await_reading()
        self.windows.append((from_s, time.monotonic()))

    def await_reading(self) -> None:
        """Wait until a reading sent from now on is recorded."""
        sent = len(self.board.sent)
        wait_until(lambda: self._newest() >= sent, f"reading {sent} in the record; errors: {self.errors()}", PATIENCE_S)

    # What there is to see

    @property
    def record(self) -> Path:
        """The one record there must be."""
        found = list((self.records or self.folder).glob("*.jsonl"))
        assert len(found) == 1, f"one heat, one record: {found}"
        return found[0]

    def lines(self) -> list[str]:
        """Give the whole lines of the record so far."""
        if not list((self.records or self.folder).glob("*.jsonl")):
            return []
        text, _, _ = self.record.read_bytes().rpartition(b"\n")
        return text.decode(errors="replace").splitlines()

    def has_alarm(self, alarm: str, state: str = "unacknowledged") -> bool:
        """Tell whether the record says that the alarm went into this state."""
        return any(f'"alarm":"{alarm}","state":"{state}"' in line for line in self.lines())

    def has_notice(self, name: str) -> bool:
        """Tell whether the record has such a notice."""
        return any(f'"notice":"{name}"' in line for line in self.lines())

    def errors(self) -> str:
        """Give what the watch said where nobody should have to look."""
        return "".join(
            (self.folder / f"errors-{life}").read_text(errors="replace") for life in range(1, self.lives + 1)
        )

    def status(self) -> HeatStatus:
        """Ask the watch through its control socket, as another terminal does."""
        answer = ask(self.environment, "furnace", Request(FORMAT, STATUS))
        assert answer.snapshot is not None
        return answer.snapshot.status

    def _newest(self) -> int:
        """Give the number of the last reading in the record's tail."""
        found = list((self.records or self.folder).glob("*.jsonl"))
        if not found:
            return -1
        with found[0].open("rb") as file:
            file.seek(max(0, file.seek(0, 2) - 8192))
            tail = file.read().splitlines()[1:-1]
        readings = [json.loads(line) for line in tail if b'"kind":"reading"' in line and line.endswith(b"}")]
        if not readings:
            return -1
        last = readings[-1]
        return number_of(Reading(last["time_s"], last["emf_uv"], last["junction_c"]))

    # The end and the judgement

    def finish_unrecorded(self, heat_s: float) -> list[str]:
        """End a heat whose record can no longer be written: what is judged is the watch, not the record."""
        self.reach(heat_s)
        self.board.stop()
        assert self.process is not None
        if self.process.poll() is not None:
            return [f"the watch does not run: status {self.process.returncode}; {self.errors()}"]
        found = self._judge_state(self._last_status())
        self.process.terminate()
        if self.process.wait(PATIENCE_S) != 0:
            found.append(f"ended with status {self.process.returncode}")
        if "Traceback" in self.errors():
            found.append(f"a traceback: {self.errors()[-2000:]}")
        return found

    def finish(self, heat_s: float, *, as_twin: bool = True) -> list[str]:
        """Let the heat run to `heat_s`, end it, and give everything that is not as it must be.

        `as_twin` False leaves the state out: at a thousand times the pace a late process shifts times by minutes.
        """
        self.reach(heat_s)
        self.board.stop()
        last = next(sent for sent in reversed(self.board.sent) if sent.intact)
        wait_until(lambda: self._newest() >= last.number, f"the last reading, {last.number}", PATIENCE_S)
        found: list[str] = []
        assert self.process is not None
        if self.process.poll() is not None:
            found.append(f"the watch does not run: status {self.process.returncode}; {self.errors()}")
        elif as_twin:
            found += self._judge_state(self._last_status())
        found += self._judge_delivery()
        if self.process.poll() is None:
            self.process.terminate()
            if self.process.wait(PATIENCE_S) != 0:
                found.append(f"ended with status {self.process.returncode}")
        if "Traceback" in self.errors():
            found.append(f"a traceback: {self.errors()[-2000:]}")
        with RecordReader(self.record) as reader:
            lines = list(reader)
        return found + self._judge_readings(lines) + self._judge_replay(lines)

    def close(self) -> None:
        """Leave nothing running."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGCONT)
            self.process.kill()
            self.process.wait()
        self.board.close()
        self.listener.end()
        self.kept.broker.thaw()
        self.kept.broker.kill()

    def _last_status(self) -> HeatStatus:
        """Give the status that has the last reading in it: time went on since the one before, and no reading came."""
        taken: list[HeatStatus] = []

        def settled() -> bool:
            with contextlib.suppress(ControlError):
                status = self.status()
                if not taken or status.time_s > taken[-1].time_s:
                    taken.append(status)
            return len(taken) > 1 and taken[-1].read_s == taken[-2].read_s

        wait_until(settled, "a status after the last reading", PATIENCE_S)
        return taken[-1]

    def _twin(self) -> Monitor:
        """Give the monitor that had every reading the board sent, each at its own time."""
        with RecordReader(self.record) as reader:
            header = reader.header
        monitor = Monitor(schedule_of(header, "twin"), parameters_of(header, "twin"))
        for sent in self.board.sent:
            monitor.feed(sent.reading)
        return monitor

    def _judge_state(self, status: HeatStatus) -> list[str]:
        twin = self._twin().status()
        blind_s = sum((to_s - from_s) * self.speed for from_s, to_s in self.windows)
        found = []
        for what in ("segment", "segment_number", "phase"):
            if getattr(status, what) != getattr(twin, what):
                found.append(f"{what} is {getattr(status, what)}, the twin's {getattr(twin, what)}")
        # Rounded times, and a soak that begins a reading earlier or later.
        tolerance_s = 3.0 + 2.0 * self.interval_s + 0.02 * twin.soaked_s
        if not twin.soaked_s - blind_s - tolerance_s <= status.soaked_s <= twin.soaked_s + tolerance_s:
            found.append(f"soaked {status.soaked_s:.0f} s, the twin {twin.soaked_s:.0f} s, blind {blind_s:.0f} s")
        mine, its = _standing(status), _standing(twin)
        if mine != its:
            found.append(f"alarms {sorted(mine)}, the twin's {sorted(its)}")
        return found

    def _judge_readings(self, lines: Sequence[Line]) -> list[str]:
        recorded = [number_of(line) for line in lines if isinstance(line, Reading)]
        by_number = {sent.number: sent for sent in self.board.sent}
        found = []
        if recorded != sorted(set(recorded)):
            found.append("readings stand in the record twice or out of order")
        invented = [
            line
            for line in lines
            if isinstance(line, Reading)
            and (
                (sent := by_number.get(number_of(line))) is None
                or round((line.emf_uv or 0.0) * 1e3) != sent.emf_nv
                or round((line.junction_c or 0.0) * 1e3) != sent.junction_mc
            )
        ]
        if invented:
            found.append(f"readings nobody sent: {invented[:3]}")
        there = set(recorded)
        lost = [
            sent
            for sent in self.board.sent
            if sent.intact
            and sent.number not in there
            and not any(from_s <= sent.at_s <= to_s for from_s, to_s in self.windows)
        ]
        if lost:
            found.append(f"{len(lost)} readings lost, from number {lost[0].number} at {lost[0].heat_s} s on")
        self.recorded, self.lost = len(there), len(lost)
        return found

    def _judge_replay(self, lines: Sequence[Line]) -> list[str]:
        """The record must tell its own story: its inputs replayed give its events, each of them and no other."""
        with RecordReader(self.record) as reader:
            header = reader.header
        monitor = Monitor(schedule_of(header, "replay"), parameters_of(header, "replay"))
        told = [event for event in lines if isinstance(event, Event)]
        again = list(Replay(monitor).events(lines))
        if again == told:
            return []
        at = next((n for n, (a, b) in enumerate(zip(told, again, strict=False)) if a != b), min(len(told), len(again)))
        there, here = told[at : at + 2], again[at : at + 2]
        return [f"replayed it tells another story: {len(told)} and {len(again)} events, from {there} and {here} on"]

    def _judge_delivery(self) -> list[str]:
        """Every event of the record was heard, in order among the news and among what was late."""
        with RecordReader(self.record) as reader:
            record_id = reader.header.id

        def keys() -> list[str]:
            return [
                event_key(record_id, (numbered := json.loads(line)).get("run", ""), numbered["seq"])
                for line in self.lines()
                if '"kind":"event"' in line and line.startswith('{"seq":') and line.endswith("}")
            ]

        with contextlib.suppress(AssertionError):
            wait_until(lambda: set(keys()) <= {key for key, _, _ in self.listener.heard}, "every event", PATIENCE_S)
        wanted = keys()
        heard = list(self.listener.heard)
        found = []
        missing = [key for key in wanted if key not in {key for key, _, _ in heard}]
        if missing:
            found.append(f"{len(missing)} of {len(wanted)} events never heard: {missing[:5]}")
        texts: dict[str, str] = {}
        for key, _, text in heard:
            if texts.setdefault(key, text) != text:
                found.append(f"one key for two events: {key}: {texts[key]!r} and {text!r}")
        first: dict[str, bool] = {}
        for key, was_late, _ in heard:
            if key in wanted:
                first.setdefault(key, was_late)
        for late in (False, True):
            numbers = [int(key.rpartition(":")[2]) for key, was_late in first.items() if was_late is late]
            if numbers != sorted(numbers):
                found.append(f"{'late' if late else 'new'} events out of order: {numbers}")
        self.events = len(wanted)
        return found


def _standing(status: HeatStatus) -> set[tuple[str, AlarmState]]:
    return {(alarm.alarm, alarm.state) for alarm in status.alarms if alarm.alarm not in OF_FAULTS}


Fault = Callable[[Bench], None]
