"""A real broker for tests, a consumer that collects, and a furnace whose heat is written by hand.

Nothing here waits a fixed time: everything is awaited as a condition, with a generous limit. Not a test itself.
"""

import contextlib
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from rampwarden.core.model import (
    AlarmState,
    Command,
    CommandName,
    Event,
    EventName,
    HeatStatus,
    Notice,
    NoticeName,
    Priority,
    Quality,
    StandingAlarm,
)
from rampwarden.outputs.bell import Bell
from rampwarden.outputs.mqtt.broker import BrokerAddress, LinkParameters
from rampwarden.outputs.mqtt.commands import CommandDesk
from rampwarden.outputs.mqtt.homie import Device, HeatFacts
from rampwarden.outputs.mqtt.output import MqttOutput
from rampwarden.outputs.mqtt.sender import Sender
from rampwarden.outputs.outbox.outbox import CurrentRecord, Outbox
from rampwarden.records.record_lines import FORMAT, Header
from rampwarden.records.record_writer import RecordWriter

# Where distributions put a daemon is not always on a user's path.
MOSQUITTO = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
LIMIT_S = 30.0


def wait_until(condition: Callable[[], object], what: str, limit_s: float = LIMIT_S) -> None:
    """Wait until the condition holds; what has not come by then is named."""
    deadline_s = time.monotonic() + limit_s
    while not condition():
        if time.monotonic() > deadline_s:
            raise AssertionError(f"not within {limit_s:.0f} s: {what}")
        time.sleep(0.005)


def free_port() -> int:
    """Give a port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class BrokerProcess:
    """A server of its own on this computer, which can be killed, frozen and started again on the same port."""

    def __init__(self, log: Path, host: str = "127.0.0.1") -> None:
        self.port = free_port()
        self.host = host
        self.log = log
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> BrokerAddress:
        """Where it listens."""
        return BrokerAddress(self.host, self.port)

    @property
    def pid(self) -> int:
        """Its process, for looking at what it costs."""
        return 0 if self._process is None else self._process.pid

    def launch(self, *command: str) -> None:
        """Start it; what it says goes into its log."""
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(command, stdout=log, stderr=log, stdin=subprocess.DEVNULL)

    def await_answer(self) -> None:
        """Wait until it takes connections."""
        wait_until(self._answers, f"an answer from {self.log.stem}; its log says: {self.log.read_text()}")

    def kill(self) -> None:
        """End it as a power cut does."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def freeze(self) -> None:
        """Let it hold its connections and do nothing."""
        self._signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """Let it go on."""
        self._signal(signal.SIGCONT)

    def reload(self) -> None:
        """Let it read its files again."""
        self._signal(signal.SIGHUP)

    def _signal(self, number: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(number)

    def _answers(self) -> bool:
        with contextlib.suppress(OSError), socket.create_connection((self.host, self.port), timeout=1.0):
            return True
        return False


class Broker(BrokerProcess):
    """A mosquitto."""

    def __init__(
        self,
        folder: Path,
        settings: str = "",
        *,
        host: str = "127.0.0.1",
        prefix: tuple[str, ...] = (),
        fill: dict[str, str] | None = None,
    ) -> None:
        """`fill` gives the text of files whose names stand in the settings as {name}; `prefix` begins the command."""
        for name, text in (fill or {}).items():
            (folder / name).write_text(text)
        settings = settings.format(**{name: folder / name for name in fill or {}})
        super().__init__(folder / "mosquitto.log", host)
        self._prefix = prefix
        self._file = folder / "mosquitto.conf"
        everybody = "" if "allow_anonymous" in settings else "allow_anonymous true\n"
        self._file.write_text(f"user root\nset_tcp_nodelay true\nlistener {self.port} {host}\n{everybody}{settings}\n")

    def start(self) -> None:
        """Start it, and wait until it answers."""
        if MOSQUITTO is None:
            raise RuntimeError("there is no mosquitto")
        self.launch(*self._prefix, MOSQUITTO, "-c", str(self._file))
        if not self._prefix:
            self.await_answer()


@dataclass(frozen=True)
class Heard:
    """One message as a consumer got it."""

    topic: str
    text: str
    retained: bool
    user: dict[str, str]
    at_s: float


class Consumer:
    """Somebody who listens. `slow_s` is how long it needs for each message."""

    def __init__(
        self,
        port: int,
        *topics: str,
        host: str = "127.0.0.1",
        user: str = "",
        password: str = "",
        slow_s: float = 0.0,
        client_id: str = "",
        inflight: int = 0,
        version: MQTTProtocolVersion = MQTTProtocolVersion.MQTTv5,
    ) -> None:
        self.heard: list[Heard] = []
        self._slow_s = slow_s
        self._subscribed = threading.Event()
        self._topics = topics
        # In the older version there is nothing to be said about a message but the message.
        self._is_old = version is not MQTTProtocolVersion.MQTTv5
        kept = {"clean_session": False} if self._is_old else {}
        self.client = Client(CallbackAPIVersion.VERSION2, client_id=client_id, protocol=version, **kept)
        if user:
            self.client.username_pw_set(user, password)
        self.client.on_connect = lambda client, *_: client.subscribe([(topic, 1) for topic in topics])
        self.client.on_subscribe = lambda *_: self._subscribed.set()
        self.client.on_message = self._take
        properties = Properties(PacketTypes.CONNECT)
        if inflight:
            properties.ReceiveMaximum = inflight
        self.client.connect(host, port, properties=None if self._is_old else properties)
        self.client.loop_start()
        if topics and not self._subscribed.wait(LIMIT_S):
            raise AssertionError("the consumer could not subscribe")

    def close(self) -> None:
        """Stop listening."""
        self.client.disconnect()
        self.client.loop_stop()

    def say(self, topic: str, payload: str, *, retain: bool = False, **properties: object) -> None:
        """Publish, with MQTT properties by their names; waits for the broker's answer."""
        bundle = Properties(PacketTypes.PUBLISH)
        for name, value in properties.items():
            setattr(bundle, name, value)
        told = self.client.publish(topic, payload, qos=1, retain=retain, properties=None if self._is_old else bundle)
        told.wait_for_publish(LIMIT_S)

    def texts(self, ending: str) -> list[str]:
        """Give what was heard on topics that end so."""
        return [each.text for each in list(self.heard) if each.topic.endswith(ending)]

    def latest(self, ending: str) -> str | None:
        """Give the last word on a topic that ends so."""
        return next(reversed(self.texts(ending)), None)

    def keys(self) -> list[str]:
        """Give the key of every event heard, repetitions included."""
        return [each.user["key"] for each in list(self.heard) if "key" in each.user]

    def wait_for(self, ending: str, text: str, limit_s: float = LIMIT_S) -> Heard:
        """Wait for a message on a topic that ends so, whose text contains this."""
        found: list[Heard] = []

        def there() -> bool:
            found.extend(each for each in list(self.heard) if each.topic.endswith(ending) and text in each.text)
            return bool(found)

        wait_until(there, f"{text!r} on {ending}; heard there: {self.texts(ending)[-5:]}", limit_s)
        return found[0]

    def _take(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        if self._slow_s:
            time.sleep(self._slow_s)
        user = dict(getattr(message.properties, "UserProperty", []))
        self.heard.append(Heard(message.topic, message.payload.decode(), message.retain, user, time.monotonic()))


STARTED = datetime(2026, 1, 1, 9, 0, tzinfo=UTC)
RAMP_HIGH = "ramp-high"


def alarm(time_s: float, state: AlarmState = AlarmState.UNACKNOWLEDGED, name: str = RAMP_HIGH) -> Event:
    """Give an alarm's change of state."""
    return Event(
        time_s,
        EventName.ALARM,
        alarm=name,
        state=state,
        priority=Priority.HIGH,
        value=142.0,
        limit=100.0,
        unit="°C/h",
        segment="drying",
        text=f"{name} · 142 °C/h over 15 min, limit 100 · drying · lower the heat or open the lid",
    )


def message(time_s: float, text: str = "drying · heat to 200 °C") -> Event:
    """Give a message that is no alarm."""
    return Event(time_s, EventName.SEGMENT_STARTED, segment="drying", segment_number=1, text=text)


def standing(state: AlarmState = AlarmState.UNACKNOWLEDGED, name: str = RAMP_HIGH) -> StandingAlarm:
    """Give an alarm as a status lists it: with what to do while it stands."""
    action = "lower the heat or open the lid" if state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED) else ""
    return StandingAlarm(
        name, state, Priority.HIGH, "142 °C/h over 15 min, limit 100", 60.0, action, raised_s=60.0, segment="drying"
    )


def status(
    time_s: float, temp_c: float | None = 231.4, *alarms: StandingAlarm, read_s: float | None = None
) -> HeatStatus:
    """Give a heat's status; the reading is fresh unless it is said otherwise."""
    return HeatStatus(
        time_s=time_s,
        temp_c=temp_c,
        quality=Quality.GOOD if temp_c is not None else Quality.BAD,
        ramp=None,
        segment="drying",
        segment_number=1,
        segment_count=4,
        phase="ramping",
        target_c=200.0,
        allowed_c_per_s=(None, 100 / 3600),
        soaked_s=0.0,
        hold_s=0.0,
        to_next_s=1800.0,
        to_end_s=None,
        alarms=alarms,
        read_s=time_s if read_s is None else read_s,
    )


@dataclass
class Furnace:
    """A heat written by hand: its record, its output, and what the output reports back."""

    folder: Path
    broker: BrokerAddress | tuple[BrokerAddress, ...]
    device_id: str = "furnace-1"
    record_id: str = "heat-1"
    commands: tuple[CommandName, ...] = ()
    parameters: LinkParameters | None = None
    bell: Bell | None = None
    notices: list[Notice] = field(default_factory=list)
    obeyed: list[Command] = field(default_factory=list)
    reached: list[bool] = field(default_factory=list)
    seconds: int = 0
    ended: bool = False

    def __post_init__(self) -> None:
        path = self.folder / f"{self.record_id}.jsonl"
        header = Header(FORMAT, "2026-01-01T09:00:00Z", id=self.record_id, title="first heat", crucible="pot 7")
        self.record = RecordWriter.create(path, header)
        self.record.run = "aa"
        self.output = self._output(path)

    def _output(self, path: Path) -> MqttOutput:
        device = Device("homie", self.device_id, "", self.commands)
        heat = HeatFacts(self.record_id, "first heat", "pot 7", STARTED)
        outbox = Outbox(self.device_id, CurrentRecord(path, self.record_id, STARTED, self.record))
        desk = CommandDesk(device.command_topics(), "homie/5/")
        brokers = self.broker if isinstance(self.broker, tuple) else (self.broker,)
        parameters = self.parameters or LinkParameters(self.device_id)
        return MqttOutput(partial(Sender, brokers, parameters, device, heat, outbox, desk), self._reach)

    def light(self) -> "Furnace":
        """Begin."""
        self.output.start(self._hear)
        self.show()
        return self

    def tell(self, *events: Event) -> None:
        """Let events happen: into the record first, then to the output, as the watch does."""
        for event, filed in zip(events, self.record.write_events(events), strict=True):
            self.output.tell(event, filed)

    def show(self, *alarms: StandingAlarm, temp_c: float | None = 231.4) -> None:
        """Show a fresh status."""
        self.seconds += 1
        self.output.show(status(float(self.seconds), temp_c, *alarms))

    def wait_showing(
        self, condition: Callable[[], object], what: str, *alarms: StandingAlarm, limit_s: float = LIMIT_S
    ) -> None:
        """Wait as a running watch would: with a status every so often."""
        due_s = [0.0]

        def showing() -> object:
            if time.monotonic() >= due_s[0]:
                due_s[0] = time.monotonic() + 0.5
                self.show(*alarms)
            return condition()

        wait_until(showing, what, limit_s)

    def lost(self) -> list[str]:
        """Give what was said each time nobody could be reached."""
        return [notice.text for notice in self.notices if notice.notice is NoticeName.BROKER_LOST]

    def died(self) -> list[str]:
        """Give what was said each time the sender died."""
        return [notice.text for notice in self.notices if notice.notice is NoticeName.OUTPUT_FAILING]

    def wait_reached(self) -> None:
        """Wait until somebody may be reached."""
        wait_until(lambda: self.reached[-1:] == [True], f"reached; so far {self.reached}, {self.lost()}")

    def end(self) -> None:
        """End cleanly; may be called twice."""
        self.output.close()
        if not self.ended:
            self.ended = True
            self.record.close()

    def _reach(self, reached: bool) -> None:
        self.reached.append(reached)
        if self.bell is not None:
            self.bell.rest(reached)

    def _hear(self, word: Command | Notice) -> None:
        if isinstance(word, Command):
            self.obeyed.append(word)
        else:
            self.notices.append(word)
