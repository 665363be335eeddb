"""Alarms that arrive: the output that brings a heat to an MQTT broker, and says when it cannot.

For the watch it is an output like any other: `tell` and `show` return at once and never raise. Behind them a sender in
a worker of its own does everything (`sender`); here it is started, watched and ended, and what it finds out about its
reach becomes news for the watch and a word to the bell. News goes out on the change only, so the alarm it raises
can never raise itself again.
"""

import threading
import time
from collections.abc import Callable
from typing import Self

from rampwarden.core.model import Command, Event, HeatStatus, Notice, NoticeName
from rampwarden.filed import Filed
from rampwarden.outputs.mqtt.reachability import ReachState
from rampwarden.outputs.mqtt.sender import Finish, Sender, Shown, Told
from rampwarden.outputs.worker import Worker

# A sender that has not come round for this long is stuck, whatever it last said.
_STUCK_S = 10.0
# The longest a clean end may take before the process goes on without it.
_END_S = 8.0


class MqttOutput:
    """One furnace on a broker. `on_reach` is told at each change whether somebody is reached (else the bell must)."""

    def __init__(
        self,
        make_sender: Callable[[Callable[[ReachState], None], Callable[[Command], None]], Sender],
        on_reach: Callable[[bool], None],
    ) -> None:
        self._sender = make_sender(self._take_verdict, self._take_command)
        self._on_reach = on_reach
        self._hear: Callable[[Command | Notice], None] = lambda _word: None
        self._lock = threading.Lock()
        self._verdict: ReachState | None = None
        self._closed = False
        self._worker: Worker | None = None

    @property
    def waiting(self) -> int:
        """How many events the broker has not taken yet, as far as they are known."""
        return self._sender.waiting

    def start(self, hear: Callable[[Command | Notice], None]) -> None:
        """Begin; `hear` takes commands and news of our reach, from any thread."""
        self._hear = hear
        self._sender.prepare()
        self._worker = Worker("MQTT sender", self._send, hear)
        self._worker.start()

    def tell(self, event: Event, filed: Filed | None = None) -> None:
        """Take note of an event. What is in no record cannot be sent: it has no key."""
        if filed is not None:
            self._sender.inbox.put(Told(event, filed, time.monotonic()))

    def show(self, status: HeatStatus) -> None:
        """Take note of the newest status, and see whether the sender still comes round."""
        self._sender.status = status
        self._sender.inbox.put(Shown())
        if not self._closed and time.monotonic() - self._sender.beat_s > _STUCK_S:
            self._take_verdict(ReachState(bell=True, lost="the MQTT sender is stuck"))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: object, trace: object) -> None:
        """End; after a failure without goodbye, so that the furnace is seen to be lost."""
        self.close(farewell=kind is None)

    def close(self, *, farewell: bool = True) -> None:
        """Send what is still news, say goodbye to the broker if it is one, and end; bounded in time."""
        self._closed = True
        if self._worker is not None:
            self._sender.inbox.put(Finish(farewell))
            self._worker.end(_END_S)

    def _send(self) -> None:
        self._sender.run()
        if not self._closed:
            raise RuntimeError("it ended unasked")

    def _take_verdict(self, verdict: ReachState) -> None:
        with self._lock:
            before, self._verdict = self._verdict, verdict
        if before is None or before.bell != verdict.bell:
            self._on_reach(not verdict.bell)
        was_lost = before is not None and bool(before.lost)
        if bool(verdict.lost) != was_lost:
            name = NoticeName.BROKER_LOST if verdict.lost else NoticeName.BROKER_REACHED
            self._hear(Notice(0.0, name, text=verdict.lost or "alarms reach somebody again"))

    def _take_command(self, command: Command) -> None:
        self._hear(command)
