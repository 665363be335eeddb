"""A page in service without a watch behind it: its picture is fed by hand, its orders are collected. Not a test itself.

Requests are written to a socket as they are, so that what no browser would send can be sent too.
"""

import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from msgspec.structs import replace

from rampwarden.core.alarms.first_order import with_first_order
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.limits import SegmentLimits, tightest
from rampwarden.core.model import (
    AlarmState,
    Command,
    Event,
    EventName,
    HeatStatus,
    Measurement,
    Noise,
    Notice,
    OpenQuestion,
    PotReadiness,
    Priority,
    ProbeStatus,
    Quality,
    Ramp,
    Reading,
    StandingAlarm,
    WallState,
)
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.page.access import Access, AccessRules
from rampwarden.page.server import ListenAddress, PageServer
from rampwarden.picture.keeper import PictureKeeper, about_heat
from rampwarden.picture.picture import Mode

PATIENCE_S = 10.0
ACT_TOKEN = "a token to act with"
READ_TOKEN = "a token to look with"
SCHEDULE = Schedule(
    "A first heat",
    (
        Segment(
            "oven drying", SegmentKind.RAMP, to_c=180.0, max_rates=(Rate(25.0, 900.0),), say="Door ajar while it mists."
        ),
        Segment("dry soak", SegmentKind.SOAK, at_c=180.0, hold_s=1800.0),
    ),
    basis="invented for a test",
)
STARTED = "2026-01-01T09:00:00Z"


def wait_until(condition: Callable[[], object], what: str, limit_s: float = PATIENCE_S) -> None:
    """Wait until the condition holds; what has not come by then is named."""
    deadline_s = time.monotonic() + limit_s
    while not condition():
        assert time.monotonic() < deadline_s, f"not within {limit_s:.0f} s: {what}"
        time.sleep(0.01)


def rules(read_token: str = "", act_token: str = ACT_TOKEN, *names: str, is_secure: bool = False) -> AccessRules:
    """Give rules under which reading is open where there is no token to read."""
    return AccessRules(frozenset(names), read_token, act_token, not read_token, is_secure, 8420)


CALM = Noise(white_c=0.05, flicker_c=0.0, flicker_s=5.0, interval_s=1.0)


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer as it came: status, headers by small names, body."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def cookie(self) -> str:
        """What a browser would send back."""
        return self.headers["set-cookie"].partition(";")[0]


class Heat:
    """A heat whose moments are written by hand into a picture."""

    def __init__(self, mode: Mode = Mode.LIVE, pace: float = 1.0, schedule: Schedule = SCHEDULE) -> None:
        self.keeper = PictureKeeper(schedule, about_heat(schedule, mode, STARTED), pace=pace)
        self.time_s = 0.0
        self.temp_c = 20.0
        self.alarms: tuple[StandingAlarm, ...] = ()
        self.place = ""
        self.wall: WallState | None = None
        self.probes: tuple[ProbeStatus, ...] = ()
        self.questions: tuple[OpenQuestion, ...] = ()
        self.on_change: Callable[[], None] = lambda: None
        self._limits = SegmentLimits(SCHEDULE, 0, 0.0, None)
        self.begin()

    def begin(self) -> None:
        """Enter the first segment."""
        self.keeper.tell(
            Event(
                0.0,
                EventName.SEGMENT_STARTED,
                segment="oven drying",
                segment_number=1,
                text="oven drying · heat to 180 °C",
            )
        )

    def read(self, temp_c: float, seconds: float = 1.0) -> None:
        """Let time pass, read a temperature and show it."""
        self.follow(temp_c, seconds)
        self.show()

    def follow(self, temp_c: float, seconds: float = 1.0) -> None:
        """Read a temperature without showing it yet."""
        self.time_s += seconds
        self.temp_c = temp_c
        measurement = Measurement(self.time_s, temp_c, Quality.GOOD, 25.0)
        self._limits.feed(self.time_s, temp_c, CALM, approaching=False, raised=())
        edges = tightest(self._limits.edges())
        self.keeper.follow(Reading(self.time_s, emf_uv=0.0, junction_c=25.0), measurement, edges)

    def show(self) -> None:
        """Show where the heat stands."""
        self.keeper.show(
            HeatStatus(
                time_s=self.time_s,
                temp_c=self.temp_c,
                quality=Quality.GOOD,
                ramp=Ramp(self.time_s, 60.0 / 3600.0, 0.001, 300.0),
                segment="oven drying",
                segment_number=1,
                segment_count=2,
                phase="ramping",
                target_c=180.0,
                allowed_c_per_s=(None, 100.0 / 3600.0),
                soaked_s=0.0,
                hold_s=0.0,
                to_next_s=3600.0,
                to_end_s=5400.0,
                alarms=self.alarms,
                read_s=self.time_s,
                place=self.place,
                wall=self.wall,
                probes=self.probes,
                questions=self.questions,
            )
        )
        self.on_change()

    def fall_silent(self, seconds: float) -> None:
        """Let the watch not have shown itself for so long."""
        self.keeper._shown_at_s -= seconds
        self.keeper.tell(Event(self.time_s, EventName.OBSERVED, text="the last word"))
        self.on_change()

    def end(self, readiness: PotReadiness) -> None:
        """Let the heat be over: no segment any more, and what the pot is ready for."""
        self.keeper.tell(Event(self.time_s, EventName.HEAT_COMPLETE, text="the pot is cold"))
        self.show()
        self.keeper.show(
            replace(
                self.keeper.picture().status,
                segment=None,
                segment_number=2,
                phase="complete",
                target_c=None,
                allowed_c_per_s=(None, None),
                to_next_s=None,
                to_end_s=None,
                readiness=readiness,
            )
        )
        self.on_change()

    def alarm(self, name: str, state: AlarmState = AlarmState.UNACKNOWLEDGED, text: str = "130 °C/h") -> None:
        """Let an alarm stand in this state, beside those that stand already; normal takes it away."""
        priority = CATALOGUE[name].priority
        others = tuple(alarm for alarm in self.alarms if alarm.alarm != name)
        entry, is_present = CATALOGUE[name], state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)
        stands = StandingAlarm(
            name,
            state,
            priority,
            text,
            self.time_s,
            entry.action if is_present else "",
            str(entry.short_order) if is_present else "",
            fact=text,
            raised_s=self.time_s,
            ended_s=self.time_s if state is AlarmState.RETURNED_UNACKNOWLEDGED else None,
            segment="drying",
        )
        unsettled = (*others, *(() if state is AlarmState.NORMAL else (stands,)))
        self.alarms = with_first_order(tuple(replace(each, is_first=False) for each in unsettled))
        event = Event(self.time_s, EventName.ALARM, alarm=name, state=state, priority=priority, text=text)
        self.keeper.tell(event)
        self.show()

    def answer(self, said_s: float, text: str, alarm: str = "", *, upholds: bool = False) -> None:
        """Let the watch take back what it said at `said_s` (s), or uphold it."""
        event = EventName.ALARM if alarm else EventName.OBSERVED
        times = {"upholds": said_s} if upholds else {"withdraws": said_s}
        self.keeper.tell(Event(self.time_s, event, alarm=alarm or None, text=text, **times))  # type: ignore[arg-type]
        self.show()

    def observe(self, text: str) -> None:
        """Let the watch say something of the furnace."""
        self.keeper.tell(Event(self.time_s, EventName.OBSERVED, text=text))
        self.show()

    def note(self, text: str, priority: Priority | None = None) -> None:
        """Let somebody's note stand in the picture."""
        self.keeper.tell(Event(self.time_s, EventName.NOTE, text=text, priority=priority))
        self.show()


class Served:
    """A page in service."""

    def __init__(
        self,
        access_rules: AccessRules | None = None,
        place: ListenAddress | None = None,
        port: int = 0,
        heat: Heat | None = None,
    ) -> None:
        self.heat = heat or Heat()
        self.heard: list[Command | Notice] = []
        self.server = PageServer(
            place or ListenAddress("127.0.0.1", port, None, is_behind_proxy=False), Access(access_rules or rules())
        )
        self.heat.on_change = lambda: self.server.tell(Event(0.0, EventName.OBSERVED))
        self.server.start(self.heat.keeper.picture, self.heard.append)
        self.heat.read(20.0)

    @property
    def port(self) -> int:
        """Where it is."""
        return self.server.address[1]

    @property
    def url(self) -> str:
        """What to open."""
        return self.server.url

    @property
    def origin(self) -> str:
        """Where its own pages come from."""
        return f"http://127.0.0.1:{self.port}"

    def connect(self) -> socket.socket:
        """Give a bare line to it."""
        line = socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE_S)
        line.settimeout(PATIENCE_S)
        return line

    def ask(self, method: str = "GET", path: str = "/", body: bytes = b"", **headers: str) -> Answer:
        """Ask as a well-behaved page of its own would, but for what `headers` say; an empty one is left out."""
        usual = {"host": f"127.0.0.1:{self.port}", "content-length": str(len(body)) if body else ""}
        if method == "POST":
            usual |= {"origin": self.origin, "content-type": "application/json"}
        given = usual | {name.replace("_", "-").lower(): value for name, value in headers.items()}
        lines = [f"{method} {path} HTTP/1.1", *(f"{name}: {value}" for name, value in given.items() if value)]
        return self.raw("\r\n".join([*lines, "connection: close", "", ""]).encode() + body)

    def raw(self, request: bytes) -> Answer:
        """Send bytes and read the answer to its end."""
        with self.connect() as line:
            line.sendall(request)
            return read_answer(line)

    def log_in(self, token: str = ACT_TOKEN) -> Answer:
        """Send the login form."""
        form = "application/x-www-form-urlencoded"
        return self.ask("POST", "/login", f"token={token.replace(' ', '+')}".encode(), content_type=form)

    def order(self, body: bytes, **headers: str) -> Answer:
        """Order something as somebody who may act."""
        headers.setdefault("cookie", self.log_in().cookie)
        return self.ask("POST", "/order", body, **headers)

    def close(self) -> None:
        """End it, and see that it ends."""
        self.heat.on_change = lambda: None
        self.heat.keeper.close()
        self.server.close()
        # It waits for its thread for a moment only: one that has not ended is still here.
        assert not [thread for thread in threading.enumerate() if thread.name == "page"]


def read_answer(line: socket.socket) -> Answer:
    """Read one answer until the line is closed."""
    received = b""
    while part := line.recv(65_536):
        received += part
    head, _, body = received.partition(b"\r\n\r\n")
    first, *rest = head.decode("latin-1").split("\r\n")
    headers = {name.lower(): value.strip() for name, _, value in (each.partition(":") for each in rest)}
    return Answer(int(first.split(" ")[1]), headers, body)


def read_stream(line: socket.socket, until: bytes) -> bytes:
    """Read a stream until it has said something."""
    received = b""
    while until not in received:
        part = line.recv(65_536)
        assert part, f"the stream ended after {received[-300:]!r}"
        received += part
    return received
