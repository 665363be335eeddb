"""From the bytes of one board to dated readings and the news of its line.

Composes the decoder, the board's clock and the sequence counter. Opens no port, starts no thread, reads no clock: it is
told what came and when. Readings never run back among themselves. After a stall they may be older than the clock: the
board's own milliseconds date them to when they were measured, and the ramp needs just that.
"""

from collections.abc import Callable, Sequence

from rampwarden.core.instrument import BoardClock, Dating, Frame, LineDecoder, SequenceCounter
from rampwarden.core.model import Notice, NoticeName, Reading
from rampwarden.sources.asking import Asker
from rampwarden.sources.burst_gate import BurstGate

# A burst of bad lines is over after this long with good ones only; until then a person has heard of it once.
BURST_OVER_S = 10.0

# A wrong baud rate turns text into bytes that no text has. Followed bit by bit, our frames read at half their rate have
# 9 % of such bytes, at any other ratio from 34 % up; a flipped bit on a noisy line makes one byte in a line.
_NOT_TEXT_SHARE = 0.05

# What is kept of bytes that made no line, to say what they look like.
_UNREAD_LENGTH = 200


class BoardLines:
    """Turns what arrived into inputs of the watch.

    `valid` counts readings of wanted `channels`, `garbled` lines or answers that could not be
    read, `lost` frames that never came or could not be dated: all since the start. Each channel has its own numbering
    and its own gate, the board has one clock.
    """

    def __init__(
        self, decoder: LineDecoder | Asker, dating: Dating, channels: Sequence[int], interval_s: float
    ) -> None:
        self.valid = 0
        self.lost = 0
        self.last_s = float("-inf")
        self._decoder = decoder
        self._asker = decoder if isinstance(decoder, Asker) else None
        self._dating = dating
        self._channels = tuple(channels)
        self._clock = BoardClock(dating)
        self._sequences = {channel: SequenceCounter() for channel in channels}
        self._gates = {channel: BurstGate(interval_s) for channel in channels}
        self._all_gates = tuple(self._gates.values())
        self._told_garbled = self._told_dropped = self._dropped = 0
        self._garbled_burst = _Burst()
        self._lost_burst = _Burst()
        self._undated_burst = _Burst()
        self._other_channels: set[int] = set()
        self._unread = b""

    @property
    def garbled(self) -> int:
        """Lines that could not be read, since the start."""
        return self._decoder.garbled

    @property
    def is_holding(self) -> bool:
        """Whether a reading is kept back that may be older than the clock by now."""
        return any(gate.is_holding for gate in self._all_gates)

    def opened(self) -> None:
        """Start afresh on a port that was just opened: its first line is probably half of one."""
        self._decoder.resynchronise()
        self._other_channels.clear()
        self._unread = b""

    def receive(self, data: bytes, arrived_s: float) -> list[Reading | Notice]:
        """Take the bytes of one read, `arrived_s` s on the clock of the heat, and give what they mean."""
        valid = self.valid
        inputs: list[Reading | Notice] = []
        undated: dict[int, list[Frame]] = {}
        for frame in self._decoder.feed(data):
            if frame.channel not in self._sequences:
                self._other_channels.add(frame.channel)
                continue
            self.valid += 1
            if self._asker is None and (frame.board_ms is None or self._dating is Dating.ARRIVAL):
                undated.setdefault(frame.channel, []).append(frame)
            else:
                # The answer to a question is fresh: no heap of them can have waited.
                inputs += self._date(frame, arrived_s, arrived_s)
        if undated:
            inputs += self._take_undated(undated, arrived_s)
        if self.valid > valid:
            self._unread = b""
            for burst in (self._garbled_burst, self._lost_burst, self._undated_burst):
                burst.good_line(arrived_s)
        else:
            self._unread = (self._unread + data[-_UNREAD_LENGTH:])[-_UNREAD_LENGTH:]
        if self._told_dropped != self._dropped:
            inputs += self._undated_notice(arrived_s)
        if self._told_garbled != self._decoder.garbled:
            inputs += self._garbled_notice(arrived_s)
        return inputs

    def _take_undated(self, undated: dict[int, list[Frame]], arrived_s: float) -> list[Reading | Notice]:
        """Take the frames of one read that only their arrival can date, by channel."""
        inputs: list[Reading | Notice] = []
        for channel, frames in undated.items():
            gate = self._gates[channel]
            dropped = gate.dropped
            for frame, frame_arrived_s in gate.take(frames, arrived_s):
                inputs += self._date(frame, frame_arrived_s, arrived_s)
            self._dropped += gate.dropped - dropped
        return inputs

    def question(self, now_s: float) -> bytes:
        """Give what is to be sent to the board at `now_s`, s on a clock that only runs on; empty for nothing."""
        return b"" if self._asker is None else self._asker.question(now_s)

    def release(self, now_s: float) -> list[Reading | Notice]:
        """Give the readings that were kept back, if nothing followed them for long enough."""
        inputs: list[Reading | Notice] = []
        for gate in self._all_gates:
            for frame, arrived_s in gate.release(now_s):
                inputs += self._date(frame, arrived_s, now_s)
        if self._asker is not None:
            frames, age_s = self._asker.late_round()
            for frame in frames:
                if frame.channel in self._sequences:
                    self.valid += 1
                    inputs += self._date(frame, now_s - age_s, now_s)
            inputs += self._garbled_notice(now_s)
        return inputs

    def why_silent(self) -> str:
        """Say in plain words what is known of a line that gives no reading."""
        if self._other_channels:
            seen = ", ".join(str(channel) for channel in sorted(self._other_channels))
            wanted = ", ".join(str(channel) for channel in self._channels)
            return f"frames come, but none of channel {wanted} (seen: {seen})"
        if self._decoder.unwanted:
            return self._decoder.unwanted
        if self._unread:
            return f"bytes come, but no line that can be read ({what_it_looks_like(self._unread)})"
        return "nothing comes (is the board powered, and does it send?)"

    def notice(self, name: NoticeName, at_s: float, count: int = 0, text: str = "") -> Notice:
        """Make a notice that is not dated before the last reading.

        Where the board's clock alone counts (a rehearsal), what arrived may be far behind the host's clock, and a
        notice of the line belongs to where the line is.
        """
        of_line = name in (NoticeName.GARBLED, NoticeName.FRAMES_LOST) and self._dating is Dating.BOARD
        time_s = self.last_s if of_line and self.valid else max(at_s, self.last_s)
        return Notice(round(time_s, 3), name, count, text)

    def _date(self, frame: Frame, arrived_s: float, now_s: float) -> list[Reading | Notice]:
        self.last_s = time_s = self._clock.date(frame.board_ms, arrived_s)
        inputs: list[Reading | Notice] = []
        if self._clock.restarted:
            for sequence in self._sequences.values():
                sequence.restart()
            inputs.append(Notice(time_s, NoticeName.BOARD_RESTARTED, text="the board's clock started again from zero"))
        lost = 0 if frame.seq is None else self._sequences[frame.channel].lost(frame.seq)
        if lost:
            self.lost += lost
            count = self._lost_burst.bad_lines(lost, now_s)
            if count:
                inputs.append(Notice(time_s, NoticeName.FRAMES_LOST, count, "missing by their sequence numbers"))
        inputs.append(Reading(time_s, frame.emf_uv, frame.junction_c, frame.temp_c, frame.faults, frame.channel))
        return inputs

    def _undated_notice(self, arrived_s: float) -> list[Notice]:
        dropped = self._dropped - self._told_dropped
        self._told_dropped = self._dropped
        self.lost += dropped
        count = self._undated_burst.bad_lines(dropped, arrived_s)
        text = "came all at once, without a board clock: only the last could be dated"
        return [self.notice(NoticeName.FRAMES_LOST, arrived_s, count, text)] if count else []

    def _garbled_notice(self, arrived_s: float) -> list[Notice]:
        garbled = self._decoder.garbled - self._told_garbled
        self._told_garbled += garbled
        count = self._garbled_burst.bad_lines(garbled, arrived_s) if garbled else 0
        if not count:
            return []
        text = self._decoder.words or what_it_looks_like(self._decoder.sample)
        return [self.notice(NoticeName.GARBLED, arrived_s, count, text)]


class _Burst:
    """Bad lines in a row, of which a person hears once. A count that was not said is added to the next."""

    def __init__(self) -> None:
        self._unsaid = 0
        self._last_bad_s: float | None = None

    def good_line(self, at_s: float) -> None:
        if self._last_bad_s is not None and at_s - self._last_bad_s >= BURST_OVER_S:
            self._last_bad_s = None

    def bad_lines(self, count: int, at_s: float) -> int:
        """Count them; give how many to tell of now, 0 inside a burst already told of."""
        self._unsaid += count
        is_first = self._last_bad_s is None
        self._last_bad_s = at_s
        if not is_first:
            return 0
        said, self._unsaid = self._unsaid, 0
        return said


def what_it_looks_like(sample: bytes) -> str:
    """Say what bytes that make no reading look like, with what to check. Only printable ASCII leaves here.

    >>> what_it_looks_like(b"$TC,0,7,1200,81")
    "a frame cut short or with a wrong checksum: noise on the line? '$TC,0,7,1200,81'"
    """
    verdict = next(verdict for applies, verdict in _VERDICTS if applies(sample))
    shown = sample.decode("ascii", "replace").replace("\ufffd", "?")
    return f"{verdict} {shown.strip()[:40]!a}"


def _is_no_text(sample: bytes) -> bool:
    strange = sum(not (32 <= byte < 127 or byte in b"\t\r\n") for byte in sample)
    return strange > _NOT_TEXT_SHARE * len(sample)


_VERDICTS: tuple[tuple[Callable[[bytes], bool], str], ...] = (
    (lambda sample: b"$TC" in sample, "a frame cut short or with a wrong checksum: noise on the line?"),
    (_is_no_text, "no text: another baud rate?"),
    (lambda sample: b"nan" in sample.lower() or b"inf" in sample.lower(), "no number: open thermocouple?"),
    (lambda sample: True, "not in the form that is set: check the board's format and columns."),
)
