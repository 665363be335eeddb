"""The serial board: a thread that reads its port and hands the watch readings, notices and the passing of time.

Owns the thread and the port's life: opening, losing, reopening. What a line means is `board_lines`' business, what a
port does `serial_port`'s. Knows nothing of heats or alarms.

Policy
- The thread only reads, stamps, decodes and queues, so an arrival time is that of the arrival.
- A lost port is opened again after 0.25 s, then twice as long each time up to 5 s, give or take a fifth, so that
  several watches on one hub do not knock in step. The first valid line sets the wait back, and so does a port that is
  there again: a cable put back in is not left waiting.
- A port that gives no valid line is closed and opened again, since some adapters only wake that way. Each opening may
  restart the board, so after three in vain it is left open for half a minute at a time.
- These waits are real time even in a rehearsal at speed: the port is a real one.
- Silence is an input: while nothing comes, a clock mark goes out every 0.2 s. Its time is taken before the wait that
  found nothing, so that no line that was on its way is dated before it.
- What is to be said to the board goes out between two reads and never waits (`outgoing` says how).
- Lines without a board clock that come in a heap after a stall: only the last is used (`burst_gate` says why).
- The thread ends by `stop` alone. Whatever else happens in it becomes a notice, and it goes on.
"""

import random
import threading
import time
from dataclasses import dataclass

from serial import Serial

from rampwarden.clock import Clock
from rampwarden.core.instrument import ColumnFormat, Dating, LineDecoder
from rampwarden.core.model import ClockMark, NoticeName, Reading
from rampwarden.errors import PortError, SettingsError
from rampwarden.formats import NamedFormat, QuestionRound, RegisterMap, line_decoder
from rampwarden.sources.asking import Asker, BusAsker, TextAsker
from rampwarden.sources.board_lines import BoardLines
from rampwarden.sources.input_queue import BoardInput, InputQueue
from rampwarden.sources.outgoing import Outgoing
from rampwarden.sources.serial_port import (
    ASKING_TIMEOUT_S,
    READ_TIMEOUT_S,
    ask_port,
    close_port,
    is_plugged_in,
    open_failure,
    open_port,
    read_port,
)

__all__ = ["Board", "BoardSettings", "open_failure"]

# Much longer than a read's wait. A thread that is connecting to a remote port (pyserial gives that 5 s) is left behind:
# it holds nothing yet, and whoever ends a watch expects it to be gone within two seconds.
_STOP_S = 1.5

_SILENT_REOPENS = 3

# One turn of reading and decoding takes a read's wait and little more; what is beyond that was no listening.
_LONGEST_TURN_S = 2.0 * READ_TIMEOUT_S

# Clock marks follow the waits that found nothing. Where bytes come but no reading, some of them may still be waiting,
# so a mark is then given only after so long that it must be garbage.
_MARK_S = READ_TIMEOUT_S / 2
_GARBAGE_MARK_S = 1.0


@dataclass(frozen=True, slots=True)
class BoardSettings:
    """Where the board is, how it speaks, and when its silence counts.

    `columns` says what its lines hold, plain or named; None means the framed format. With `asking` it must be asked for
    each, with `registers` it is a slave on a bus. `channel` is the one that is watched, `also` are further ones whose
    readings are given too. `interval_s` is the usual time between its lines, or between rounds of questions. Silence
    counts from `silence_s` or five intervals (rounds that are not answered), whichever is longer, but not in the first
    `boot_s` after an opening; after three reopenings in vain the port is left alone for `silent_hold_s`. Waits between
    openings go from `reopen_first_s` up to `reopen_longest_s`. All but `interval_s` are real seconds.
    """

    port: str
    baud: int = 115200
    columns: ColumnFormat | NamedFormat | None = None
    dating: Dating = Dating.STEERED
    channel: int = 0
    dtr: bool = False
    interval_s: float = 1.0
    silence_s: float = 2.0
    boot_s: float = 3.0
    silent_hold_s: float = 30.0
    reopen_first_s: float = 0.25
    reopen_longest_s: float = 5.0
    asking: QuestionRound | None = None
    registers: RegisterMap | None = None
    also: tuple[int, ...] = ()
    parity: str = "none"
    stop_bits: int = 1

    @property
    def channels(self) -> tuple[int, ...]:
        """Every channel whose readings are wanted, the watched one first."""
        return (self.channel, *(channel for channel in self.also if channel != self.channel))

    @property
    def is_asked(self) -> bool:
        """Whether the board speaks only when it is spoken to."""
        return self.asking is not None or self.registers is not None

    @property
    def longest_round_s(self) -> float:
        """How long a round of questions may take without the board being silent, s."""
        if self.registers is not None:
            return 2.0 * self.registers.answer_within_s
        return 0.0 if self.asking is None else self.asking.longest_round_s


def board_decoder(settings: BoardSettings) -> LineDecoder | Asker:
    """Give what makes frames of the board's bytes; raises `SettingsError` where that cannot be."""
    if settings.registers is not None:
        return BusAsker(settings.registers, settings.interval_s)
    if settings.asking is None:
        return line_decoder(settings.columns)
    if settings.columns is None:
        raise SettingsError('board ask: a board that must be asked answers in "columns", "labels" or "json"')
    return TextAsker(settings.asking, settings.columns, settings.interval_s)


def open_board(settings: BoardSettings) -> Serial:
    """Open the board's port as its settings say; raises `PortError` with the cause in plain words."""
    return open_port(
        settings.port,
        settings.baud,
        dtr=settings.dtr,
        parity=settings.parity,
        stop_bits=settings.stop_bits,
        timeout_s=ASKING_TIMEOUT_S if settings.is_asked else READ_TIMEOUT_S,
    )


class _SilentError(PortError):
    """The port is open and gives no valid line."""


class _AskedError(PortError):
    """The port is given up because somebody asked for it to be opened anew."""


class Board:
    """Reads one channel of a board until stopped.

    What it reads goes into `queue`, one of its own unless told otherwise. Between `start` and `stop`, `next` gives
    readings and notices in the order they came. Readings never run back among themselves, but after a stall they may be
    dated before a notice or clock mark already given.
    """

    def __init__(self, settings: BoardSettings, clock: Clock, queue: InputQueue | None = None) -> None:
        self._settings = settings
        self._clock = clock
        self.outgoing = Outgoing()
        """What is to be said to the board."""
        self._queue = InputQueue() if queue is None else queue
        self._lines = BoardLines(board_decoder(settings), settings.dating, settings.channels, settings.interval_s)
        self._stopping = threading.Event()
        self._reopening = threading.Event()
        self._thread = threading.Thread(target=self._run, name="board", daemon=True)
        self._lost_text = ""
        self._silent_reopens = 0
        self._wait_s = settings.reopen_first_s
        self._dropped_said = 0
        self._put_at_s = time.monotonic()

    def start(self) -> None:
        """Start reading. A port that is not there yet is waited for, not an error."""
        self._thread.start()

    def next(self, timeout_s: float) -> BoardInput | None:
        """Give the next input; None if none came within `timeout_s` real seconds."""
        return self._queue.take(timeout_s)

    def let_end(self) -> None:
        """Have the thread end soon, without waiting for it."""
        self._stopping.set()

    def stop(self) -> None:
        """Close the port and end the thread. What was read before can still be taken by `next`."""
        self.let_end()
        self._queue.close()
        if self._thread.is_alive():
            self._thread.join(_STOP_S)

    def reopen(self) -> None:
        """Close the port and open it anew, also one that was being waited for; returns at once, from any thread."""
        self._reopening.set()

    @property
    def alive(self) -> bool:
        """Whether the thread runs; between `start` and `stop` anything else is a defect."""
        return self._thread.is_alive()

    @property
    def garbled(self) -> int:
        """Lines that could not be read, since the start."""
        return self._lines.garbled

    @property
    def lost(self) -> int:
        """Frames that never came, could not be dated or had to be dropped, since the start."""
        return self._lines.lost + self._queue.dropped

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                self._read_one_opening()
            except _SilentError as error:
                self._silent_reopens += 1
                self._say_lost(str(error))
            except _AskedError as error:
                self._silent_reopens = 0
                self._wait_s = self._settings.reopen_first_s
                self._say_lost(str(error))
            except PortError as error:
                self._silent_reopens = 0
                self._say_lost(str(error))
            except Exception as error:  # outermost: the watch must not lose its eyes to a defect in here
                self._say_lost(f"unexpected {type(error).__name__}: {error}")
            self._wait_to_reopen()

    def _read_one_opening(self) -> None:
        """Open the port and read until stopped; raises `PortError` when it is lost or silent."""
        self._reopening.clear()
        port = open_board(self._settings)
        try:
            self._lines.opened()
            if not self._silent_reopens:
                opened = f"{self._settings.port} at {self._settings.baud} baud"
                self._say_opened(self._clock.now_s(), opened)
            self._read_until_lost(port)
            self.outgoing.take_leave(port, self._settings.port)
        finally:
            self.outgoing.forget()
            close_port(port)

    def _read_until_lost(self, port: Serial) -> None:
        silent_from_s = time.monotonic() + max(self._patience_s(), self._settings.boot_s)
        while not self._stopping.is_set():
            if self._reopening.is_set():
                raise _AskedError("closed: to be opened anew, as asked for")
            self.outgoing.write_to(port, self._settings.port)
            if question := self._lines.question(time.monotonic()):
                ask_port(port, self._settings.port, question)
            valid, before_s, listening_s = self._lines.valid, self._clock.now_s(), time.monotonic()
            data = read_port(port, self._settings.port)
            if data:
                arrived_s = self._clock.now_s()
                inputs = self._lines.receive(data, arrived_s)
            else:
                inputs = self._lines.release(before_s)
            for item in inputs:
                if isinstance(item, Reading):
                    self._heard(item)
                self._put(item)
            if not inputs:
                self._mark(before_s, _GARBAGE_MARK_S if data else _MARK_S)
            # A process that was halted has not listened: what it finds waiting may end the silence, and opening
            # the port anew would throw that away.
            silent_from_s += max(0.0, time.monotonic() - listening_s - _LONGEST_TURN_S)
            if self._lines.valid > valid:
                silent_from_s = time.monotonic() + self._patience_s()
            elif time.monotonic() > silent_from_s:
                raise _SilentError(f"silent: {self._lines.why_silent()}")

    def _patience_s(self) -> float:
        patience_s = max(self._settings.silence_s, 5.0 * max(self._settings.interval_s, self._settings.longest_round_s))
        if self._silent_reopens >= _SILENT_REOPENS:
            return max(patience_s, self._settings.silent_hold_s)
        return patience_s

    def _heard(self, reading: Reading) -> None:
        """Note that the port and the board are well."""
        self._wait_s = self._settings.reopen_first_s
        if self._silent_reopens:
            self._silent_reopens = 0
            self._say_opened(reading.time_s, "the board speaks again")

    def _wait_to_reopen(self) -> None:
        until_s = time.monotonic() + self._wait_s * random.uniform(0.8, 1.2)
        self._wait_s = min(2.0 * self._wait_s, self._settings.reopen_longest_s)
        was_there = is_plugged_in(self._settings.port)
        while (left_s := until_s - time.monotonic()) > 0:
            before_s = self._clock.now_s()
            if self._stopping.wait(min(left_s, READ_TIMEOUT_S)) or self._reopening.is_set():
                return
            if not was_there and is_plugged_in(self._settings.port):
                self._wait_s = self._settings.reopen_first_s
                return
            self._mark(before_s, _MARK_S)

    def _mark(self, now_s: float, after_s: float) -> None:
        """Tell that nothing came until `now_s`, if nothing was told for `after_s` real seconds.

        A reading that is held back is older than now: the mark waits for it. A rehearsal's board may be a frame ahead
        of the clock: then the mark stays with the last reading.
        """
        if self._lines.is_holding or time.monotonic() - self._put_at_s < after_s:
            return
        self._put(ClockMark(round(max(now_s, self._lines.last_s), 3)))

    def _put(self, item: BoardInput) -> None:
        self._put_at_s = time.monotonic()
        self._queue.put(item)
        dropped = self._queue.dropped
        if dropped > self._dropped_said and self._queue.has_room:
            text = "dropped: the watch did not take them in time"
            self._queue.put(
                self._lines.notice(NoticeName.FRAMES_LOST, self._clock.now_s(), dropped - self._dropped_said, text)
            )
            self._dropped_said = dropped

    def _say_lost(self, text: str) -> None:
        """Put the loss of the port, once for each cause."""
        if text != self._lost_text:
            self._lost_text = text
            self._put(self._lines.notice(NoticeName.PORT_LOST, self._clock.now_s(), text=text))

    def _say_opened(self, at_s: float, text: str) -> None:
        self._lost_text = ""
        self._put(self._lines.notice(NoticeName.PORT_OPENED, at_s, text=text))
